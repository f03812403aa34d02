"""Memory of a window that is open all day: what saves of another program and edits of one's own leave behind.

The whole screen without a terminal, on a folder of a large show, with the thread that writes and checks its files.
Linux only, where /proc says how much memory a process has.
"""

from __future__ import annotations

import asyncio
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from subprocess import run
from typing import Any

from cuedeck.bench.screen import made
from cuedeck.clock import MonotonicClock
from cuedeck.draft.cues import stretch_fade
from cuedeck.folder.draft_files import DraftFiles
from cuedeck.show.load import SHOW_FILE
from cuedeck.tui.app import CuedeckApp

LIGHTS, CUES = 300, 1000
STEPS = 100
FIRST_STEPS = 10
"""Before these the memory of one show more or less comes and goes; growth is counted from there."""
EDITS_BEFORE_A_CHECK = 10
_LONGEST_S = 600.0

Window = tuple[CuedeckApp, Any]
"""With the pilot of Textual that lets it work."""


def report(steps: int = STEPS) -> str:
    """Say how much a window has grown, each way in a process of its own."""
    if not Path("/proc/self/status").exists():
        return "memory\n  left out: this system does not say how much a process has"
    lines = [f"memory of a window, {LIGHTS} lights and {CUES} cues, after {steps} steps that can be undone"]
    for kind, name in (("save", "saves of another program"), ("edit", "edits")):
        command = [sys.executable, "-m", __name__, kind, str(steps)]
        done = run(command, capture_output=True, text=True, check=True)  # noqa: S603 - this very module
        first, last, text = map(int, done.stdout.split())
        each = (last - first) / (steps - FIRST_STEPS)
        lines.append(
            f"  {name:25} {first / 1000:.1f} MB, then {last / 1000:.1f} MB: {each:.1f} kB a step, where the text of the"
            f" show has {text / 1000:.0f} kB"
        )
    return "\n".join(lines)


async def measure(kind: str, steps: int) -> tuple[int, int, int]:
    """Return the kilobytes of this process after the first steps and after the last, and the bytes of the text."""
    with made(LIGHTS, CUES) as folder:
        files = DraftFiles(folder)
        app = CuedeckApp(folder.name, files.open(), MonotonicClock(), folder=None, files=files)
        step = _save if kind == "save" else _edit
        first = 0
        async with app.run_test(size=(120, 40)) as pilot:
            for number in range(steps):
                await step((app, pilot), folder / SHOW_FILE, number)
                first = _resident_kilobytes() if number + 1 == FIRST_STEPS else first
            last = _resident_kilobytes()
        app.end_draft()
        return first, last, (folder / SHOW_FILE).stat().st_size


async def _save(window: Window, path: Path, number: int) -> None:
    """Save as another program does, and wait until the window has taken it in."""
    app, pilot = window
    look, level = f"look {2 + 17 * number % (CUES - 1)}", f"-{1 + number / 1000} stop"
    head, found, rest = path.read_text(encoding="utf-8").partition(f"  {look}: {{light 1: ")
    path.write_text(f"{head}{found}{level}{rest[rest.index(',') :]}", encoding="utf-8")
    place = ("looks", look, "light 1")
    await _until(pilot, lambda: app.draft.opened.source.node(place) == level)


async def _edit(window: Window, path: Path, number: int) -> None:  # noqa: ARG001 - of the shape of _save
    """Edit, and now and then wait until the whole show was read from its text again."""
    app, pilot = window
    cue = str(2 + 17 * number % (CUES - 1))
    app.edit(lambda: stretch_fade(app.draft.opened, "1", cue, Fraction(1, 10)))
    if number % EDITS_BEFORE_A_CHECK == 0:
        before = app.draft.opened
        await _until(pilot, lambda: app.draft.opened is not before)
    await pilot.pause()


async def _until(pilot: Any, is_so: Callable[[], bool]) -> None:
    deadline_s = time.monotonic() + _LONGEST_S
    while not is_so():
        if time.monotonic() > deadline_s:
            raise TimeoutError("the window did not follow")
        await pilot.pause(0.02)


def _resident_kilobytes() -> int:
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(status.partition("VmRSS:")[2].split()[0])


if __name__ == "__main__":
    print(*asyncio.run(measure(sys.argv[1], int(sys.argv[2]))))
