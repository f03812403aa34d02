"""The terminal UI while it repaints: a real `cuedeck open` in a pseudo-terminal, with a shot running. POSIX only."""

from __future__ import annotations

import fcntl
import os
import pty
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

COLUMNS, LINES = 120, 40
_LONGEST_START_S = 60.0


class InTerminal:
    """A `cuedeck` command in a pseudo-terminal, whose drawing is read away. Used with `with`, which kills it."""

    def __init__(self, *arguments: str) -> None:
        self.drawn = 0
        """Bytes that it drew."""
        self._begins = b""
        self._near, far = pty.openpty()
        fcntl.ioctl(far, termios.TIOCSWINSZ, struct.pack("HHHH", LINES, COLUMNS, 0, 0))
        environment = {**os.environ, "TERM": "xterm-256color", "COLUMNS": str(COLUMNS), "LINES": str(LINES)}
        command = [sys.executable, "-m", "cuedeck", *arguments]
        self._process = subprocess.Popen(  # noqa: S603 - this program itself
            command, stdin=far, stdout=far, stderr=far, env=environment, start_new_session=True
        )
        os.close(far)
        self._thread = threading.Thread(target=self._read_away, name="terminal", daemon=True)
        self._thread.start()

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Return the terminal UI of a show, as soon as it has drawn a screen."""
        screen = cls("open", str(folder))
        screen.wait_for(b"quit")
        return screen

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self.kill()

    @property
    def pid(self) -> int:
        """Its process."""
        return self._process.pid

    def press(self, keys: bytes) -> None:
        """Type something."""
        with suppress(OSError):
            os.write(self._near, keys)

    def wait_for(self, words: bytes) -> None:
        """Wait until some words were drawn, or it has ended."""
        until = time.monotonic() + _LONGEST_START_S
        while words not in self._begins and self._process.poll() is None and time.monotonic() < until:
            time.sleep(0.05)

    def kill(self) -> None:
        """Kill it with SIGKILL; safe to call twice."""
        if self._near < 0:
            return
        with suppress(ProcessLookupError):
            self._process.send_signal(signal.SIGKILL)
        self._process.wait()
        self._thread.join(1)
        near, self._near = self._near, -1
        os.close(near)

    def _read_away(self) -> None:
        with suppress(OSError):  # its end
            while content := os.read(self._near, 65_536):
                self.drawn += len(content)
                if len(self._begins) < 200_000:
                    self._begins += content


def repainting(folder: Path) -> InTerminal:
    """Return the terminal UI of a show with its shot running, which it draws as often as it can."""
    screen = InTerminal.open(folder)
    screen.press(b" ")
    return screen
