"""Clocks: time that can be read and waited on. Everything that needs one is handed it."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import partial
from typing import Protocol

_MOST_SPIN_NS, _LEAST_SPIN_NS = 500_000, 100_000
"""How long before a deadline to stop sleeping: a sleep ends up to 0.2 ms late, a spin does not."""
_SPIN_SHRINKS = 64
"""By which part of it the spin gets shorter with each wait, so that one late sleep counts for some seconds."""
if sys.platform == "linux":
    now_ns: Callable[[], int] = partial(time.clock_gettime_ns, time.CLOCK_BOOTTIME)
else:
    now_ns = time.perf_counter_ns
"""Monotonic time that goes on while the machine is asleep, as cameras and rigs do; on macOS it stands still then."""


class Clock(Protocol):
    """Monotonic time in nanoseconds from an origin of its own."""

    def now_ns(self) -> int:
        """Return the time."""

    def wait_until_ns(self, deadline_ns: int) -> None:
        """Return at the deadline, or at once where it has passed."""

    def spin_ns(self, duration_ns: int) -> None:
        """Return no sooner than after a short duration, without giving the processor away."""


class MonotonicClock:
    """The machine's clock: sleeps until shortly before a deadline, then spins."""

    def __init__(self) -> None:
        self._spin_ns = _MOST_SPIN_NS
        """A little more than sleeps were late in the last seconds. Threads may share it: any value they leave does."""

    def now_ns(self) -> int:
        """Return the time."""
        return now_ns()

    def wait_until_ns(self, deadline_ns: int) -> None:
        """Return at the deadline, or at once where it has passed."""
        wakes_ns = deadline_ns - self._spin_ns
        left_ns = wakes_ns - now_ns()
        if left_ns > 0:
            time.sleep(left_ns / 1e9)
            late_ns = now_ns() - wakes_ns  # what keeps others from waking, such as the interpreter's lock, is in it
            shrunk_ns = self._spin_ns - self._spin_ns // _SPIN_SHRINKS
            self._spin_ns = min(max(late_ns + late_ns // 4, shrunk_ns, _LEAST_SPIN_NS), _MOST_SPIN_NS)
        while now_ns() < deadline_ns:
            pass

    def spin_ns(self, duration_ns: int) -> None:
        """Return no sooner than after a short duration, without giving the processor away."""
        until_ns = now_ns() + duration_ns
        while now_ns() < until_ns:
            pass


class ManualClock:
    """A clock that moves only when it is waited on or moved: hours of a take in no time."""

    def __init__(self, start_ns: int = 0) -> None:
        self._now_ns = start_ns

    def now_ns(self) -> int:
        """Return the time."""
        return self._now_ns

    def wait_until_ns(self, deadline_ns: int) -> None:
        """Move on to the deadline."""
        self._now_ns = max(self._now_ns, deadline_ns)

    def spin_ns(self, duration_ns: int) -> None:
        """Move on by a duration."""
        self._now_ns += duration_ns
