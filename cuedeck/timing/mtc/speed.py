"""How fast recorded MIDI timecode runs, and so whether what it counts as 24 is 24 or 24000/1001.

The two bits of its rate say only how frames are counted; the times of its quarter frames say how long they last.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from cuedeck.show.frame_rates import SAME_SPEED, TimecodeRate, rate_by_speed
from cuedeck.timing.chase import Arrival

TICK_S = 1 / 960
"""The times of a file are whole ticks: at a usual 480 to a beat, and 120 beats a minute, of about a millisecond."""
SHORTEST_S = TICK_S / SAME_SPEED
"""In less, a tick more or less could be the difference between the two."""


def measured_fps(arrivals: Sequence[Arrival]) -> float:
    """Return frames a second, over those that follow each other; 0 where too few do."""
    steps_s = list(_steps_s(arrivals))
    return len(steps_s) / sum(steps_s) if sum(steps_s) >= SHORTEST_S else 0.0


def rate_of(counted: TimecodeRate, arrivals: Sequence[Arrival]) -> TimecodeRate:
    """Return the rate of labels that are counted at a rate, as far as their times tell it."""
    return counted if counted.is_drop else rate_by_speed(counted.counted, measured_fps(arrivals))


def _steps_s(arrivals: Sequence[Arrival]) -> Iterator[float]:
    for before, after in pairwise(arrivals):
        if after.label.rate == before.label.rate and after.label in (before.label + 1, before.label - 1):
            yield after.at_s - before.at_s
