"""A window that only looks on: it follows a real player, starts none, and asks it for nothing."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest

from cuedeck.cli.main import main
from cuedeck.clock import MonotonicClock
from cuedeck.folder.folder import ShowFolder
from cuedeck.player.channel.client import PlayerClient, find_player, start_player
from cuedeck.player.channel.requests import Begin, ShowLook
from cuedeck.player.instance_lock import InstanceLock
from cuedeck.takes.take import Status
from cuedeck.tui.app import CuedeckApp
from tests.tui.test_player import SMALL, UP, Screen, command, has_player, opened, show, statuses

__all__ = ["show"]  # the fixture

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals are those of POSIX")
EVERY_KEY_THAT_ASKS = ("t", "h", "s", "r", "c", "enter", "n", "o", "x", "y", "ctrl+s", "ctrl+z", "space", "right")


@asynccontextmanager
async def watching(folder: Path) -> AsyncIterator[Screen]:
    app = CuedeckApp("small", ShowFolder(folder).open(), MonotonicClock(), folder=folder, is_watching=True)
    async with app.run_test(size=SMALL) as pilot:
        yield Screen(app, pilot)
    app.leave_player("small", holds=False)


@pytest.fixture
def looks(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Where a window has looked for a player."""
    looked: list[Path] = []

    def looking(folder: Path, *rest: Any, **more: Any) -> PlayerClient | None:
        looked.append(folder)
        return find_player(folder, *rest, **more)

    monkeypatch.setattr("cuedeck.tui.player_link.find_player", looking)
    return looked


async def looked_again(screen: Screen, looks: list[Path]) -> None:
    """Wait until a window has looked for a player, and made up its mind what to do without one."""
    before = len(looks)
    await screen.until(lambda: len(looks) >= before + 2)


async def test_without_a_player_the_playhead_is_its_own_and_no_player_is_started(show: Path, looks: list[Path]) -> None:
    async with watching(show) as screen:
        await screen.pilot.press("3", "end")
        assert screen.levels == [1, 1]
        assert "watching" in screen.text
        await screen.pilot.press(*EVERY_KEY_THAT_ASKS)
        await looked_again(screen, looks)
        assert screen.player.snapshot is None
    assert not has_player(show)
    assert statuses(show) == []


async def test_a_take_of_another_window_is_followed_and_nothing_is_asked_of_it(show: Path) -> None:
    async with opened(show) as taking, watching(show) as screen:
        await taking.pilot.press("3", "t")
        await screen.until(lambda: screen.app.banner.said is not None and screen.app.banner.said.kind == "counting")
        await screen.until_rolling("3-A")
        await screen.until(lambda: screen.levels == [1, 1] and screen.rehearsal.playhead.at_s > 0)
        assert screen.rehearsal.plan.name == "3"
        await screen.pilot.press(*EVERY_KEY_THAT_ASKS, "1", "home")
        assert screen.rehearsal.plan.name == "3"
        assert taking.player.snapshot is not None
        assert taking.player.snapshot.has_control
        await taking.pilot.press("b")
        await screen.until(lambda: "BLACKOUT" in screen.text and screen.levels == [0, 0])
        await taking.pilot.press("r", "h")
        await screen.until(lambda: "take 3-A held at" in screen.text)
        assert screen.app.banner.said is not None
        assert screen.app.banner.said.text == "HELD 3-A"
        await taking.pilot.press("s")
        await screen.until(lambda: any(text.startswith("take 3-A is cut") for text in screen.told))
    assert statuses(show) == [("3-A", Status.CUT)]


async def test_a_rehearsal_on_the_line_is_followed_too(show: Path) -> None:
    async with watching(show) as screen:
        with start_player(show) as other:
            other.ask(Begin(shot="2", to=("simulator",), is_rehearsal=True))
            await screen.until(lambda: "rehearsal rolls" in screen.text)
            await screen.until(lambda: screen.rehearsal.is_led and screen.levels == [1, 1])
            assert screen.rehearsal.plan.name == "2"
            assert screen.app.banner.said is None
            assert screen.app.check_action("step", (1,)) is None


async def test_a_player_that_is_killed_is_not_started_again_by_who_looks_on(show: Path, looks: list[Path]) -> None:
    with start_player(show) as other:
        other.ask(ShowLook(to=("simulator",), universes=(1,), slots=UP + bytes(510)))
        async with watching(show) as screen:
            await screen.until_line_holds(UP)
            before = InstanceLock.of(show).found()
            assert before is not None
            os.kill(before.pid, signal.SIGKILL)
            await screen.until(lambda: "the player is gone" in " ".join(screen.player.notices))
            await looked_again(screen, looks)
            found = InstanceLock.of(show).found()
            assert found is None or found.pid == before.pid
            assert "'cuedeck player SHOW resume', sends its last look on" in " ".join(screen.player.notices)
            resume = command("player", show, "resume")
            done = await asyncio.to_thread(subprocess.run, resume, capture_output=True, check=False)
            assert done.returncode == 0, done.stderr
            await screen.until_line_holds(UP)


def test_outputs_are_refused_in_words(
    show: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for stream in ("stdin", "stdout", "stderr"):
        monkeypatch.setattr(f"sys.{stream}.isatty", lambda: True)
    assert main(["open", str(show), "--watch", "--to", "simulator"]) == 1
    assert capsys.readouterr().err == "cuedeck: --watch only looks on, and sends nothing: leave --to out\n"
