"""Clocks: time that can be read and waited on. Whatever needs a clock gets it as an argument."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import partial
from typing import Protocol

_SPIN_NS = 500_000
"""How long before a deadline to stop sleeping: a sleep ends up to 0.2 ms late, a spin does not.

With a tenth to a quarter of a millisecond, measured on a busy machine, single packets were late by 2 to 17 ms.
"""
if sys.platform == "linux":
    now_ns: Callable[[], int] = partial(time.clock_gettime_ns, time.CLOCK_BOOTTIME)
else:
    now_ns = time.perf_counter_ns
"""Monotonic time. It goes on while the machine is asleep, as cameras and rigs do, but not on macOS."""


class Clock(Protocol):
    """Monotonic time in nanoseconds from an origin of its own."""

    def now_ns(self) -> int:
        """Return the time."""

    def wait_until_ns(self, deadline_ns: int) -> None:
        """Return at the deadline, or at once where it has passed."""

    def spin_ns(self, duration_ns: int) -> None:
        """Return no sooner than after a short duration, without giving the processor away."""


class MonotonicClock:
    """The machine's clock: sleeps to within half a millisecond of a deadline, then spins."""

    def now_ns(self) -> int:
        return now_ns()

    def wait_until_ns(self, deadline_ns: int) -> None:
        left_ns = deadline_ns - now_ns()
        if left_ns > _SPIN_NS:
            time.sleep((left_ns - _SPIN_NS) / 1e9)
        while now_ns() < deadline_ns:
            pass

    def spin_ns(self, duration_ns: int) -> None:
        # A break of 100 us must not become one of milliseconds, which a sleep may: the scheduler wakes when it likes.
        until_ns = now_ns() + duration_ns
        while now_ns() < until_ns:
            pass


class ManualClock:
    """A clock that moves only when it is waited on or moved: hours of a take in no time."""

    def __init__(self, start_ns: int = 0) -> None:
        self._now_ns = start_ns

    def now_ns(self) -> int:
        return self._now_ns

    def wait_until_ns(self, deadline_ns: int) -> None:
        """Move on to the deadline; like any clock, never back."""
        self._now_ns = max(self._now_ns, deadline_ns)

    def spin_ns(self, duration_ns: int) -> None:
        self._now_ns += duration_ns
