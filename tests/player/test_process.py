"""The player as a process of its own, with real clients, a real line, and real signals."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TypeVar

import numpy as np
import pytest

from cuedeck.cli import shoot
from cuedeck.cli.look_client import LookClient
from cuedeck.cli.main import main
from cuedeck.player.channel.client import PlayerClient, PlayerGone, PlayerRefused, find_player, start_player
from cuedeck.player.channel.events import Ended, Notice, Snapshot, unpacked
from cuedeck.player.channel.requests import (
    Begin,
    Control,
    Fire,
    Hold,
    Quit,
    Release,
    ShowLook,
    StartBlackout,
    Stop,
    packed_texts,
)
from cuedeck.player.instance_lock import InstanceLock
from cuedeck.takes.compare import stood_still
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Status
from tests.cli.command import started
from tests.cli.test_commands import Line
from tests.waiting import LONGEST_WAIT_S, wait_until

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and pseudo-terminals are those of POSIX")

SHOW = """\
cuedeck: 2
slots: 24
refresh: 20 Hz
{extra}rig:
  key: {{type: dimmer, address: 1.1}}
  rim: {{type: dimmer, address: 1.2{limit}}}
looks:
  up: {{key: {level}, rim: full}}
shots:
  "1":
    length: {length} s
    cues:
      - {{cue: 1, at: 0 s, look: up}}
"""
T = TypeVar("T")


def written(folder: Path, level: str = "80 %", length: float = 0.5, extra: str = "", limit: str = "") -> Path:
    folder.mkdir(exist_ok=True)
    text = SHOW.format(level=level, length=length, extra=extra, limit=limit)
    beside = folder / "show.new"
    beside.write_text(text, encoding="utf-8")
    beside.replace(folder / "show.yaml")
    return folder


@pytest.fixture
def show(tmp_path: Path) -> Path:
    return written(tmp_path / "small")


@pytest.fixture
def line() -> Iterator[Line]:
    with Line() as line:
        yield line


@pytest.fixture
def client(show: Path) -> Iterator[PlayerClient]:
    with start_player(show) as client:
        yield client
        if client.gone is None:
            client.ask(Quit())


def until(client: PlayerClient, wanted: Callable[[object], T | None]) -> T:
    """Return what is wanted of what the player says, once it says it."""
    end_s = time.monotonic() + LONGEST_WAIT_S
    while time.monotonic() < end_s:
        found = wanted(client.next(1.0))
        if found is not None:
            return found
    raise AssertionError("the player did not say it")


def state(client: PlayerClient, wanted: str) -> Snapshot:
    return until(client, lambda said: said if isinstance(said, Snapshot) and said.state == wanted else None)


def ended(client: PlayerClient) -> Ended:
    return until(client, lambda said: said if isinstance(said, Ended) else None)


def level(snapshot: Snapshot) -> int:
    """Return what the key light is sent."""
    return unpacked(snapshot.slots)[0]


def begin(line: Line | None = None) -> Begin:
    return Begin(shot="1", to=("simulator",) if line is None else (line.target, "simulator"))


def look(packet: bytes) -> tuple[int, int]:
    return packet[1], packet[2]


UP, OUT = (204, 255), (0, 0)


# --- one take -----------------------------------------------------------------------------------------------------


def test_a_take_is_run_logged_and_told_of(client: PlayerClient, show: Path) -> None:
    client.ask(begin())
    said = ended(client)
    assert (said.slate, said.was_cut, said.missed, said.lost) == ("1-A", False, 0, {})
    with TakeStore(show) as store:
        (take,) = store.takes()
    assert (take.slate, take.status, take.packets_sent) == ("1-A", Status.COMPLETE, 11)
    snapshot = state(client, "holding")
    assert snapshot.last_take is not None
    assert (snapshot.last_take.slate, snapshot.last_take.was_watched) == ("1-A", True)
    assert level(snapshot) == 0, "the lights go out when a take ends"


def test_a_player_that_stood_still_says_so_in_the_lateness_of_the_take(show: Path) -> None:
    written(show, length=4)
    with start_player(show) as client:
        client.ask(Begin(shot="1", to=("simulator",)))
        until(client, lambda said: said if isinstance(said, Snapshot) and said.packet > 5 else None)
        os.kill(client.pid, signal.SIGSTOP)
        stopped_s = time.monotonic()
        time.sleep(1.5)  # it is the length of what is tried
        stood_s = time.monotonic() - stopped_s
        os.kill(client.pid, signal.SIGCONT)
        over = ended(client)
        client.ask(Quit())
    with TakeStore(show) as store:
        (take,) = store.takes()
        still = max(stood_still(store, take), key=lambda one: one.lasted_s)
    assert take.lateness is not None
    assert take.lateness.worst_ms / 1000 > stood_s - 0.2, "the first that was missed was due a period after the stop"
    assert still.lasted_s > stood_s - 0.2
    assert still.last - still.first + 1 <= over.missed
    assert still.last - still.first + 1 >= 20 * (stood_s - 0.2)
    assert take.status is Status.INCOMPLETE


def test_one_take_at_a_time(client: PlayerClient, tmp_path: Path) -> None:
    written(tmp_path / "small", length=600)
    client.ask(begin())
    with pytest.raises(PlayerRefused, match="take 1-A is under way: stop it first"):
        client.ask(begin())
    client.ask(Stop())
    assert ended(client).was_cut
    client.ask(begin())
    client.ask(Stop())


def test_stopping_a_take_that_is_just_over_is_no_error(client: PlayerClient, show: Path) -> None:
    client.ask(begin())
    ended(client)
    shoot.stop_take(client)
    with start_player(show) as other:
        other.ask(Control())
        until(client, lambda said: True if isinstance(said, Snapshot) and not said.has_control else None)
        with pytest.raises(PlayerRefused, match="another window or command has control"):
            shoot.stop_take(client)
    client.ask(Control())


def test_a_rehearsal_is_not_logged_and_its_light_stays(client: PlayerClient, show: Path) -> None:
    client.ask(Begin(shot="1", to=("simulator",), is_rehearsal=True, from_packet=5))
    assert ended(client).slate == ""
    assert level(state(client, "holding")) == UP[0]
    with TakeStore(show) as store:
        assert store.takes() == []


def test_a_rehearsal_is_of_the_texts_that_came_with_it_and_a_take_of_the_files(
    client: PlayerClient, show: Path
) -> None:
    """With a move of several MB beside it, which the show on the disk does not have."""
    chance = random.Random(1)  # noqa: S311 - no secret
    rows = "".join(f"{n / 600_000:.7f},{chance.uniform(0, 90):.4f}\n" for n in range(300_000))
    edited = SHOW.format(level="40 %", length=0.5, extra="", limit="").replace(
        "length:", "move: slide.csv\n    length:"
    )
    before = sorted(show.rglob("*"))
    texts = packed_texts({"show.yaml": edited, "slide.csv": f"time s,slide mm\n{rows}"})
    client.ask(Begin(shot="1", to=("simulator",), is_rehearsal=True, texts=texts))
    assert ended(client).slate == ""
    assert level(state(client, "holding")) == UP[0] // 2
    assert sorted(show.rglob("*")) == before
    client.ask(begin())
    assert ended(client).slate == "1-A"
    client.ask(Begin(shot="1", to=("simulator",), is_rehearsal=True))
    assert level(state(client, "holding")) == UP[0]


@pytest.mark.parametrize(
    ("texts", "words"), [({"show.yaml": b"no zlib"}, "these are no packed bytes"), ({"show.yaml": b""}, "no packed")]
)
def test_a_rehearsal_of_spoilt_texts_is_refused(client: PlayerClient, texts: dict[str, bytes], words: str) -> None:
    with pytest.raises(PlayerRefused, match=words):
        client.ask(Begin(shot="1", to=("simulator",), is_rehearsal=True, texts=texts))
    client.ask(begin())
    assert ended(client).slate == "1-A"


def test_a_shot_that_is_not_there_is_refused_in_words(client: PlayerClient) -> None:
    with pytest.raises(PlayerRefused, match="the show has no shot '9'"):
        client.ask(Begin(shot="9", to=("simulator",)))


# --- blackout, hold, release --------------------------------------------------------------------------------------


def test_a_blackout_lies_over_everything_until_it_is_released(client: PlayerClient, tmp_path: Path, line: Line) -> None:
    written(tmp_path / "small", length=600)
    client.ask(begin(line))
    until(client, lambda said: said if isinstance(said, Snapshot) and said.packet > 3 else None)
    client.ask(StartBlackout())
    until(client, lambda said: said if isinstance(said, Snapshot) and level(said) == 0 else None)
    client.ask(Release())
    until(client, lambda said: said if isinstance(said, Snapshot) and level(said) == UP[0] else None)
    client.ask(StartBlackout())
    client.ask(Stop())
    ended(client)
    client.ask(begin(line))
    assert state(client, "rolling").is_blacked_out, "a new take does not undo it"
    client.ask(Stop())
    ended(client)
    seen = [look(packet) for packet in line.packets()]
    changes = [one for before, one in zip([None, *seen], seen, strict=False) if one != before]
    assert changes == [UP, OUT, UP, OUT], "no other light was ever on the line"


def test_a_lamp_that_must_not_go_out_stays_at_its_level_in_a_blackout(client: PlayerClient, tmp_path: Path) -> None:
    written(tmp_path / "small", length=600, limit=", never below: 20 %")
    client.ask(begin())
    client.ask(StartBlackout())
    dark = until(client, lambda said: said if isinstance(said, Snapshot) and said.slots and level(said) == 0 else None)
    assert unpacked(dark.slots)[1] == 51  # 20 % of 255
    client.ask(Release())
    client.ask(Stop())


def test_a_command_that_ends_lets_go_of_its_light_and_not_of_a_blackout(show: Path, line: Line) -> None:
    with start_player(show) as watch:
        with LookClient(show, [line.target], [1], holds_at_end=False) as light:
            light.show(np.array([[204, 255, *[0] * 510]], dtype=np.uint8))
            assert line.has_begun.wait(LONGEST_WAIT_S)
            watch.ask(StartBlackout())
            until(watch, lambda said: said if isinstance(said, Snapshot) and said.slots and level(said) == 0 else None)
        assert state(watch, "idle").is_blacked_out
        watch.ask(Quit())
    seen = [look(packet) for packet in line.packets()]
    changes = [one for before, one in zip([None, *seen], seen, strict=False) if one != before]
    assert changes == [UP, OUT], "the light that someone made dark does not come back as the command ends"


def test_a_held_shot_goes_on_where_it_was(client: PlayerClient, tmp_path: Path, show: Path) -> None:
    written(tmp_path / "small", length=1)
    client.ask(begin())
    client.ask(Hold(is_held=True))
    held = until(client, lambda said: said if isinstance(said, Snapshot) and said.is_held and said.packet else None)
    assert state(client, "holding").packet in (held.packet, held.packet + 1)
    client.ask(Release())
    assert not ended(client).was_cut
    with TakeStore(show) as store:
        (take,) = store.takes()
    assert take.status is Status.COMPLETE
    assert take.packets_sent > 21, "the packets of the hold are in the log too"


# --- several clients ----------------------------------------------------------------------------------------------


def test_one_client_has_control_and_another_can_take_it_over(client: PlayerClient, show: Path, tmp_path: Path) -> None:
    written(tmp_path / "small", length=600)
    client.ask(begin())
    with start_player(show) as other:
        assert other.pid == client.pid, "there is one player"
        assert not state(other, "rolling").has_control
        with pytest.raises(PlayerRefused, match="another window or command has control"):
            other.ask(Stop())
        other.ask(StartBlackout())
        other.ask(Control())
        with pytest.raises(PlayerRefused):
            client.ask(Hold())
        other.ask(Stop())
        assert ended(other).was_cut
        assert ended(client).was_cut, "all are told"
        other.ask(Release())
    client.ask(Control())


# --- what is lost -------------------------------------------------------------------------------------------------


def shooting(show: Path, line: Line) -> AbstractContextManager[subprocess.Popen[str]]:
    return started("shoot", show, "1", "--no-countdown", "--to", line.target)


def watching(show: Path) -> PlayerClient:
    client = find_player(show)
    assert client is not None
    return client


def test_a_killed_client_changes_nothing_the_take_ends_and_its_last_look_stays(show: Path, line: Line) -> None:
    written(show, length=2)
    with shooting(show, line) as shot:
        assert line.has_begun.wait(LONGEST_WAIT_S)
        shot.send_signal(signal.SIGKILL)
        shot.communicate(timeout=LONGEST_WAIT_S)
    before = len(line.received)
    # The take of 2 s goes on without anybody, and the look stands after it.
    wait_until(lambda: len(line.received) >= before + 60 * 25, "the packets of the take, and more")
    with watching(show) as client:
        snapshot = state(client, "holding")
        assert snapshot.last_take is not None
        assert (snapshot.last_take.slate, snapshot.last_take.status) == ("1-A", "complete")
        assert not snapshot.last_take.was_watched
        assert level(snapshot) == UP[0]
        client.ask(Quit())
    with TakeStore(show) as store:
        (take,) = store.takes()
    assert (take.status, take.packets_sent) == (Status.COMPLETE, 41)
    seen = [look(packet) for packet in line.packets() if len(packet) == 25]
    assert set(seen[: seen.index(OUT)] if OUT in seen else seen) == {UP}


def test_a_killed_player_is_told_of_and_another_sends_its_last_look_on(show: Path, line: Line) -> None:
    written(show, length=600)
    with shooting(show, line) as shot:
        assert line.has_begun.wait(LONGEST_WAIT_S)
        first = watching(show)
        until(first, lambda said: said if isinstance(said, Snapshot) and said.packet > 20 else None)
        os.kill(first.pid, signal.SIGKILL)
        with pytest.raises(PlayerGone, match=f"the player .process {first.pid}. is gone"):
            until(first, lambda _: None)
        first.close()
        _, err = shot.communicate(timeout=LONGEST_WAIT_S)
    assert shot.returncode == 1
    assert f"the player (process {first.pid}) is gone" in err
    assert "a new player" in err
    with watching(show) as client:
        assert client.pid != first.pid
        snapshot = state(client, "holding")
        assert level(snapshot) == UP[0]
        before = len(line.received)
        wait_until(lambda: len(line.received) > before, "a packet")
        client.ask(Release())
    seen = [look(packet) for packet in line.packets() if len(packet) == 25 and packet[0] == 0]
    assert set(seen) <= {UP, OUT}
    assert OUT not in seen[: len(seen) - 10], "until it was released, the line was never dark"
    with TakeStore(show) as store:
        (take,) = store.takes()
    assert take.status is Status.BROKEN
    assert take.packets_sent > 0


def test_no_take_begins_without_an_output_that_was_asked_for(client: PlayerClient, line: Line) -> None:
    client.ask(ShowLook(to=(line.target, "simulator"), universes=(1,), slots=bytes(512)))
    line.pull()
    told = until(client, lambda said: said.text if isinstance(said, Notice) else None)
    assert f"{line.target} was lost" in told
    assert "it is tried again" in told
    with pytest.raises(PlayerRefused, match=r"was lost.*: mend it, or leave that output out"):
        client.ask(begin(line))
    client.ask(begin())
    assert not ended(client).lost, "the others go on"


def test_a_blackout_outlives_the_player(client: PlayerClient, show: Path) -> None:
    client.ask(ShowLook(to=("simulator",), universes=(1,), slots=bytes([77]) + bytes(511)))
    until(client, lambda said: said if isinstance(said, Snapshot) and said.slots and level(said) == 77 else None)
    client.ask(StartBlackout())
    until(client, lambda said: said if isinstance(said, Snapshot) and level(said) == 0 else None)
    os.kill(client.pid, signal.SIGKILL)
    with pytest.raises(PlayerGone):
        until(client, lambda _: None)
    with start_player(show, resume=True) as other:
        snapshot = state(other, "holding")
        assert (snapshot.is_blacked_out, level(snapshot)) == (True, 0)
        other.ask(Release())
        until(other, lambda said: said if isinstance(said, Snapshot) and level(said) == 77 else None)
        other.ask(Quit())


def test_a_player_that_is_started_anew_without_asking_sends_nothing(client: PlayerClient, show: Path) -> None:
    client.ask(ShowLook(to=("simulator",), universes=(1,), slots=bytes([77]) + bytes(511)))
    os.kill(client.pid, signal.SIGKILL)
    with pytest.raises(PlayerGone):
        until(client, lambda _: None)
    with start_player(show) as other:
        assert state(other, "idle").slots == b""
        other.ask(Quit())


# --- the show changes ---------------------------------------------------------------------------------------------


def kept_look(show: Path, line: Line) -> PlayerClient:
    """Return a client of a player that holds the last look of a take."""
    written(show, extra="on stop: hold\n")
    client = start_player(show)
    client.ask(begin(line))
    ended(client)
    return client


def test_a_show_that_is_saved_while_a_look_is_held_is_taken_up_without_a_gap(show: Path, line: Line) -> None:
    with kept_look(show, line) as client:
        assert level(state(client, "holding")) == UP[0]
        written(show, level="40 %", extra="on stop: hold\n")
        until(client, lambda said: said if isinstance(said, Snapshot) and level(said) == 102 else None)
        client.ask(Quit())
    seen = [look(packet) for packet in line.packets()]
    changes = [one for before, one in zip([None, *seen], seen, strict=False) if one != before]
    assert changes == [UP, (102, 255), OUT], "from the one look to the other with nothing in between"


def test_a_show_that_cannot_run_changes_nothing_and_is_told(show: Path, line: Line) -> None:
    with kept_look(show, line) as client:
        written(show, level="4 parsec", extra="on stop: hold\n")
        told = until(client, lambda said: said.text if isinstance(said, Notice) else None)
        assert "the show was changed and cannot run; the light stays as it was" in told
        assert "show.yaml:9:13" in told
        assert "'parsec' is no unit" in until(
            client, lambda said: said.show_problem if isinstance(said, Snapshot) and said.show_problem else None
        )
        with pytest.raises(PlayerRefused, match="'parsec' is no unit"):
            client.ask(begin(line))
        written(show, level="40 %", extra="on stop: hold\n")
        until(client, lambda said: said if isinstance(said, Snapshot) and level(said) == 102 else None)
        client.ask(Quit())
    assert {look(packet) for packet in line.packets()} == {UP, (102, 255), OUT}


def test_a_show_that_is_saved_while_a_take_rolls_waits_for_its_end(client: PlayerClient, show: Path) -> None:
    written(show, length=2, extra="on stop: hold\n")
    client.ask(begin())
    state(client, "rolling")
    written(show, level="40 %", length=2, extra="on stop: hold\n")
    seen: set[int] = set()

    def looked_at(said: object) -> Ended | None:
        if isinstance(said, Snapshot) and said.slots:
            seen.add(level(said))
        return said if isinstance(said, Ended) else None

    until(client, looked_at)
    assert seen == {UP[0]}
    until(client, lambda said: said if isinstance(said, Snapshot) and level(said) == 102 else None)


# --- a player alone -----------------------------------------------------------------------------------------------


def test_a_player_that_nobody_needs_ends_with_its_last_client(show: Path) -> None:
    with start_player(show) as client:
        client.ask(begin())
        ended(client)
        pid = client.pid

    def is_gone() -> bool:
        if (found := find_player(show)) is not None:
            found.close(leave=False)
        return found is None

    wait_until(is_gone, f"the end of process {pid}")


def test_a_player_without_a_show_says_why_it_cannot_start(tmp_path: Path) -> None:
    with pytest.raises(PlayerGone, match=r"the player did not start: there is no show\.yaml"):
        start_player(tmp_path)


# --- what is refused, and who is gone meanwhile -------------------------------------------------------------------


def test_a_take_that_is_refused_leaves_the_held_light_on_its_port(client: PlayerClient, line: Line) -> None:
    client.ask(ShowLook(to=(line.target,), universes=(1,), slots=bytes([204, 255]) + bytes(510)))
    with pytest.raises(PlayerRefused, match="is to carry universe 9"):
        client.ask(Begin(shot="1", to=(f"{line.target},universe=9",)))
    before = len(line.received)
    wait_until(lambda: len(line.received) >= before + 25 * 25, "the light that was held")
    client.ask(Quit())
    assert {look(packet) for packet in line.packets() if len(packet) == 25} == {UP, OUT}


def test_an_output_that_is_lost_before_a_take_starts_is_lost_to_the_take(client: PlayerClient, line: Line) -> None:
    client.ask(Begin(shot="1", to=(line.target, "simulator"), count_s=2))
    assert line.has_begun.wait(LONGEST_WAIT_S)
    line.pull()
    said = ended(client)
    assert "was lost" in said.lost[line.target]
    assert said.missed_on == {}, "it is no line that is too slow"


def test_a_take_whose_folder_is_moved_away_meanwhile_is_taken_in_where_the_folder_is_now(
    show: Path, line: Line
) -> None:
    written(show, length=2)
    with shooting(show, line) as shot:
        assert line.has_begun.wait(LONGEST_WAIT_S)
        moved = show.rename(show.with_name("elsewhere"))
        _, err = shot.communicate(timeout=LONGEST_WAIT_S)
    assert "takes.sqlite cannot be made: its folder is not there: take 1-A is kept in " in err
    assert "internal error" not in err
    assert main(["takes", str(moved)]) == 0
    with TakeStore(moved) as store:
        (take,) = store.takes()
        assert sum(len(numbers) for numbers, _ in store.blocks(take)) == 41
    assert (take.status, take.packets_sent) == (Status.COMPLETE, 41)


def test_light_that_is_resumed_stays_though_the_show_is_gone(client: PlayerClient, show: Path, line: Line) -> None:
    client.ask(ShowLook(to=(line.target,), universes=(1,), slots=bytes([204, 255]) + bytes(510)))
    os.kill(client.pid, signal.SIGKILL)
    with pytest.raises(PlayerGone):
        until(client, lambda _: None)
    (show / "show.yaml").rename(show / "elsewhere")
    with start_player(show, resume=True) as other:
        assert level(state(other, "holding")) == UP[0]
        with pytest.raises(PlayerRefused, match=r"there is no show\.yaml"):
            other.ask(begin(line))
        (show / "elsewhere").rename(show / "show.yaml")
        other.ask(begin(line))
        ended(other)
        other.ask(Quit())


def test_a_look_that_cannot_be_resumed_keeps_no_player_from_starting(client: PlayerClient, show: Path) -> None:
    client.ask(ShowLook(to=("simulator",), universes=(1,), slots=bytes([77]) + bytes(511)))
    os.kill(client.pid, signal.SIGKILL)
    with pytest.raises(PlayerGone):
        until(client, lambda _: None)
    kept = InstanceLock.of(show).last_look
    kept.write_bytes(kept.read_bytes().replace(b'"simulator"', b'"candlelit"'))
    with start_player(show, resume=True) as other:
        assert state(other, "idle").slots == b""
        other.ask(Quit())


def test_a_player_stays_for_a_lamp_that_must_not_go_out_until_it_is_let_go_of(show: Path) -> None:
    written(show, limit=", never below: 20 %")
    with start_player(show) as client:
        client.ask(begin())
        ended(client)
        assert unpacked(state(client, "holding").slots)[1] == 51
        pid = client.pid
    with watching(show) as client:
        assert client.pid == pid, "nobody was there, and it has stayed"
        os.kill(pid, signal.SIGKILL)
        with pytest.raises(PlayerGone):
            until(client, lambda _: None)
    with start_player(show, resume=True) as client:
        pid = client.pid
    with watching(show) as client:
        assert client.pid == pid, "and so does the one that resumes"
        client.ask(Release())
        state(client, "idle")


def test_a_cue_that_does_not_wait_is_not_fired_and_that_is_said(client: PlayerClient, show: Path) -> None:
    written(show, length=600)
    with pytest.raises(PlayerRefused, match="no take is under way"):
        client.ask(Fire())
    client.ask(begin())
    with pytest.raises(PlayerRefused, match="no cue waits for the operator"):
        client.ask(Fire())
    with pytest.raises(PlayerRefused, match="no cue '7' waits to be fired: none does"):
        client.ask(Fire(cue="7"))
    client.ask(Stop())


def test_a_release_leaves_a_lamp_that_must_not_go_out_at_its_level_and_another_lets_go(show: Path) -> None:
    written(show, limit=", never below: 20 %", extra="on stop: hold\n")
    with start_player(show) as client:
        client.ask(begin())
        ended(client)
        client.ask(Release())
        until(client, lambda said: said if isinstance(said, Snapshot) and level(said) == 0 else None)
        assert client.snapshot is not None
        assert (client.snapshot.state, unpacked(client.snapshot.slots)[1]) == ("holding", 51)
        client.ask(Release())
        state(client, "idle")
