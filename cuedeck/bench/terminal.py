"""A real `cuedeck` command in a pseudo-terminal, such as the terminal UI. POSIX only."""

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
from typing import Self

COLUMNS, LINES = 120, 40
_LONGEST_START_S = 60.0
_LONGEST_END_S = 10.0
_BYTES_SEARCHED = 200_000


class TerminalProcess:
    """A command of `cuedeck`, or of another module, in a pseudo-terminal. Used with `with`, which kills it.

    What it draws is read and dropped, as it would stop drawing once the pseudo-terminal is full.
    """

    def __init__(self, *arguments: str, module: str = "cuedeck") -> None:
        self.drawn = 0
        """Bytes that it drew."""
        self._first_bytes = b""
        self._terminal, command_end = pty.openpty()
        fcntl.ioctl(command_end, termios.TIOCSWINSZ, struct.pack("HHHH", LINES, COLUMNS, 0, 0))
        environment = {**os.environ, "TERM": "xterm-256color", "COLUMNS": str(COLUMNS), "LINES": str(LINES)}
        command = [sys.executable, "-m", module, *arguments]
        self._process = subprocess.Popen(  # noqa: S603 - this program itself
            command, stdin=command_end, stdout=command_end, stderr=command_end, env=environment, start_new_session=True
        )
        os.close(command_end)
        self._thread = threading.Thread(target=self._read_output, name="terminal", daemon=True)
        self._thread.start()

    @classmethod
    def open(cls, folder: Path) -> Self:
        """Return the terminal UI of a show, as soon as it has drawn a screen."""
        screen = cls("open", str(folder))
        screen.wait_for(b"quit")
        return screen

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()

    @property
    def pid(self) -> int:
        return self._process.pid

    def press(self, keys: bytes) -> None:
        with suppress(OSError):
            os.write(self._terminal, keys)

    def wait_for(self, words: bytes) -> None:
        """Wait until some words were drawn. Raises TimeoutError where they never are."""
        until_s = time.monotonic() + _LONGEST_START_S
        while words not in self._first_bytes:
            if self._process.poll() is not None or time.monotonic() > until_s:
                raise TimeoutError(f"the command of the benchmark did not draw {words!r}")
            time.sleep(0.005)

    def kill(self) -> None:
        """Kill it with SIGKILL; safe to call twice."""
        if self._terminal < 0:
            return
        with suppress(ProcessLookupError):
            self._process.send_signal(signal.SIGKILL)
        self._process.wait(_LONGEST_END_S)
        self._thread.join(1)
        terminal, self._terminal = self._terminal, -1
        os.close(terminal)

    def _read_output(self) -> None:
        with suppress(OSError):  # its end
            while content := os.read(self._terminal, 65_536):
                self.drawn += len(content)
                if len(self._first_bytes) < _BYTES_SEARCHED:
                    self._first_bytes += content
