"""A rig that writes its positions on a serial line, one `NAME VALUE` a line.

What is no such line is counted and ignored. A port that is lost is told once and tried again every
second; the take goes on, with the cues that wait for positions waiting.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

from cuedeck.clock import Clock
from cuedeck.input.axis import AxisFollower, parse_reading
from cuedeck.input.base import RETRY_NS, InputLost, started
from cuedeck.ports import failures, opening_failures, reason
from cuedeck.show.spelling import as_one

BAUD = 115_200
LONGEST_LINE = 200
"""Bytes without a line end after which what came is taken for noise."""
READ_S = 0.05


class AxisLine:
    """Reads positions from one port on a thread of its own. Used as `with AxisLine(...):`."""

    def __init__(self, port: str, baud: int, follower: AxisFollower, clock: Clock, tell: Callable[[str], None]) -> None:
        self.port = port
        """The port, or a URL that pyserial opens."""
        self.taken = 0
        """Lines that named an axis which a cue is tied to."""
        self.ignored = 0
        """Lines that were none, or named another axis."""
        self._baud = baud
        self._follower = follower
        self._clock = clock
        self._tell = tell
        self._rest = b""
        self._serial: Any = None
        self._lost_ns = 0
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def __enter__(self) -> Self:
        """Open the port and start reading. Raises InputLost."""
        self.open()
        self._thread = started(threading.Thread(target=self._listen, name="axis", daemon=True), self.close)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self.close()

    def __str__(self) -> str:
        return f"{self.taken} positions from serial:{self.port}" + (
            f"; {self.ignored} lines ignored: no NAME VALUE, or an axis that no cue is tied to" if self.ignored else ""
        )

    def open(self) -> None:
        """Open the port. Raises InputLost."""
        import serial

        try:
            self._serial = serial.serial_for_url(self.port, baudrate=self._baud, timeout=READ_S)
        except opening_failures() as error:
            raise InputLost(f"the axis on {self.port} cannot be followed: {reason(error)}") from error

    def poll(self) -> None:
        """Read what has come, for at most `READ_S`, and follow it."""
        if self._serial is None:
            self._try_again()
            return
        try:
            self._take(self._serial.read(max(1, self._serial.in_waiting)))
        except failures() as error:
            self._let_go()
            self._lost_ns = self._clock.now_ns()
            self._tell(f"the axis on {self.port} was lost: {reason(error)}; it is tried again every second")

    def close(self) -> None:
        """Stop reading and close the port; safe to call twice."""
        self._stop.set()
        thread, self._thread = self._thread, None
        if thread is not None:
            thread.join()
        self._let_go()

    def _listen(self) -> None:
        while not self._stop.is_set():
            self.poll()
            if self._serial is None:
                self._stop.wait(READ_S)

    def _take(self, content: bytes) -> None:
        *lines, self._rest = (self._rest + content).replace(b"\r", b"\n").split(b"\n")
        for line in lines:
            if line.strip():
                self._follow(line)
        if len(self._rest) > LONGEST_LINE:
            self.ignored += 1
            self._rest = b""

    def _follow(self, line: bytes) -> None:
        reading = parse_reading(as_one(line.decode("utf-8", "replace"))) if len(line) <= LONGEST_LINE else None
        try:
            is_taken = reading is not None and self._follower.moved(*reading)
        except ValueError:
            is_taken = False
        self.taken += is_taken
        self.ignored += not is_taken

    def _try_again(self) -> None:
        now_ns = self._clock.now_ns()
        if now_ns - self._lost_ns < RETRY_NS:
            return
        self._lost_ns, self._rest = now_ns, b""
        try:
            self.open()
        except InputLost:
            return
        self._tell(f"the axis on {self.port} is back")

    def _let_go(self) -> None:
        port, self._serial = self._serial, None
        if port is not None:
            port.close()
