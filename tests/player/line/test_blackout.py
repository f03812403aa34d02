"""The blackout on the disk and in its page: kept, damaged, linked away, asked for with nobody there, given up."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from cuedeck.output.base import Packet
from cuedeck.player.instance_lock import InstanceLock
from cuedeck.player.line.blackout import FILE, Blackout, kept_in
from cuedeck.player.line.blackout_client import NoAnswer, black_out, blackout_of, release_blackout
from cuedeck.player.line.blackout_page import SIZE_BYTES, BlackoutPage, Word, made_page, page_at
from cuedeck.player.line.line_out import LineOut
from cuedeck.player.state_folder import NAME, StateFolder
from tests.waiting import wait_until


class Player:
    """What a player has of a blackout, in this process, which has the folder to itself."""

    def __init__(self, folder: Path) -> None:
        self.folder = StateFolder(folder)
        self.told: list[str] = []
        self.instance = InstanceLock.of(folder)
        self.instance.claim()
        self.page, self.is_damaged = made_page(self.instance.blackout_page)
        self.changes: list[bool] = []
        self.blackout = Blackout(
            self.folder, self.page, self.told.append, lambda: self.changes.append(self.blackout.is_on)
        )

    @property
    def is_kept(self) -> bool:
        return kept_in(self.folder)[0]


@pytest.fixture
def player(runtime: Path, folder: Path) -> Iterator[Player]:
    assert runtime
    one = Player(folder)
    yield one
    one.blackout.close()


def begun(player: Player) -> Player:
    player.blackout.start()
    return player


# --- on the disk --------------------------------------------------------------------------------------------------


def test_a_blackout_is_on_the_disk_until_it_is_released(player: Player, folder: Path) -> None:
    begun(player).blackout.set(True)
    wait_until(lambda: player.is_kept)
    assert Blackout(StateFolder(folder)).is_on, "without the page, as after the computer was started anew"
    player.blackout.set(False)
    wait_until(lambda: not player.is_kept)
    assert not Blackout(StateFolder(folder)).is_on


def test_the_page_keeps_it_from_the_first_instant_on(player: Player) -> None:
    player.blackout.set(True)  # and the process is killed before its disk was tried
    assert not player.is_kept
    assert Blackout(player.folder, BlackoutPage(player.instance.blackout_page)).is_on


def test_the_player_brings_to_the_disk_what_it_found_in_the_page(player: Player, folder: Path) -> None:
    player.page.words[Word.IS_BLACK] = 1
    second = Blackout(StateFolder(folder), player.page)
    second.start()
    wait_until(lambda: player.is_kept)
    second.close()


def a_file(path: Path) -> None:
    path.write_bytes(b"\0" * 40)


def an_empty_file(path: Path) -> None:
    path.touch()


def a_folder(path: Path) -> None:
    path.mkdir()


def a_link(path: Path) -> None:
    path.symlink_to("/nowhere/at/all")


def a_pipe(path: Path) -> None:
    os.mkfifo(path)


@pytest.mark.skipif(os.name != "posix", reason="links and pipes are those of POSIX")
@pytest.mark.parametrize("spoilt", [a_file, an_empty_file, a_folder, a_link, a_pipe])
def test_what_cannot_be_read_counts_as_a_blackout_and_is_said(player: Player, spoilt: Callable[[Path], None]) -> None:
    player.folder.path.mkdir(exist_ok=True)
    spoilt(player.folder.path / FILE)
    is_kept, odd = kept_in(player.folder)
    assert is_kept
    assert "counts as a blackout: 'release' lifts it" in odd
    assert Blackout(player.folder).is_on
    assert Blackout(player.folder).problem == odd


@pytest.mark.skipif(os.name != "posix", reason="links are those of POSIX")
def test_a_link_out_of_the_folder_is_not_followed_and_the_line_is_dark_all_the_same(
    player: Player, tmp_path: Path, folder: Path
) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    hidden = folder / NAME
    hidden.rename(folder / "away")
    begun(player)
    hidden.symlink_to(elsewhere)
    player.blackout.set(True)
    assert player.blackout.is_on
    wait_until(lambda: bool(player.told))
    assert f"{hidden / FILE} cannot be written" in player.told[0]
    assert "would be forgotten when this computer is switched off; it is tried again" in player.told[0]
    assert list(elsewhere.iterdir()) == []
    assert kept_in(player.folder)[0], "what cannot be looked into counts as a blackout"
    hidden.unlink()
    wait_until(lambda: len(player.told) == 2)
    assert player.told[1] == "the blackout is kept on the disk now"
    assert player.is_kept


def test_a_file_in_the_place_of_the_folder_is_told_of_with_what_to_do(tmp_path: Path) -> None:
    (tmp_path / NAME).write_text("x", encoding="utf-8")
    with pytest.raises(OSError, match="is a file, and no folder: move it away"):
        StateFolder(tmp_path).write(FILE, b"dark")


def test_a_page_that_is_damaged_counts_as_a_blackout(player: Player) -> None:
    for content in (b"", b"\0" * SIZE_BYTES, b"rubbish" * 1000):
        path = player.instance.blackout_page
        path.unlink()
        path.write_bytes(content)
        page, is_damaged = made_page(path)
        assert is_damaged
        assert Blackout(None, page).is_on


# --- asked for ----------------------------------------------------------------------------------------------------


def test_a_blackout_is_taken_up_with_a_packet_though_nobody_else_runs(player: Player) -> None:
    """No channel, no thread: what sends is all that is needed."""
    line_out = LineOut(dark=np.zeros((1, 512), np.uint8), blackout=player.blackout)
    lit = Packet(0, 0, np.full((1, 512), 9, np.uint8))
    assert line_out.send(lit) is lit
    asked = player.page.ask(Word.BLACKOUT_ASKED)
    assert line_out.send(lit).slots.max() == 0
    assert player.page.words[Word.BLACKOUT_TAKEN] == asked
    assert player.page.words[Word.PACKETS] == 1
    player.page.ask(Word.RELEASE_ASKED)
    player.page.ask(Word.BLACKOUT_ASKED)
    assert line_out.send(lit).slots.max() == 0, "of both at once, the blackout wins"
    player.page.ask(Word.RELEASE_ASKED)
    assert line_out.send(lit) is lit


def test_a_player_that_sends_nothing_takes_it_up_and_says_so(player: Player, folder: Path) -> None:
    begun(player)
    done = black_out(folder)
    assert (done.has_player, done.was_black, done.packets, done.not_kept) == (True, False, 0, "")
    assert player.is_kept
    assert black_out(folder).was_black
    wait_until(lambda: player.changes == [True])
    done = release_blackout(folder)
    assert (done.has_player, done.was_black, done.not_kept) == (True, True, "")
    assert not player.is_kept
    assert not release_blackout(folder).was_black
    wait_until(lambda: player.changes == [True, False])


def test_without_a_player_it_is_for_the_next_one(runtime: Path, folder: Path) -> None:
    assert runtime
    done = black_out(folder)
    assert (done.has_player, done.was_black, done.not_kept) == (False, False, "")
    assert blackout_of(folder) == (True, "")
    assert Player(folder).blackout.is_on


def test_without_a_player_a_release_lifts_it_for_the_next_one(runtime: Path, folder: Path) -> None:
    assert runtime
    black_out(folder)
    assert release_blackout(folder).was_black
    assert blackout_of(folder) == (False, "")
    assert not Player(folder).blackout.is_on


def test_a_player_that_does_not_answer_is_told_of_and_begins_dark_when_it_goes_on(player: Player, folder: Path) -> None:
    with pytest.raises(NoAnswer, match=r"does not answer\. The blackout comes first when it goes on.*the rig's own"):
        black_out(folder)
    assert player.is_kept
    assert player.blackout.is_on


def test_a_blackout_that_nobody_took_up_is_there_in_the_next_player(player: Player) -> None:
    player.page.ask(Word.BLACKOUT_ASKED)  # and both are killed
    page = page_at(player.instance.blackout_page)
    assert page is not None
    assert Blackout(player.folder, page).is_on


def test_a_release_that_was_given_up_is_not_done_later(player: Player, folder: Path) -> None:
    player.blackout.set(True)
    with pytest.raises(NoAnswer, match="nothing is released, now or later"):
        release_blackout(folder)
    assert player.blackout.is_on
    begun(player)
    wait_until(lambda: player.is_kept)
    assert player.blackout.is_on


def test_what_could_not_be_kept_is_said_to_who_asked(player: Player, folder: Path) -> None:
    (folder / NAME).rename(folder / "away")
    (folder / NAME).write_text("in the way")
    begun(player)
    assert black_out(folder).not_kept
    assert player.blackout.is_on
