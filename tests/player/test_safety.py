"""A blackout, the lock of a folder and how a player ended, with real processes that are killed and stopped."""

from __future__ import annotations

import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from pathlib import Path

import pytest

from cuedeck.player.channel.client import PlayerClient, PlayerGone, PlayerRefused, find_player, start_player
from cuedeck.player.channel.events import Snapshot
from cuedeck.player.channel.requests import Control, Hold, Quit, Release, ShowLook, StartBlackout
from cuedeck.player.channel.server import MOST_CLIENTS
from cuedeck.player.instance_lock import InstanceLock, PlayerRuns
from cuedeck.player.line.blackout_client import NoAnswer, black_out, blackouts_now, release_blackout
from cuedeck.player.state_folder import NAME
from tests.cli.command import arguments, run
from tests.cli.test_commands import PACKET_BYTES, Line
from tests.player.test_process import (
    OUT,
    begin,
    ended,
    level,
    line,
    look,
    show,
    state,
    until,
    written,
)
from tests.waiting import LONGEST_WAIT_S, wait_until

__all__ = ["line", "show"]
pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and pseudo-terminals are those of POSIX")

ROUNDS = int(os.environ.get("CUEDECK_KILLS", "0")) or 3
"""How often player and client are killed at random; CUEDECK_KILLS asks for more. Read before it is hidden."""
LIT = ShowLook(to=("simulator",), universes=(1,), slots=bytes([77]) + bytes(511))


def gone(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    with suppress(OSError):  # a child of this process that nobody has waited for
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    return False


def kill(client: PlayerClient) -> None:
    os.kill(client.pid, signal.SIGKILL)
    wait_until(lambda: gone(client.pid))


# --- a blackout outlives all --------------------------------------------------------------------------------------


def test_a_take_after_a_blackout_that_everybody_died_under_begins_dark_and_says_so_first(
    show: Path, line: Line
) -> None:
    with start_player(show) as client:
        client.ask(LIT)
        client.ask(StartBlackout())
        kill(client)
    words = ["shoot", show, "1", "--to", line.target]
    with subprocess.Popen(arguments(words), stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as shot:
        out, err = shot.communicate(timeout=LONGEST_WAIT_S)
    said = err.splitlines()
    assert said[0].startswith("BLACKOUT: the line is dark until 'release'")
    assert "take 1-A in 3 · BLACKOUT" in err
    assert "blackout  lay over" in out
    assert {look(packet) for packet in line.packets()} == {OUT}
    assert run("player", show, "release").returncode == 0


def test_a_resumed_player_is_dark_too_also_where_its_runtime_directory_was_emptied(show: Path) -> None:
    with start_player(show) as client:
        client.ask(LIT)
        client.ask(StartBlackout())
        kept = InstanceLock.of(show).blackout_page
        kill(client)
    kept.unlink()
    with start_player(show, resume=True) as client:
        snapshot = state(client, "holding")
        assert (snapshot.is_blacked_out, level(snapshot)) == (True, 0)
        client.ask(Release())
        until(client, lambda said: said if isinstance(said, Snapshot) and level(said) == 77 else None)
        client.ask(Quit())


# --- its way in ---------------------------------------------------------------------------------------------------


@pytest.fixture(params=["socket", "port"])
def crowded(request: pytest.FixtureRequest, show: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A show whose player has as many clients as it takes, and as many half-open connections as come."""
    if request.param == "port":
        deep = Path(os.environ["XDG_RUNTIME_DIR"]) / ("x" * 90)
        deep.mkdir(mode=0o700, exist_ok=True)
        monkeypatch.setenv("XDG_RUNTIME_DIR", str(deep))
    with ExitStack() as stack:
        first = stack.enter_context(start_player(show))
        first.ask(LIT)
        for _ in range(MOST_CLIENTS - 1):
            client = find_player(show)
            assert client is not None
            stack.enter_context(client)
        announced = InstanceLock.of(show).found()
        assert announced is not None
        kind, _, instance = announced.address.partition(":")
        assert kind == ("unix" if request.param == "socket" else "tcp")
        for _ in range(100):
            half_open = stack.enter_context(socket.socket(socket.AF_UNIX if kind == "unix" else socket.AF_INET))
            half_open.settimeout(0.2)
            with suppress(OSError):
                half_open.connect(instance if kind == "unix" else ("127.0.0.1", int(instance)))
        yield show
        os.kill(first.pid, signal.SIGKILL)


def test_a_blackout_and_its_release_come_through_whatever_crowds_the_channel(crowded: Path) -> None:
    with pytest.raises(PlayerRefused, match="16 clients are there already"):
        find_player(crowded)
    done = run("player", crowded, "blackout")
    assert "BLACKED OUT until" in done.stdout
    assert "dark since packet" in done.stdout
    assert blackouts_now(crowded) == (True, 1)
    assert "the line has its light again" in run("player", crowded, "release").stdout
    assert blackouts_now(crowded) == (False, 1)


def test_strangers_lock_nobody_out_for_good(show: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    deep = Path(os.environ["XDG_RUNTIME_DIR"]) / ("y" * 90)
    deep.mkdir(mode=0o700, exist_ok=True)
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(deep))
    with start_player(show) as client, ExitStack() as stack:
        announced = InstanceLock.of(show).found()
        assert announced is not None
        port = int(announced.address.partition(":")[2])
        for _ in range(60):
            stack.enter_context(socket.create_connection(("127.0.0.1", port)))
        other = find_player(show)
        assert other is not None, "the first try gets in"
        other.close()
        client.ask(Quit())


def test_a_player_that_is_stopped_goes_on_dark_and_who_asked_is_told(show: Path, line: Line) -> None:
    with start_player(show) as client:
        client.ask(ShowLook(to=(line.target,), universes=(1,), slots=bytes([204, 255]) + bytes(510)))
        os.kill(client.pid, signal.SIGSTOP)
        begun_s = time.monotonic()
        try:
            done = run("player", show, "blackout")
            assert "does not answer. The blackout comes first when it goes on" in done.stderr
            assert "cut the power at the rig's own switch" in done.stderr
            assert time.monotonic() - begun_s < LONGEST_WAIT_S
            with pytest.raises(NoAnswer, match="nothing is released, now or later"):
                release_blackout(show)
        finally:
            os.kill(client.pid, signal.SIGCONT)
        until(client, lambda said: said if isinstance(said, Snapshot) and said.is_blacked_out else None)
        assert blackouts_now(show)[0], "and the release that was given up never comes"
        client.ask(Release())
        client.ask(Quit())


def test_whoever_may_black_out_may_undo_it_and_nothing_else(show: Path) -> None:
    written(show, length=600)
    with start_player(show) as client, start_player(show) as other:
        client.ask(begin())
        client.ask(Hold(is_held=True))
        other.ask(StartBlackout())
        other.ask(Release())
        assert not blackouts_now(show)[0]
        with pytest.raises(PlayerRefused, match="another window or command has control"):
            other.ask(Hold())
        until(
            other,
            lambda said: said if isinstance(said, Snapshot) and said.is_held and not said.is_blacked_out else None,
        )  # the hold stays
        with pytest.raises(PlayerRefused, match="another window or command has control"):
            other.ask(Release())
        assert blackouts_now(show)[1] == 1
        assert "control" in run("player", show, "release").stderr
        client.ask(Quit())


def test_a_blackout_is_asked_for_without_what_takes_long_to_load() -> None:
    command = (
        "import sys; from cuedeck.cli.main import main; from pathlib import Path;"
        " main(['player', sys.argv[1], 'blackout']); main(['player', sys.argv[1], 'release']);"
        " print(sorted({'pydantic', 'numpy', 'yaml', 'asyncio'} & set(sys.modules)))"
    )
    with tempfile.TemporaryDirectory() as folder:
        shown = written(Path(folder) / "small")
        done = subprocess.run(
            [sys.executable, "-c", command, shown], capture_output=True, text=True, check=True, timeout=120
        )
    assert done.stdout.splitlines()[-1] == "[]"


# --- words of the command line ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [
        ("--take-over", "SHOW", "hold"),
        ("SHOW", "--take-over", "hold"),
        ("SHOW", "hold", "--take-over"),
        ("SHOW", "--take-over", "fire", "3"),
        ("SHOW", "fire", "--take-over", "3"),
    ],
)
def test_options_of_the_player_are_understood_in_any_order(show: Path, words: tuple[str, ...]) -> None:
    done = run("player", *(show if word == "SHOW" else word for word in words))
    assert f"no player of {show} runs" in done.stderr


# --- how it ended -------------------------------------------------------------------------------------------------


def is_idle_again(client: PlayerClient) -> None:
    client.ask(Release())
    state(client, "idle")


def by_signal(number: signal.Signals) -> Callable[[PlayerClient], None]:
    return lambda client: os.kill(client.pid, number)


ENDS: dict[str, tuple[str, str, Callable[[PlayerClient], None]]] = {
    "nobody is left": ("", "", lambda _: None),
    "quit": ("", "", lambda client: client.ask(Quit())),
    "terminated": ("", "", by_signal(signal.SIGTERM)),
    "interrupted": ("", "", by_signal(signal.SIGINT)),
    "held look, terminated": ("on stop: hold\n", "", by_signal(signal.SIGTERM)),
    "held look, quit": ("on stop: hold\n", "", lambda client: client.ask(Quit())),
    "held look, let go of": ("on stop: hold\n", "", is_idle_again),
    "never below, let go of": ("", ", never below: 20 %", is_idle_again),
    "never below, terminated": ("", ", never below: 20 %", by_signal(signal.SIGTERM)),
}


@pytest.mark.parametrize("how", ENDS)
def test_a_player_that_ended_on_purpose_is_not_called_killed(show: Path, how: str) -> None:
    extra, limit, end = ENDS[how]
    written(show, extra=extra, limit=limit, length=0.2)
    with start_player(show) as client:
        client.ask(begin())
        ended(client)
        end(client)
    wait_until(lambda: gone(client.pid))
    assert not InstanceLock.of(show).was_killed
    said = run("player", show).stderr
    assert "was killed" not in said
    assert "resume" not in said


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSEGV, signal.SIGABRT])
def test_a_player_that_was_killed_or_crashed_is_called_so(show: Path, number: signal.Signals) -> None:
    with start_player(show) as client:
        client.ask(begin())
        ended(client)
        os.kill(client.pid, number)
        wait_until(lambda: gone(client.pid))
    assert "was killed" in run("player", show).stderr
    assert f"'cuedeck player {show} resume' sends it on" in run("player", show).stderr
    InstanceLock.of(show).last_look.unlink()  # as where the computer was switched off
    said = run("player", show).stderr
    assert "was killed, or its computer switched off" in said
    assert "resume" not in said
    copied = show.with_name("copied")
    shutil.copytree(show, copied)
    assert "was killed" not in run("player", copied).stderr, "it was the player of another folder"


# --- one player a folder ------------------------------------------------------------------------------------------


@pytest.fixture
def elsewhere() -> Iterator[Path]:
    path = Path(tempfile.mkdtemp(prefix="cd-"))
    yield path
    shutil.rmtree(path)


def test_a_terminal_with_another_runtime_directory_finds_the_player_that_runs(
    show: Path, elsewhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with start_player(show) as client:
        client.ask(LIT)
        monkeypatch.setenv("XDG_RUNTIME_DIR", str(elsewhere))
        with start_player(show) as other:
            assert other.pid == client.pid
            assert black_out(show).has_player
            until(other, lambda said: said if isinstance(said, Snapshot) and said.is_blacked_out else None)
            assert release_blackout(show).was_black
        client.ask(Control())
        client.ask(Quit())


def test_where_it_cannot_be_reached_no_second_player_begins_and_the_first_is_named(
    show: Path, elsewhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with start_player(show) as client:
        Path(os.environ["XDG_RUNTIME_DIR"], "cuedeck").chmod(0o755)  # as one of somebody else's
        monkeypatch.setenv("XDG_RUNTIME_DIR", str(elsewhere))
        with pytest.raises(PlayerRuns, match=rf"\(process {client.pid}\), and cannot be reached from here"):
            InstanceLock.of(show).claim()
        assert f"(process {client.pid}), and cannot be reached" in run("player", show).stderr
        with pytest.raises(PlayerGone, match=rf"\(process {client.pid}\), and cannot be reached from here"):
            start_player(show)
        monkeypatch.undo()
        client.ask(Quit())


def test_a_folder_without_room_for_a_lock_file_has_one_player_too(
    show: Path, elsewhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (show / NAME).write_text("in the way")
    with start_player(show) as client:
        monkeypatch.setenv("XDG_RUNTIME_DIR", str(elsewhere))
        with pytest.raises(PlayerRuns, match="cannot be reached from here"):
            InstanceLock.of(show).claim()
        monkeypatch.undo()
        client.ask(Quit())


def test_a_renamed_folder_keeps_its_player_and_a_copy_gets_its_own(show: Path) -> None:
    with start_player(show) as client:
        client.ask(LIT)
        copied, renamed = show.with_name("copied"), show.with_name("renamed")
        shutil.copytree(show, copied)
        show.rename(renamed)
        with start_player(renamed) as other:
            assert other.pid == client.pid
        written(show)
        assert find_player(show) is None, "another folder has the name now"
        with start_player(copied) as other:
            assert other.pid != client.pid
            other.ask(Quit())
        client.ask(Control())
        client.ask(Quit())


def test_a_blackout_goes_with_a_folder_that_is_renamed_while_its_player_runs(show: Path) -> None:
    renamed = show.with_name("renamed")
    with start_player(show) as client:
        client.ask(LIT)
        show.rename(renamed)
        client.ask(StartBlackout())
        assert blackouts_now(renamed)[0]
        kill(client)
    assert not show.exists(), "nothing is made where the folder was"
    with start_player(renamed) as client:
        assert until(client, lambda said: said if isinstance(said, Snapshot) else None).is_blacked_out
        assert release_blackout(renamed).was_black
        kill(client)
    with start_player(renamed) as client:
        assert not until(client, lambda said: said if isinstance(said, Snapshot) else None).is_blacked_out
        client.ask(Quit())


# --- at random ----------------------------------------------------------------------------------------------------


def kill_if_there(process: subprocess.Popen[bytes], show: Path) -> None:
    announced = InstanceLock.of(show).found()
    process.kill()
    process.communicate(timeout=LONGEST_WAIT_S)
    if announced is not None:
        with suppress(ProcessLookupError):
            os.kill(announced.pid, signal.SIGKILL)
        wait_until(lambda: gone(announced.pid))


@pytest.mark.parametrize("seed", range(ROUNDS))
def test_between_a_confirmed_blackout_and_a_confirmed_release_no_player_ever_sends_light(
    show: Path, line: Line, seed: int
) -> None:
    """Player and client are killed at random instants, and the next ones begin."""
    written(show, length=600)
    chance = random.Random(seed)  # noqa: S311 - no secret
    command = arguments(["shoot", show, "1", "--no-countdown", "--to", line.target])
    quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen(command, **quiet) as shot:
        if chance.random() < 0.7:
            line.has_begun.wait(LONGEST_WAIT_S)
        time.sleep(chance.random())
        asking = subprocess.Popen(arguments(["player", show, "blackout"]), **quiet)
        if chance.random() < 0.4:
            time.sleep(chance.random() * 0.2)
            asking.kill()
        is_confirmed = asking.wait(LONGEST_WAIT_S) == 0
        if not is_confirmed:
            is_confirmed = run("player", show, "blackout").returncode == 0
        assert is_confirmed
        dark_from = len(line.received) + 3 * PACKET_BYTES  # what was on its way
        time.sleep(chance.random() * 0.1)
        kill_if_there(shot, show)
    for resumes in (False, chance.random() < 0.5):
        if resumes and InstanceLock.of(show).last_look.exists():
            run("player", show, "resume")
        with subprocess.Popen(command, **quiet) as shot:
            enough = len(line.received) + 5 * PACKET_BYTES
            wait_until(lambda enough=enough: len(line.received) > enough)  # type: ignore[misc]
            time.sleep(chance.random() * 0.3)
            kill_if_there(shot, show)
    assert not any(line.received[dark_from:]), "light came back under a blackout"
    assert run("player", show, "release").returncode == 0
    lit_from = len(line.received)
    with subprocess.Popen(command, **quiet) as shot:
        wait_until(lambda: any(line.received[lit_from:]))
        kill_if_there(shot, show)


# --- typed during a take ------------------------------------------------------------------------------------------


def test_blackout_and_release_are_typed_during_a_take_and_nothing_else_fires_a_cue(show: Path, line: Line) -> None:
    written(show, length=600)
    command = arguments(["shoot", show, "1", "--no-countdown", "--to", line.target])
    with subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as shot:
        assert shot.stdin is not None
        assert shot.stderr is not None
        assert line.has_begun.wait(LONGEST_WAIT_S)
        said: list[str] = []
        gives_up = threading.Timer(LONGEST_WAIT_S, shot.kill)
        gives_up.start()

        def typed(word: str, wanted: str) -> None:
            shot.stdin.write(f"{word}\n")
            shot.stdin.flush()
            while not any(wanted in one for one in said):
                said.append(shot.stderr.readline())
                assert said[-1], "it ended"

        typed("blackout", "BLACKOUT: the line is dark until 'release'")
        typed("blakout", "'blakout' is no word here: write blackout or release")
        assert blackouts_now(show) == (True, 1)
        typed("release", "BLACKOUT is over")
        assert any("BLACKED OUT until" in one for one in said)
        assert blackouts_now(show) == (False, 1)
        gives_up.cancel()
        kill_if_there(shot, show)
