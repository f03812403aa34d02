"""What became of the packets that an outlet was handed, in numbers: since it exists, or over a stretch of it."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

INCIDENTS_KEPT = 100
"""What was told about the last so many losses; older ones are only counted."""
RATE_OVER_NS = 1_000_000_000
FASTEST_HZ = 1000
"""More packets a second than any line carries: what is kept for the rate has a bound."""


@dataclass(frozen=True)
class Tally:
    """What one outlet did; `tally - earlier` is what it did in between."""

    name: str
    """The output, as the user calls it."""
    sent: int
    """Packets that left. One that is sent again when an output is back does not count twice."""
    missed: int
    """Packets that another took the place of before they left, or that came while the output was lost."""
    times_lost: int
    lost: str
    """Why it is lost, empty while all is well."""
    refresh_hz: float
    """The rate that was reached over about the last second."""
    incidents: tuple[str, ...] = ()
    """What was told when it was lost, the last ones of `times_lost`."""

    def __sub__(self, earlier: Tally) -> Tally:
        """Return what was done since an earlier tally of the same outlet. Raises ValueError for one of another."""
        if earlier.name != self.name:
            raise ValueError(f"a tally of {earlier.name} was to be taken from one of {self.name}")
        times_lost = self.times_lost - earlier.times_lost
        return Tally(
            self.name,
            self.sent - earlier.sent,
            self.missed - earlier.missed,
            times_lost,
            self.lost,
            self.refresh_hz,
            self.incidents[-times_lost:] if times_lost else (),
        )


def keep_time(left_ns: deque[int], now_ns: int) -> None:
    """Keep that a packet has just left, and forget what is too old for the rate."""
    left_ns.append(now_ns)
    while left_ns[0] <= now_ns - RATE_OVER_NS:
        left_ns.popleft()


def rate_hz(left_ns: Sequence[int], now_ns: int) -> float:
    """Return how often packets left over the last second, from when they did, in order.

    A pause that is longer than one between packets counts, so that the rate of a line that stands still falls.
    """
    recent = [at_ns for at_ns in left_ns if at_ns > now_ns - RATE_OVER_NS]
    periods = len(recent) - 1
    if periods < 1:
        return 0.0
    lasted_ns = recent[-1] - recent[0]
    pause_over_ns = now_ns - recent[-1] - lasted_ns / periods
    lasted_ns += max(0, round(pause_over_ns))
    return periods * 1e9 / lasted_ns if lasted_ns else 0.0
