"""Kills players with SIGKILL at random instants of a take, while something is wrong with its log, and counts the loss.

python -m tests.player.take.log_kills 200          # prints a table: the worst loss for each fault
python -m tests.player.take.log_kills outlive 20   # no kill: each fault for so many seconds, and what is kept after it
"""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from cuedeck.cli.main import main as cuedeck
from cuedeck.player.channel.client import PlayerClient, start_player
from cuedeck.player.channel.events import Ended, Snapshot
from cuedeck.player.channel.requests import Begin, Quit, Stop
from cuedeck.takes.blocks import Packets
from cuedeck.takes.reading import TAKES_FILE
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Take
from tests.takes.rolled import locked
from tests.tools import small_disk, write_protected

LONGEST_WAIT_S = 60
SHOW = """\
cuedeck: 2
slots: 24
refresh: 44 Hz
rig:
  key: {type: dimmer, address: 1.1}
looks:
  up: {key: full}
shots:
  "1":
    length: 600 s
    cues:
      - {cue: 1, at: 0 s, look: up, fade: 500 s}
"""


@contextlib.contextmanager
def full(log: Path) -> Iterator[None]:
    """Fill the disk that the log is on."""
    filler = log.with_name("filler")
    with filler.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(bytes(4096))
    try:
        yield
    finally:
        filler.unlink()


@contextlib.contextmanager
def damaged(log: Path) -> Iterator[None]:
    """Write rubbish over a third of the log and of its write-ahead log, as they lie on the disk."""
    for part in ("", "-wal"):
        with contextlib.suppress(FileNotFoundError), log.with_name(f"{log.name}{part}").open("r+b") as file:
            size = file.seek(0, os.SEEK_END)
            for _ in range(max(size // 3 // 512, 1)):
                file.seek(random.randrange(size))  # noqa: S311
                file.write(random.randbytes(min(512, size)))  # noqa: S311
    yield


@contextlib.contextmanager
def replaced(log: Path) -> Iterator[None]:
    """Take the log away, and put an empty file in its place."""
    log.rename(log.with_name("elsewhere"))
    log.touch()
    yield


@contextlib.contextmanager
def protected(log: Path) -> Iterator[None]:
    """Let nobody write in the folder of the log, nor the log."""
    log.chmod(0o444)
    with write_protected(log.parent):
        yield
    log.chmod(0o644)


FAULTS = {"locked": locked, "full": full, "damaged": damaged, "replaced": replaced, "protected": protected}


def killed(fault: str, chance: random.Random) -> tuple[float, Take] | None:
    """Kill one player under a fault; return how many ms are lost, and the take. None without a disk to fill."""
    with tempfile.TemporaryDirectory() as name, small_disk(folder := Path(name), "4m") as is_mounted:
        if fault == "full" and not is_mounted:
            return None
        (folder / "show.yaml").write_text(SHOW, encoding="utf-8")
        log = folder / TAKES_FILE
        client = start_player(folder)
        try:
            client.ask(Begin(shot="1", to=("simulator",)))
            _wait_until_rolling(client)
            time.sleep(chance.uniform(0.1, 1.2))
            with FAULTS[fault](log):
                time.sleep(chance.uniform(0.0, 2.0))
                at_ns = time.monotonic_ns()
                sent = client.snapshot.packet if client.snapshot is not None else 0
                os.kill(client.pid, signal.SIGKILL)
        finally:
            with contextlib.suppress(ProcessLookupError):
                os.kill(client.pid, signal.SIGKILL)
            client.close(leave=False)
        return _lost_ms(folder, log, at_ns, sent)


def outlived(fault: str, seconds: float, *, ends_in_it: bool = False) -> tuple[int, int] | None:
    """Let a take roll through a fault, or end in it; return how many packets were sent, and kept once it is mended."""
    with tempfile.TemporaryDirectory() as name, small_disk(folder := Path(name), "4m") as is_mounted:
        if fault == "full" and not is_mounted:
            return None
        (folder / "show.yaml").write_text(SHOW, encoding="utf-8")
        with start_player(folder) as client:
            try:
                client.ask(Begin(shot="1", to=("simulator",)))
                _wait_until_rolling(client)
                time.sleep(0.5)
                with FAULTS[fault](folder / TAKES_FILE):
                    time.sleep(seconds)
                    if ends_in_it:
                        _stop(client)
                if not ends_in_it:
                    _stop(client)
            finally:
                client.ask(Quit())
        take, packets = _mended(folder, folder / TAKES_FILE)
        return take.packets_sent, sum(len(one.numbers) for one in packets)


def _stop(client: PlayerClient) -> None:
    client.ask(Stop())
    _wait_for(client, lambda said: isinstance(said, Ended))


def _wait_until_rolling(client: PlayerClient) -> None:
    _wait_for(client, lambda said: isinstance(said, Snapshot) and said.state == "rolling" and said.packet > 0)


def _wait_for(client: PlayerClient, is_it: Callable[[object], bool]) -> None:
    end_s = time.monotonic() + LONGEST_WAIT_S
    while time.monotonic() < end_s:
        if is_it(client.next(1.0)):
            return
    raise AssertionError("the player did not say it")


def _lost_ms(folder: Path, log: Path, at_ns: int, sent: int) -> tuple[float, Take]:
    """Return how much of the take before an instant is not kept: all of it, where it was killed in its first block."""
    take, packets = _mended(folder, log)
    if not packets:
        return 1000 * (sent + 1) / 44, take
    numbers = np.concatenate([one.numbers for one in packets])
    assert numbers.tolist() == list(range(len(numbers))), "packets are lost in the middle"
    return (at_ns - int(packets[-1].sent_ns[-1])) / 1e6, take


def _mended(folder: Path, log: Path) -> tuple[Take, list[Packets]]:
    """Bring the log in order as a user does, and return the take and what is kept of it."""
    with open(os.devnull, "w") as quiet, contextlib.redirect_stdout(quiet), contextlib.redirect_stderr(quiet):  # noqa: PTH123
        if cuedeck(["takes", str(folder), "check"]) and cuedeck(["takes", str(folder), "rescue"]) and not _is_file(log):
            log.rename(folder / "moved-away")
        cuedeck(["takes", str(folder)])
    with TakeStore(folder) as store:
        # What was rescued of a take whose row was damaged too is a take of its own, beside that of the second file.
        of_takes = [(take, list(store.packets(take))) for take in store.takes()]
        return max(of_takes, key=lambda one: (len(one[1]), one[0].packets_sent))


def _is_file(log: Path) -> bool:
    with contextlib.suppress(Exception), TakeStore(log.parent):
        return True
    return False


def main() -> None:
    """Kill so many players, the faults in turn, and print the worst and the middle loss for each."""
    if sys.argv[1:2] == ["outlive"]:
        for fault in FAULTS:
            print(fault, "for", sys.argv[2], "s: packets sent, kept:", outlived(fault, float(sys.argv[2])), flush=True)
        return
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 4
    chance = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else None)  # noqa: S311
    losses: dict[str, list[float]] = {fault: [] for fault in FAULTS}
    for number in range(rounds):
        fault = list(FAULTS)[number % len(FAULTS)]
        result = killed(fault, chance)
        if result is not None:
            losses[fault].append(result[0])
    for fault, found in losses.items():
        middle = sorted(found)[len(found) // 2] if found else 0.0
        print(
            f"{fault:10} {len(found):4} kills   lost: median {middle:6.0f} ms   worst {max(found, default=0):6.0f} ms"
        )


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as home:
        os.environ |= {"XDG_RUNTIME_DIR": home, "XDG_STATE_HOME": home}
        Path(home).chmod(0o700)
        main()
        shutil.rmtree(home, ignore_errors=True)
