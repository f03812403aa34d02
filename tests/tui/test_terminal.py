"""The real program in a real terminal."""

from __future__ import annotations

import fcntl
import os
import pty
import struct
import subprocess
import sys
import termios
from pathlib import Path

DEMO = Path(__file__).parents[2] / "shows" / "barometer"


def read_until(terminal: int, wanted: bytes) -> bytes:
    """Return what the program drew until it drew `wanted`; it ends the terminal where it never does."""
    drawn = b""
    while wanted not in drawn:
        drawn += os.read(terminal, 65536)
    return drawn


def test_open_draws_the_shot_in_a_terminal_of_80_by_24_runs_it_and_leaves_it_as_it_was() -> None:
    near, far = pty.openpty()
    fcntl.ioctl(far, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    before = termios.tcgetattr(far)
    environment = {**os.environ, "TERM": "xterm-256color", "COLUMNS": "80", "LINES": "24"}
    with subprocess.Popen(
        [sys.executable, "-m", "cuedeck", "open", str(DEMO)], stdin=far, stdout=far, stderr=far, env=environment
    ) as process:
        assert b"dial reveal" in read_until(near, b"quit")
        os.write(near, b" ")
        read_until(near, b"runs")
        os.write(near, b"2")
        read_until(near, b"line along the rim")
        os.write(near, b"q")
        rest = read_until(near, b"\x1b[?1049l")  # back from the second screen of the terminal
        process.wait(timeout=60)
    assert process.returncode == 0
    assert b"Traceback" not in rest
    assert termios.tcgetattr(far)[3] == before[3]
    os.close(near)
    os.close(far)
