"""What a player and a terminal UI take of a core while nothing happens, beside what does nothing at all.

All of them run at the same time. POSIX only, and where /proc is.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

from cuedeck.bench.player_process import player_of
from cuedeck.bench.screen import SMALL
from cuedeck.bench.shows import cue_list_text, show_folder
from cuedeck.bench.terminal import TerminalProcess
from cuedeck.bench.timings import machine_load, processor_s

WAKES_HZ = 10
"""As often as a player says that it is well."""
_SETTLES_S = 4.0
_WAKES = f"import time\nwhile True: time.sleep(1 / {WAKES_HZ})"


def report(seconds: float = 60.0) -> str:
    """Measure them all and say how they compare."""
    heading = f"idle, over {seconds:g} s; {machine_load()}"
    shares = measure(seconds)
    if not shares:
        return f"{heading}\n  left out: this system does not say what a process has used"
    return "\n".join([heading, *(f"  {name:36} {100 * share:6.2f} % of a core" for name, share in shares.items())])


def measure(seconds: float) -> dict[str, float]:
    """Return the share of a core that each takes; nothing where that cannot be known."""
    with ExitStack() as opened:
        with_player, alone = (opened.enter_context(show_folder(cue_list_text(*SMALL))) for _ in range(2))
        screen = opened.enter_context(TerminalProcess.open(with_player))
        client = opened.enter_context(player_of(with_player))
        pids = {
            "player, open listens": client.pid,
            "open, with a player": screen.pid,
            "open, without a player": opened.enter_context(TerminalProcess.open(alone)).pid,
            "Textual's smallest application": opened.enter_context(_smallest()).pid,
            f"Python, {WAKES_HZ} wakes a second": opened.enter_context(_waking()).pid,
        }
        time.sleep(_SETTLES_S)  # until the screen has found the player
        client.close()
        return _shares(pids, seconds)


def _shares(pids: dict[str, int], seconds: float) -> dict[str, float]:
    begun_s = time.monotonic()
    before = {name: processor_s(pid) for name, pid in pids.items()}
    time.sleep(seconds)
    lasted_s = time.monotonic() - begun_s
    after = {name: processor_s(pid) for name, pid in pids.items()}
    return {
        name: (now_s - before_s) / lasted_s
        for name in pids
        if (before_s := before[name]) is not None and (now_s := after[name]) is not None
    }


@contextmanager
def _smallest() -> Iterator[TerminalProcess]:
    with TerminalProcess(module="cuedeck.bench.smallest_app") as screen:
        screen.wait_for(b"quit")
        yield screen


@contextmanager
def _waking() -> Iterator[subprocess.Popen[bytes]]:
    process = subprocess.Popen([sys.executable, "-c", _WAKES])  # noqa: S603 - this program itself
    try:
        yield process
    finally:
        process.kill()
        process.wait()
