"""The screen while its player hangs: a real player, stopped and sent on."""

from __future__ import annotations

import os
import signal
import textwrap
from pathlib import Path

import pytest

from cuedeck.player.channel.client import start_player
from cuedeck.player.channel.events import OutputState, Snapshot
from cuedeck.player.channel.requests import Begin
from cuedeck.player.words import hang_text
from cuedeck.tui.player_line import MOST_NOTICE_LINES
from tests.player.channel.test_silence import stopped
from tests.tui.test_player import SMALL, UP, Screen, opened, show
from tests.tui.test_watching import watching

__all__ = ["show"]  # the fixture

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals are those of POSIX")


def is_missed(screen: Screen) -> bool:
    banner = screen.app.banner.said
    return banner is not None and banner.kind == "silent" and "THE PLAYER DOES NOT ANSWER" in screen.text


def words_of(screen: Screen) -> str:
    return " ".join(screen.text.split())


def player_of(screen: Screen) -> int:
    return screen.player._pid


async def test_a_player_that_hangs_in_a_take_is_told_from_one_that_is_well(show: Path) -> None:
    async with opened(show) as screen:
        await screen.pilot.press("2", "t")
        await screen.until_rolling("2-A")
        with stopped(player_of(screen)):
            await screen.until(lambda: is_missed(screen))
            await screen.until(lambda: "nothing is sent" in screen.text and "cut the power by hand" in words_of(screen))
            assert "rolls" not in screen.text
            assert "Hz" not in screen.app.player_line.rights[0]
            await screen.until(lambda: "DOES NOT ANSWER FOR 1 S" in screen.text)
        await screen.until(lambda: any("the player answers again, after" in text for text in screen.told))
        await screen.until(lambda: "take 2-A rolls" in screen.text)
        assert screen.app.banner.said is not None
        assert screen.app.banner.said.kind == "rolling"
        assert screen.player.notices == []


@pytest.mark.parametrize("key", ["h", "s", "r"])
async def test_keys_say_at_once_that_nothing_was_asked_and_nothing_is_done_later(show: Path, key: str) -> None:
    async with opened(show) as screen:
        await screen.pilot.press("2", "t")
        await screen.until_rolling("2-A")
        await screen.pilot.press("h")
        await screen.until(lambda: "take 2-A held" in screen.text)
        with stopped(player_of(screen)):
            await screen.until(lambda: is_missed(screen))
            await screen.pilot.press(key)
            await screen.until(lambda: any("nothing was asked of it" in text for text in screen.told))
        await screen.until(lambda: any("the player answers again" in text for text in screen.told))
        await screen.pilot.press("b")  # whatever was asked before this would have been done before it
        await screen.until(lambda: "BLACKOUT" in screen.text)
        assert "take 2-A held" in screen.text


@pytest.mark.parametrize("key", ["b", "ctrl+g"])
async def test_a_blackout_is_written_down_for_it_and_taken_up_when_it_goes_on(show: Path, key: str) -> None:
    async with opened(show) as screen:
        await screen.pilot.press("2", "t")
        await screen.until_rolling("2-A")
        await screen.until_line_holds(UP)
        with stopped(player_of(screen)):
            await screen.until(lambda: is_missed(screen))
            await screen.pilot.press(key)
            await screen.until(lambda: any("the blackout is written down" in text for text in screen.told))
        await screen.until(lambda: screen.levels == [0, 0] and "BLACKOUT" in screen.text)


async def test_a_window_that_looks_on_says_so_too_and_over_other_screens(show: Path) -> None:
    with start_player(show) as other:
        other.ask(Begin(shot="2", to=("simulator",)))
        async with watching(show) as screen:
            await screen.until_rolling("2-A")
            await screen.pilot.press("question_mark")
            with stopped(other.pid):
                await screen.until(lambda: any("the player does not answer" in text for text in screen.told))
                await screen.pilot.press("escape")
                await screen.until(lambda: is_missed(screen))
                await screen.pilot.press("p")
                await screen.until(
                    lambda: "the player does not answer" in screen.app.screen.query_one("#outputs").render().plain
                )  # type: ignore[attr-defined]


async def test_leaving_while_it_hangs_says_that_it_does(show: Path) -> None:
    async with opened(show) as screen:
        await screen.pilot.press("2", "t")
        await screen.until_rolling("2-A")
        with stopped(player_of(screen)):
            await screen.until(lambda: is_missed(screen))
            (said,) = screen.player.leave("small", holds=False)
    assert "does not answer" in said


async def test_a_player_that_is_killed_while_it_hangs_is_replaced(show: Path) -> None:
    async with opened(show) as screen:
        await screen.pilot.press("2", "t")
        await screen.until_rolling("2-A")
        await screen.until_line_holds(UP)
        before = player_of(screen)
        os.kill(before, signal.SIGSTOP)
        await screen.until(lambda: is_missed(screen))
        os.kill(before, signal.SIGKILL)
        await screen.until(lambda: "holds the last look" in screen.text)
        await screen.until_line_holds(UP)
        assert not is_missed(screen)


def test_all_that_is_to_be_known_is_read_on_a_small_screen() -> None:
    outputs = tuple(OutputState(name=name) for name in ("serial:/dev/ttyUSB0", "sacn"))
    text = hang_text(4194304, Snapshot(state="rolling", outputs=outputs))
    assert len(textwrap.wrap(f"(2 to read) {text} · esc dismisses", SMALL[0] - 2)) <= MOST_NOTICE_LINES
