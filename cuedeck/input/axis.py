"""Follows the positions that a rig reports through one take, by whatever input, and reads them from a serial port.

Passes count from the start of the take, as those of a move on file do. Before that, only the last position of each
axis is kept: where it stands when the take starts. A position that an axis cannot have reached is not believed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence

from cuedeck.clock import Clock
from cuedeck.input.base import InputUnusable, RunningTake
from cuedeck.input.serial_input import SerialInput
from cuedeck.ports import opening_failures, reason
from cuedeck.show.model import Cue
from cuedeck.show.problems import counted
from cuedeck.show.spelling import as_one
from cuedeck.timing.live_axis import HYSTERESIS, LiveAxes
from cuedeck.timing.outliers import OutlierFilter, greatest_speeds

MOST_POSITION = 1e9
BAUD = 115_200
LONGEST_LINE = 200
"""Bytes without a line end after which what came is taken for noise."""
READ_S = 0.05
_READING = re.compile(
    r"\s*(?P<axis>\S(?:.*\S)?)\s+(?P<value>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*", re.ASCII
)


class AxisFollower:
    """Fires the cues of a shot that are tied to positions, as the axes pass them. Not thread-safe."""

    def __init__(
        self,
        cues: Sequence[Cue],
        take: RunningTake,
        clock: Clock,
        tell: Callable[[str], None],
        *,
        greatest: Mapping[str, float] | None = None,
        hysteresis: float = HYSTERESIS,
    ) -> None:
        """`greatest` has the top speed of each axis in mm/s or deg/s; left out, those of a shot without a move."""
        speeds = greatest_speeds(cues, None, False, {}) if greatest is None else greatest
        self._take = take
        self._clock = clock
        self._tell = tell
        self._axes = LiveAxes(cues, hysteresis)
        self._filters = {axis: OutlierFilter(speeds[axis]) for axis in self._axes.axes}
        self._standing: dict[str, float] = {}
        self._has_started = False

    def moved(self, axis: str, position: float) -> bool:
        """Take the position of an axis, in mm or deg; return whether a cue is tied to that axis.

        Raises ValueError where the position is no finite number within reach.
        """
        if not abs(position) <= MOST_POSITION:
            raise ValueError(f"{position} is no position")
        if axis not in self._axes.axes:
            return False
        positions = self._believe(axis, position)
        if not self._take.is_rolling:
            self._standing |= {axis: positions[-1]} if positions else {}
            return True
        if not self._has_started:
            self._has_started = True
            for name, standing in self._standing.items():
                self._axes.moved(name, standing)
        for one in positions:
            for cue in self._axes.moved(axis, one):
                self._take.fire(cue)
        return True

    def lines(self) -> Iterator[str]:
        """Yield a line for each axis with positions that were not believed: how many, and the worst."""
        for axis, one in self._filters.items():
            wrong = one.rejected
            if wrong.count:
                yield (
                    f"{counted(wrong.count, 'position')} of {axis} not believed, the worst {wrong.position:g}: that is"
                    f" {wrong.speed:.0f} a second, and it goes {one.greatest_speed:.0f} at most (see 'top speed')"
                )

    def _believe(self, axis: str, position: float) -> list[float]:
        """Return the positions that are believed by now; the first one that is not is reported."""
        one = self._filters[axis]
        has_told = one.rejected.count > 0
        positions = one.take(self._clock.now_ns() / 1e9, position)
        if one.rejected.count and not has_told:
            wrong = one.rejected
            self._tell(f"{axis} is said to be at {wrong.position:g}, which it cannot have reached: not believed")
        return positions


def parse_reading(line: str) -> tuple[str, float] | None:
    """Return the axis and the position of a line such as "slide 60.25", or None where it is none."""
    match = _READING.fullmatch(line)
    if match is None or not math.isfinite(value := float(match["value"])):
        return None
    return match["axis"], value


class AxisSerialPort(SerialInput):
    """A rig that writes its positions on a serial port, one `NAME VALUE` a line. Other lines are counted and ignored.

    While the port is lost, the cues that wait for positions go on waiting.
    """

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
