"""A player that hangs: it is missed soon, whoever asks is told so, and what was given up is never done later."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import Any

import pytest

from cuedeck.player.channel.client import PlayerClient, PlayerRefused, PlayerSilent, find_player
from cuedeck.player.channel.events import Snapshot
from cuedeck.player.channel.requests import (
    AnyRequest,
    Begin,
    Control,
    Fire,
    Hold,
    Quit,
    Release,
    Reload,
    ShowLook,
    Start,
    StartBlackout,
    Stop,
)
from cuedeck.player.channel.silence import BEAT, BEAT_S, SILENT_S, Pulse, Silence, now_ms, silent_text
from cuedeck.player.channel.socket_lines import Lines
from tests.player.test_process import client, state, until, written
from tests.waiting import LONGEST_WAIT_S

__all__ = ["client"]  # the fixture

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals are those of POSIX")

BEGIN = Begin(shot="1", to=("simulator",))
REQUESTS: list[AnyRequest] = [
    BEGIN,
    Start(),
    Fire(),
    Hold(is_held=True),
    Stop(),
    Release(),
    ShowLook(to=("simulator",), universes=(1,), slots=bytes(512)),
    Reload(),
    Quit(),
]


@pytest.fixture
def show(tmp_path: Path) -> Path:
    return written(tmp_path / "small", length=600)


@contextmanager
def stopped(pid: int) -> Iterator[None]:
    os.kill(pid, signal.SIGSTOP)
    try:
        yield
    finally:
        os.kill(pid, signal.SIGCONT)


def silence(client: PlayerClient, *, is_over: bool) -> Silence:
    def wanted(said: object) -> Silence | None:
        return said if isinstance(said, Silence) and said.is_over is is_over else None

    return until(client, wanted)


def news_of(client: PlayerClient) -> Snapshot:
    """Return a snapshot that is newer than everything that was asked."""
    before = client.snapshot
    return until(client, lambda said: said if isinstance(said, Snapshot) and said is not before else None)


def command(*words: str | Path) -> subprocess.CompletedProcess[str]:
    line = [sys.executable, "-m", "cuedeck", *(str(word) for word in words)]
    return subprocess.run(line, capture_output=True, text=True, timeout=LONGEST_WAIT_S, check=False)


@pytest.mark.parametrize("is_rolling", [False, True], ids=["idle", "rolling"])
def test_a_player_that_hangs_is_missed_and_greeted_when_it_is_back(client: PlayerClient, is_rolling: bool) -> None:
    if is_rolling:
        client.ask(BEGIN)
        state(client, "rolling")
    else:
        state(client, "idle")
    with stopped(client.pid):
        assert silence(client, is_over=False).lasted_s >= SILENT_S
        assert client.is_silent
        later = silence(client, is_over=False)
        assert later.lasted_s >= 1, "it is told every second"
    assert silence(client, is_over=True).lasted_s >= later.lasted_s
    assert not client.is_silent
    client.ask(Reload())


def test_an_idle_player_says_that_it_is_well_and_nothing_else(
    client: PlayerClient, show: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    state(client, "idle")
    lines: list[bytes] = []
    has_beaten = threading.Event()

    def read(of: Lines, *arguments: Any, **options: Any) -> bytes:
        lines.append(reading(of, *arguments, **options))
        if lines[-10:] == 10 * [BEAT]:
            has_beaten.set()
        return lines[-1]

    reading = Lines.read
    monkeypatch.setattr(Lines, "read", read)
    other = find_player(show)
    assert other is not None
    with other:
        assert has_beaten.wait(LONGEST_WAIT_S), lines[-10:]
        assert not other.is_silent
        assert other.snapshot is not None
        assert other.snapshot.state == "idle"


@pytest.mark.parametrize("is_player_stopped_too", [False, True])
def test_a_client_that_was_stopped_itself_accuses_nobody(
    client: PlayerClient, show: Path, is_player_stopped_too: bool
) -> None:
    """Only time counts in which the client was awake: it may wake from a sleep of the machine before the player."""
    program = (
        "import sys, time; from pathlib import Path; from cuedeck.player.channel.client import Silence, find_player\n"
        "heard = []; client = find_player(Path(sys.argv[1]), on_event=heard.append); print('there', flush=True)\n"
        "sys.stdin.read(); print(sum(isinstance(one, Silence) for one in heard), client.is_silent)"
    )
    line = [sys.executable, "-c", program, str(show)]
    with subprocess.Popen(line, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "there\n"
        for _ in range(3):
            with stopped(client.pid) if is_player_stopped_too else nullcontext(), stopped(process.pid):
                time.sleep(3 * SILENT_S)
            time.sleep(2 * BEAT_S)
        said, _ = process.communicate(timeout=LONGEST_WAIT_S)
    assert said == "0 False\n"
    assert client.gone is None


@pytest.mark.parametrize("request_", REQUESTS, ids=lambda request: request.ask)
def test_what_a_client_gave_up_is_never_done_later(client: PlayerClient, request_: AnyRequest) -> None:
    client.ask(BEGIN)
    state(client, "rolling")
    with stopped(client.pid):
        with pytest.raises(PlayerSilent, match=r"does not answer.* given up, and not done later"):
            client.ask(request_)
        assert client.is_silent
        with pytest.raises(PlayerSilent):  # at once now, and without a word to the player
            client.ask(request_)
    silence(client, is_over=True)
    client.ask(StartBlackout())  # whatever was asked before this would have been done before it
    snapshot = news_of(client)
    assert snapshot.state == "rolling"
    assert snapshot.shot == "1"
    assert not snapshot.is_held
    assert client.gone is None


def test_control_is_not_taken_later_by_a_client_that_gave_up(client: PlayerClient, show: Path) -> None:
    client.ask(BEGIN)
    state(client, "rolling")
    other = find_player(show)
    assert other is not None
    with other:
        with stopped(client.pid), pytest.raises(PlayerSilent):
            other.ask(Control())
        silence(client, is_over=True)
        client.ask(StartBlackout())
        assert news_of(client).has_control


@pytest.mark.parametrize("is_late", [False, True])
def test_what_was_asked_before_a_player_stood_still_is_refused_in_words(client: PlayerClient, is_late: bool) -> None:
    state(client, "idle")
    before_ms = now_ms()
    with stopped(client.pid):
        silence(client, is_over=False)
    silence(client, is_over=True)
    if is_late:
        with pytest.raises(PlayerRefused, match="nobody waits for it any more, so it is not done"):
            client._answered(Reload(), before_ms, LONGEST_WAIT_S)
    client.ask(Reload())


def test_a_player_knows_by_its_own_beat_whether_it_stood_still(monkeypatch: pytest.MonkeyPatch) -> None:
    time_ms = 1000
    monkeypatch.setattr("cuedeck.player.channel.silence.now_ms", lambda: time_ms)
    pulse = Pulse()
    for time_ms in (1100, 1200, 1300):  # noqa: B007 - it is read by the clock
        assert not pulse.has_missed_since(1050)
        pulse.beat()
    time_ms = 2300
    assert pulse.has_missed_since(1350), "before its next beat already"
    pulse.beat()
    assert pulse.has_missed_since(1350)
    assert not pulse.has_missed_since(2301)
    assert not pulse.has_missed_since(None), "a blackout is never too late"


def test_a_blackout_that_a_hanging_player_was_sent_waits_for_it(client: PlayerClient) -> None:
    client.ask(BEGIN)
    state(client, "rolling")
    with stopped(client.pid):
        silence(client, is_over=False)
        assert client.black_out() is False
    until(client, lambda said: said if isinstance(said, Snapshot) and said.is_blacked_out else None)
    assert client.black_out() is True


@pytest.mark.parametrize("word", ["status", "hold", "stop", "release", "quit"])
def test_the_command_line_gives_up_with_words_and_a_code_and_leaves_nothing_to_be_done(
    client: PlayerClient, show: Path, word: str
) -> None:
    client.ask(BEGIN)
    state(client, "rolling")
    with stopped(client.pid):
        done = command("player", show, word, "--take-over")
    assert done.returncode == 1
    assert f"the player (process {client.pid}) does not answer" in done.stderr
    assert f"kill -9 {client.pid}" in done.stderr
    silence(client, is_over=True)
    client.ask(StartBlackout())
    snapshot = news_of(client)
    assert (snapshot.state, snapshot.is_held, snapshot.has_control) == ("rolling", False, True)


def test_shoot_says_that_the_player_hangs_and_goes_on_with_it(tmp_path: Path) -> None:
    show = written(tmp_path / "small", length=2)
    line = [sys.executable, "-m", "cuedeck", "shoot", str(show), "1", "--no-countdown"]
    with subprocess.Popen(
        line, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as shoot:
        assert shoot.stderr is not None
        _line_with(shoot.stderr.readline, "rolling")
        player = find_player(show)
        assert player is not None
        player.close()
        with stopped(player.pid):
            _line_with(shoot.stderr.readline, f"the player (process {player.pid}) does not answer")
        _line_with(shoot.stderr.readline, "the player answers again, after")
        out, _ = shoot.communicate(timeout=LONGEST_WAIT_S)
    assert "1-A" in out


def _line_with(read: Callable[[], str], wanted: str) -> str:
    for line in iter(read, ""):
        if wanted in line:
            return line
    raise AssertionError(f"{wanted} was never said")


def test_step_ends_with_words_and_a_code_when_the_player_hangs(tmp_path: Path) -> None:
    show = written(tmp_path / "small", length=2)
    line = [sys.executable, "-m", "cuedeck", "step", str(show), "1"]
    with subprocess.Popen(
        line, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as step:
        assert step.stdout is not None
        assert step.stdin is not None
        _line_with(step.stdout.readline, "00")
        player = find_player(show)
        assert player is not None
        player.close()
        with stopped(player.pid):
            step.stdin.write("\n")
            step.stdin.flush()
            _, err = step.communicate(timeout=LONGEST_WAIT_S)
    assert step.returncode == 1
    assert f"the player (process {player.pid}) does not answer" in err


@pytest.mark.parametrize(
    ("outputs", "words"),
    [
        ((), "sends nothing; cut"),
        (("simulator",), "sends nothing; cut"),
        (
            ("serial:/dev/ttyUSB0",),
            "lamps hold their last look or go dark by themselves after some 1.25 s over DMX;",
        ),
        (("sacn:10.0.0.1",), "after some 2.5 s over sACN;"),
        (("sacn", "framed:COM3"), "after some 1.25 s over DMX or 2.5 s over sACN;"),
    ],
)
def test_what_becomes_of_the_light_meanwhile(outputs: tuple[str, ...], words: str) -> None:
    """1.25 s is the longest time between breaks in ANSI E1.11, 2.5 s the network data loss timeout in ANSI E1.31."""
    text = silent_text(4711, outputs)
    assert words in text
    assert "cut the power by hand if lamps must go dark now" in text
