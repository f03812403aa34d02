"""The real program in tmux, as a person has it before them: edit, save, and look at what changed in the file."""

from __future__ import annotations

import difflib
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.tools import needed_tool

DEMO = Path(__file__).parents[2] / "shows" / "barometer"


class Terminal:
    """One window of a tmux server of its own."""

    def __init__(self, socket: Path, command: list[str], columns: int, lines: int) -> None:
        self._tmux = [needed_tool("tmux"), "-S", str(socket), "-f", "/dev/null"]
        size = ["-x", str(columns), "-y", str(lines)]
        self._run("new-session", "-d", *size, *command, ";", "set", "-g", "escape-time", "0", ";", "set", "-g",
                  "remain-on-exit", "on")  # fmt: skip

    def _run(self, *words: str) -> str:
        done = subprocess.run([*self._tmux, *words], capture_output=True, text=True, check=True, timeout=30)
        return done.stdout

    def press(self, *keys: str) -> None:
        for key in keys:
            self._run("send-keys", "--", key)

    def text(self) -> str:
        return self._run("capture-pane", "-p")

    def until(self, is_so: Callable[[str], bool], what: str) -> str:
        deadline = time.monotonic() + 40
        while not is_so(text := self.text()):
            assert time.monotonic() < deadline, f"{what} never came:\n{text}"
            time.sleep(0.05)
        return text

    def sees(self, wanted: str) -> str:
        return self.until(lambda text: wanted in text, wanted)

    def end(self) -> None:
        subprocess.run([*self._tmux, "kill-server"], capture_output=True, check=False, timeout=30)


@pytest.fixture
def show(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "show"))


@pytest.fixture(params=[(80, 24), (200, 50)], ids=["80x24", "200x50"])
def terminal(show: Path, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Terminal]:
    command = [sys.executable, "-m", "cuedeck", "open", str(show)]
    one = Terminal(tmp_path / "tmux", command, *request.param)
    yield one
    one.end()


def changed_lines(show: Path) -> list[str]:
    before, after = ((folder / "show.yaml").read_text(encoding="utf-8") for folder in (DEMO, show))
    diff = difflib.unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=0)
    return [f"{line[0]} {line[1:].strip()}" for line in diff if line[0] in "+-" and line[:3] not in ("---", "+++")]


def test_a_cue_is_moved_a_light_dialled_in_and_the_file_has_these_two_lines_changed(
    terminal: Terminal, show: Path
) -> None:
    terminal.sees("dial reveal")
    terminal.press("Tab", ".")
    terminal.sees("▸ starts  slide 10 mm")
    terminal.press("Right", "Down", "+", "+")
    terminal.sees("▸ fade    1.8 s")
    terminal.press("Tab", "m", "Left", "Left", "Left")
    terminal.sees("nudged")
    terminal.press("k")
    terminal.sees("kept in look")
    terminal.press("C-s")
    terminal.sees("saved: show.yaml")
    assert changed_lines(show) == [
        "- left edge: {rim left: -1 stop}",
        "+ left edge: {rim left: -1.3 stop}",
        "- - {cue: 2, at: slide 10 mm, look: left edge, fade: 1.6 s, curve: even stops}",
        "+ - {cue: 2, at: slide 11.3 mm, look: left edge, fade: 1.8 s, curve: even stops}",
    ]
    terminal.press("q")
    terminal.until(lambda text: "dial reveal" not in text, "the end")
    assert not (show / ".draft").exists()
