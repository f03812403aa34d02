"""A rig that tells where its axes are, followed through one take.

Passes count from the start of the take, as those of a move on file do. Before it, only the last position
of each axis is kept: where it stands when the take starts.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from cuedeck.input.base import RunningTake
from cuedeck.show.model import Cue
from cuedeck.timing.live_axis import HYSTERESIS, LiveAxes

MOST_POSITION = 1e9
_READING = re.compile(
    r"\s*(?P<axis>\S(?:.*\S)?)\s+(?P<value>[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*", re.ASCII
)


class AxisFollower:
    """Fires the cues of a shot that are tied to positions, as their axes pass them. Called from one thread."""

    def __init__(self, cues: Sequence[Cue], take: RunningTake, hysteresis: float = HYSTERESIS) -> None:
        self._cues = cues
        self._take = take
        self._hysteresis = hysteresis
        self._axes = LiveAxes(cues, hysteresis)
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
        if not self._take.is_rolling:
            self._standing[axis] = position
            return True
        if not self._has_started:
            self._has_started = True
            for name, standing in self._standing.items():
                self._axes.moved(name, standing)
        for cue in self._axes.moved(axis, position):
            self._take.fire(cue)
        return True


def parse_reading(line: str) -> tuple[str, float] | None:
    """Return the axis and the position of a line such as "slide 60.25", or None where it is none."""
    match = _READING.fullmatch(line)
    if match is None or not math.isfinite(value := float(match["value"])):
        return None
    return match["axis"], value
