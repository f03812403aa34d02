"""The screen as a client of a real player: it follows, takes, rehearses on the line, and outlives the player."""

from __future__ import annotations

import asyncio
import fcntl
import os
import pty
import signal
import struct
import subprocess
import sys
import termios
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

import pytest
from textual.pilot import Pilot

from cuedeck.clock import MonotonicClock
from cuedeck.folder.folder import ShowFolder
from cuedeck.player.channel.client import find_player, start_player
from cuedeck.player.channel.events import Snapshot
from cuedeck.player.channel.requests import Quit, ShowLook
from cuedeck.player.instance_lock import InstanceLock
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Status
from cuedeck.tui.app import CuedeckApp
from cuedeck.tui.player_side import PlayerSide
from cuedeck.tui.rehearsal import Rehearsal
from tests.output.ports import Pty
from tests.tui.test_terminal import read_until
from tests.waiting import LONGEST_WAIT_S, wait_on_screen, wait_until

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and pseudo-terminals are those of POSIX")

SHOW = """\
cuedeck: 1
slots: 24
refresh: 10 Hz
rig:
  key: {type: dimmer, address: 1.1}
  rim: {type: dimmer, address: 1.2}
looks:
  up: {everything: full}
  half: {key: 50 %}
shots:
  "1":
    cues:
      - {cue: 1, at: 0 s, look: half}
      - {cue: 2, at: 0.2 s, look: up, fade: 0.3 s}
  "2":
    length: 600 s
    cues:
      - {cue: 1, at: 0 s, look: up}
  "3":
    length: 10 s
    cues:
      - {cue: 1, at: 0 s, look: up}
  "4":
    length: 1 s
    cues:
      - {cue: 1, at: 0 s, look: half}
      - {cue: go, at: operator, look: up}
"""
UP, HALF = b"\xff\xff", b"\x80\x00"
SMALL = (80, 24)


@pytest.fixture
def show(tmp_path: Path) -> Iterator[Path]:
    """A small show, whose player is ended after the test."""
    folder = tmp_path / "small"
    folder.mkdir()
    (folder / "show.yaml").write_text(SHOW, encoding="utf-8")
    yield folder
    announced = InstanceLock.of(folder).found()
    if announced is not None:
        with suppress(ProcessLookupError):
            os.kill(announced.pid, signal.SIGKILL)


class Screen:
    """The screen on a show, and what a test asks of it."""

    def __init__(self, app: CuedeckApp, pilot: Pilot[None]) -> None:
        self.app = app
        self.pilot = pilot

    @property
    def player(self) -> PlayerSide:
        assert self.app.player is not None
        return self.app.player

    @property
    def rehearsal(self) -> Rehearsal:
        assert self.app.rehearsal is not None
        return self.app.rehearsal

    @property
    def text(self) -> str:
        return "\n".join(strip.text for strip in self.app.screen._compositor.render_strips())

    @property
    def told(self) -> list[str]:
        return [notification.message for notification in self.app._notifications]

    @property
    def levels(self) -> list[float]:
        return [round(state.level, 2) for state in self.rehearsal.simulator.states()]

    async def until(self, is_so: Callable[[], bool]) -> None:
        try:
            await wait_on_screen(self.pilot, is_so)
        except AssertionError as error:
            raise AssertionError(f"{error}: {self.text}, {self.told}, {self.player.snapshot}") from error

    async def until_line_holds(self, slots: bytes) -> None:
        await self.until(lambda: self.player.slots[: len(slots)] == slots)

    async def until_rolling(self, slate: str) -> None:
        await self.until(lambda: f"take {slate} rolls" in self.text)


@asynccontextmanager
async def opened(folder: Path, *to: str) -> AsyncIterator[Screen]:
    app = CuedeckApp("small", ShowFolder(folder).open(), MonotonicClock(), None, folder=folder, to=to)
    async with app.run_test(size=SMALL) as pilot:
        yield Screen(app, pilot)
    app.leave_player("small", holds=False)


def command(*words: str | Path) -> list[str]:
    return [sys.executable, "-m", "cuedeck", *(str(word) for word in words)]


def statuses(folder: Path) -> list[tuple[str, Status]]:
    with TakeStore(folder) as store:
        return [(take.slate, take.status) for take in store.takes()]


def has_player(folder: Path) -> bool:
    """Whether a player says where it is: one that ends takes that back. To connect would keep it alive."""
    return InstanceLock.of(folder).found() is not None


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are those of POSIX")
async def test_a_port_that_is_not_there_is_said_at_the_start_until_it_is_plugged_in(show: Path, tmp_path: Path) -> None:
    port = tmp_path / "port"
    async with opened(show, f"serial:{port}") as screen:
        await screen.until(lambda: "NOT THERE, is it plugged in?" in screen.text)
        said = subprocess.run(
            command("player", show), capture_output=True, text=True, check=True, timeout=LONGEST_WAIT_S
        )
        assert f"serial:{port}: it is not there: is it plugged in?" in said.stdout
        with Pty() as pty:
            port.symlink_to(pty.port)
            await screen.until(lambda: "NOT THERE" not in screen.text)
            await screen.pilot.press("right")
            await screen.until(lambda: not any(one.is_lost for one in screen.player.snapshot.outputs))


async def test_without_a_player_there_is_no_line_about_it_and_its_keys_do_nothing(show: Path) -> None:
    async with opened(show) as screen:
        await screen.pilot.press("h", "s", "b", "r", "c", "escape", "right")
        assert "player" not in screen.text
        assert not has_player(show)


async def test_a_take_of_shoot_in_another_terminal_is_followed_and_can_be_taken_over(show: Path) -> None:
    """Shot, playhead and light are those of the take; what cannot be done meanwhile is dimmed."""
    async with opened(show) as screen:
        with subprocess.Popen(
            command("shoot", show, "2", "--no-countdown"), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE
        ) as shoot:
            await screen.until_rolling("2-A")
            await screen.until(lambda: screen.levels == [1, 1] and screen.rehearsal.playhead.at_s > 0)
            assert screen.rehearsal.plan.name == "2"
            assert "control elsewhere" in screen.text
            assert screen.app.check_action("take", ()) is None
            assert screen.app.check_action("step", (1,)) is None
            await screen.pilot.press("t", "right", "1", "s")
            await screen.until(lambda: any("another window or command has control" in text for text in screen.told))
            await screen.pilot.press("c")
            await screen.until(lambda: "control here" in screen.text)
            await screen.pilot.press("s")
            await screen.until(lambda: not screen.player.is_running)
            out, _ = await asyncio.to_thread(shoot.communicate)
        assert b"2-A  (cut)" in out
        assert any(text.startswith("take 2-A is cut") for text in screen.told)
        assert statuses(show) == [("2-A", Status.CUT)]
        await screen.until(lambda: screen.levels == [0, 0])
        await screen.pilot.press("home")
        assert screen.levels == [1, 1], "moving the playhead rehearses the shot again"


async def test_a_key_takes_the_shot_and_the_take_is_in_the_log(show: Path) -> None:
    """However often it is pressed, it is one take."""
    async with opened(show) as screen:
        await screen.pilot.press("t", "t")
        await screen.until(lambda: "take 1-A starts in" in screen.text)
        await screen.pilot.press("t")
        await screen.until(lambda: any(text.startswith("take 1-A is ") for text in screen.told))
        ((slate, status),) = statuses(show)
        assert slate == "1-A"
        assert status in (Status.COMPLETE, Status.INCOMPLETE)
        await screen.until(lambda: "player holds the lights out" in screen.text)


async def test_enter_fires_on_the_line_h_holds_it_and_b_and_r_black_it_out_and_bring_it_back(show: Path) -> None:
    async with opened(show) as screen:
        await screen.pilot.press("4", "t")
        await screen.until_rolling("4-A")
        await screen.until_line_holds(HALF)
        await screen.pilot.press("h")
        await screen.until(lambda: "take 4-A held at" in screen.text)
        await screen.pilot.press("b")
        await screen.until(lambda: "BLACKOUT" in screen.text)
        await screen.until(lambda: screen.levels == [0, 0])
        await screen.pilot.press("r")
        await screen.until_line_holds(HALF)
        await screen.pilot.press("h")
        await screen.until_rolling("4-A")
        await screen.pilot.press("enter")
        await screen.until(lambda: any(text.startswith("take 4-A is ") for text in screen.told))
        with TakeStore(show) as store:
            (take,) = store.takes()
        assert [one.cue for one in take.fired] == ["go"]


async def test_a_player_that_is_killed_is_missed_at_once_and_another_holds_its_last_look(show: Path) -> None:
    async with opened(show) as screen:
        await screen.pilot.press("2", "t")
        await screen.until_rolling("2-A")
        await screen.until_line_holds(UP)
        before = InstanceLock.of(show).found()
        assert before is not None
        os.kill(before.pid, signal.SIGKILL)
        await screen.until(lambda: "the player is gone" in screen.text)
        await screen.until(lambda: "holds the last look" in screen.text)
        after = InstanceLock.of(show).found()
        assert after is not None
        assert after.pid != before.pid
        assert f"a new one (process {after.pid}) holds" in " ".join(screen.player.notices)
        assert screen.player.slots[:2] == UP
        assert screen.levels == [1, 1]
        assert statuses(show) == [("2-A", Status.BROKEN)]
        await screen.pilot.press("escape")
        assert "lost" not in screen.text
        await screen.pilot.press("r")
        await screen.until(lambda: "player sends nothing" in screen.text)


async def test_a_player_that_is_told_to_end_is_not_started_again(show: Path) -> None:
    async with opened(show, "simulator") as screen:
        await screen.pilot.press("end")
        await screen.until_line_holds(UP)
        client = start_player(show)
        with client:
            await screen.until(lambda: screen.player.snapshot is not None)
            await asyncio.to_thread(subprocess.run, command("player", show, "quit", "--take-over"), check=True)
        await screen.until(lambda: any("it left no light on the line" in text for text in screen.told))
        assert not has_player(show)
        assert not screen.player.notices


def test_a_take_whose_screen_is_killed_plays_to_its_end_and_the_next_screen_says_so(show: Path) -> None:
    near, far = pty.openpty()
    fcntl.ioctl(far, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    environment = {**os.environ, "TERM": "xterm-256color", "COLUMNS": "80", "LINES": "24"}
    with subprocess.Popen(command("open", show), stdin=far, stdout=far, stderr=far, env=environment) as process:
        read_until(near, b"quit")
        os.write(near, b"3")
        read_until(near, b"shot 3")
        os.write(near, b"t")
        read_until(near, b"rolls")
        process.kill()
    os.close(near)
    os.close(far)
    wait_until(lambda: statuses(show)[0][1] is not Status.ROLLING)
    asyncio.run(_sees_the_take_that_was_missed(show))


async def _sees_the_take_that_was_missed(show: Path) -> None:
    ((_, status),) = statuses(show)
    assert status in (Status.COMPLETE, Status.INCOMPLETE)
    async with opened(show) as screen:
        await screen.until(lambda: f"take 3-A ended unwatched: {status}, its last look still holds" in screen.text)
        assert "player holds a look" in screen.text
        assert screen.levels == [1, 1]
        await screen.pilot.press("right")
        assert screen.player.slots[:2] == UP, "without --to, nothing is sent"
        assert "ended unwatched" in screen.text
        await screen.pilot.press("escape")
        assert "ended unwatched" not in screen.text


async def test_leaving_in_a_take_stops_nothing_and_says_how_to_come_back(show: Path) -> None:
    async with opened(show) as screen:
        await screen.pilot.press("3", "t")
        await screen.until_rolling("3-A")
        await screen.pilot.press("q")
    said = "\n".join(screen.player.leave("my show", holds=False))
    assert "take 3-A goes on" in said
    assert "'cuedeck open 'my show'' comes back to it" in said
    await asyncio.to_thread(wait_until, lambda: statuses(show)[0][1] is not Status.ROLLING)
    assert statuses(show)[0][1] in (Status.COMPLETE, Status.INCOMPLETE)


# With --to.


async def test_with_outputs_the_look_at_the_playhead_stands_on_the_line(show: Path) -> None:
    """Nothing is sent before the playhead is moved; the newest place wins."""
    async with opened(show, "simulator") as screen:
        await screen.until(lambda: "player sends nothing" in screen.text)
        assert screen.player.slots == b""
        await screen.pilot.press(*["right"] * 30, "home")
        await screen.until_line_holds(HALF)
        await screen.pilot.press("end")
        await screen.until_line_holds(UP)
        assert screen.levels == [1, 1]
    assert statuses(show) == []


async def test_with_outputs_space_runs_the_shot_on_the_line_from_the_playhead_and_stops_it_there(show: Path) -> None:
    """Nothing of it is logged, and the light goes out with the screen."""
    async with opened(show, "simulator") as screen:
        await screen.until(lambda: screen.player.snapshot is not None)
        await screen.pilot.press("2", *["shift+right"] * 10)
        await screen.until_line_holds(UP)
        await screen.pilot.press("space")
        await screen.until(lambda: screen.rehearsal.is_led and screen.rehearsal.playhead.is_running)
        assert screen.rehearsal.playhead.at_s >= 4
        assert "rehearsal rolls" in screen.text
        await screen.pilot.press("space")
        await screen.until(lambda: not screen.player.is_running)
        place = screen.rehearsal.playhead.at_s
        assert place >= 4
        assert screen.player.slots[:2] == UP
        await screen.pilot.press("space")
        await screen.until(lambda: screen.rehearsal.playhead.is_running and screen.rehearsal.playhead.at_s > place)
        await screen.pilot.press("1")
        await screen.until_line_holds(HALF)
        assert not screen.player.is_running
    assert statuses(show) == []
    await asyncio.to_thread(wait_until, lambda: not has_player(show))


@pytest.mark.parametrize("holds", [False, True])
def test_leaving_lets_go_of_a_rehearsal_unless_the_show_holds(show: Path, holds: bool) -> None:
    async def rehearse() -> list[str]:
        app = CuedeckApp("small", ShowFolder(show).open(), MonotonicClock(), None, folder=show, to=("simulator",))
        async with app.run_test(size=SMALL) as pilot:
            screen = Screen(app, pilot)
            await screen.until(lambda: screen.player.snapshot is not None)
            await pilot.press("2", "space")
            await screen.until(lambda: "rehearsal rolls" in screen.text)
        return app.leave_player("small", holds=holds)

    said = asyncio.run(rehearse())
    assert bool(said) is holds
    if not holds:
        wait_until(lambda: not has_player(show))
        return
    client = find_player(show)
    assert client is not None
    with client:
        wait_until(lambda: client.snapshot is not None)
        assert isinstance(client.snapshot, Snapshot)
        assert client.snapshot.shot == "2"


async def test_what_the_player_refuses_is_told_in_its_words_once(show: Path) -> None:
    with start_player(show) as other:
        other.ask(ShowLook(to=("simulator",), universes=(1,), slots=bytes([9] * 512)))
        async with opened(show, "simulator") as screen:
            await screen.until(lambda: "control elsewhere" in screen.text)
            await screen.pilot.press("right", "right", "right")
            await screen.until(lambda: bool(screen.told))
            await screen.until(lambda: screen.player.shows_line)
            assert screen.told == [
                "another window or command has control: take it over (--take-over, or c on the screen),"
                " or close that one first"
            ]
            assert screen.player.slots[:2] == b"\x09\x09"
        other.ask(Quit())
