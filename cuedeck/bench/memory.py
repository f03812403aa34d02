"""Memory of a window that is open all day: how much each edit, and each save of another program, leaves behind.

It has the edited show with its history, and the thread that writes and checks its files, for a large show; what the
screen draws is not counted. Linux only, where /proc says how much memory a process has.
"""

from __future__ import annotations

import queue
import sys
import time
from fractions import Fraction
from pathlib import Path
from subprocess import run

from cuedeck.bench.shows import cue_list_text, show_folder
from cuedeck.draft.cues import lengthen_fade
from cuedeck.draft.draft import Draft, files_of
from cuedeck.folder.draft_files import DraftFiles
from cuedeck.folder.draft_news import DraftNews, ShowChecked
from cuedeck.show import SHOW_FILE

LIGHTS, CUES = 300, 1000
STEPS = 100
FIRST_STEPS = 10
"""Growth is counted from here: before, the memory of a whole show comes and goes."""
EDITS_BEFORE_A_CHECK = 10
_LONGEST_S = 600.0
_LONGEST_RUN_S = 3600.0


def report(steps: int = STEPS) -> str:
    """Report how much a window has grown; each kind of change runs in a process of its own."""
    if not Path("/proc/self/status").exists():
        return "memory\n  left out: this system does not say how much a process has"
    lines = [f"memory of a window, {LIGHTS} lights and {CUES} cues, after {steps} steps that can be undone"]
    for kind, name in (("save", "saves of another program"), ("edit", "edits")):
        command = [sys.executable, "-m", __name__, kind, str(steps)]
        done = run(command, capture_output=True, text=True, check=True, timeout=_LONGEST_RUN_S)  # noqa: S603 - this very module
        first, last, text = map(int, done.stdout.split())
        each = (last - first) / (steps - FIRST_STEPS)
        lines.append(
            f"  {name:25} {first / 1000:.1f} MB, then {last / 1000:.1f} MB: {each:.1f} kB a step, where the text of the"
            f" show has {text / 1000:.0f} kB"
        )
    return "\n".join(lines)


class Window:
    """What a window has of a show, without a screen."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / SHOW_FILE
        self.files = DraftFiles(folder)
        self.draft = Draft(self.files.open())
        self._news: queue.Queue[DraftNews] = queue.Queue()
        self.files.begin(self._news.put)

    def save(self, number: int) -> None:
        """Save as another program does, and read it."""
        look, level = f"look {2 + 17 * number % (CUES - 1)}", f"-{1 + number / 1000:.3f} stop"
        head, found, rest = self.path.read_text(encoding="utf-8").partition(f"  {look}: {{light 1: ")
        self.path.write_text(f"{head}{found}{level}{rest[rest.index(',') :]}", encoding="utf-8")
        self.files.take_in(self.draft.take_in("another program's").number)
        self._wait_until_checked()

    def edit(self, number: int) -> None:
        """Edit, and after every tenth edit take in the whole show as it is read from its text."""
        opened = self.draft.opened
        edit = lengthen_fade(opened, "1", str(2 + 17 * number % (CUES - 1)), Fraction(1, 10))
        step = self.draft.make(edit)
        self.files.make(step.number, step.name, files_of(opened, edit.changes), [])
        if number % EDITS_BEFORE_A_CHECK == 0:
            self._wait_until_checked()

    def _wait_until_checked(self) -> None:
        until_s = time.monotonic() + _LONGEST_S
        while time.monotonic() < until_s:
            match self._news.get(timeout=_LONGEST_S):
                case ShowChecked(opened, commands, is_saved) if commands == self.files.asked:
                    self.draft.read_again(opened, is_saved=is_saved)
                    return
        raise TimeoutError("the show of the benchmark was not checked")


def measure(kind: str, steps: int) -> tuple[int, int, int]:
    """Return the kilobytes of this process after the first steps and after the last, and the bytes of the text."""
    with show_folder(cue_list_text(LIGHTS, CUES)) as folder:
        window = Window(folder)
        step = window.save if kind == "save" else window.edit
        first = 0
        for number in range(steps):
            step(number)
            first = _resident_kilobytes() if number + 1 == FIRST_STEPS else first
        last = _resident_kilobytes()
        window.files.end()
        return first, last, window.path.stat().st_size


def _resident_kilobytes() -> int:
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(status.partition("VmRSS:")[2].split()[0])


if __name__ == "__main__":
    print(*measure(sys.argv[1], int(sys.argv[2])))
