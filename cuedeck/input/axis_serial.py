"""A rig that writes its positions on a serial line, one `NAME VALUE` a line. Other lines are counted and ignored."""

from __future__ import annotations

from collections.abc import Callable

from cuedeck.clock import Clock
from cuedeck.input.axis import AxisFollower, parse_reading
from cuedeck.input.base import InputUnusable
from cuedeck.input.serial_input import SerialInput
from cuedeck.ports import opening_failures, reason
from cuedeck.show.spelling import as_one

BAUD = 115_200
LONGEST_LINE = 200
"""Bytes without a line end after which what came is taken for noise."""
READ_S = 0.05


class AxisSerialPort(SerialInput):
    """The positions on one serial port. While it is lost, the cues that wait for positions go on waiting."""

    thread_name = "axis"
    lost_message = "the axis on {port} was lost"
    back_message = "the axis on {port} is back"

    def __init__(self, port: str, baud: int, follower: AxisFollower, clock: Clock, tell: Callable[[str], None]) -> None:
        super().__init__(port, clock, tell)
        self.taken = 0
        """Lines that named an axis which a cue is tied to."""
        self.ignored = 0
        """Lines of another form, or of another axis."""
        self._baud = baud
        self._follower = follower
        self._unfinished_line = b""

    def __str__(self) -> str:
        return f"{self.taken} positions from serial:{self.port}" + (
            f"; {self.ignored} lines ignored: no NAME VALUE, or an axis that no cue is tied to" if self.ignored else ""
        )

    def open(self) -> None:
        """Open the port. Raises InputUnusable."""
        import serial

        self._unfinished_line = b""
        try:
            self._serial = serial.serial_for_url(self.port, baudrate=self._baud, timeout=READ_S)
        except opening_failures() as error:
            raise InputUnusable(f"the axis on {self.port} cannot be followed: {reason(error)}") from error

    def _poll(self) -> None:
        """Read what has come, for at most `READ_S`, and follow it."""
        content = self._serial.read(max(1, self._serial.in_waiting))
        *lines, self._unfinished_line = (self._unfinished_line + content).replace(b"\r", b"\n").split(b"\n")
        for line in lines:
            if line.strip():
                self._follow(line)
        if len(self._unfinished_line) > LONGEST_LINE:
            self.ignored += 1
            self._unfinished_line = b""

    def _follow(self, line: bytes) -> None:
        reading = parse_reading(as_one(line.decode("utf-8", "replace"))) if len(line) <= LONGEST_LINE else None
        try:
            is_taken = reading is not None and self._follower.moved(*reading)
        except ValueError:
            is_taken = False
        self.taken += is_taken
        self.ignored += not is_taken
