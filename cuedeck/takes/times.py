"""When the packets of a take were due, and when they left: when the sending of each began."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple, Self

import numpy as np
import numpy.typing as npt

from cuedeck.arrays import Numbers


class PacketTimes(NamedTuple):
    """Due and real times of packets, (packets,) each, in nanoseconds of one clock."""

    due_ns: Numbers
    sent_ns: Numbers

    @property
    def late_ns(self) -> list[int]:
        return [int(late) for late in self.sent_ns - self.due_ns]

    def from_first_due(self) -> Self:
        """Return the same times, counted from when the first packet was due."""
        start_ns = self.due_ns[:1].sum()
        return self._replace(due_ns=self.due_ns - start_ns, sent_ns=self.sent_ns - start_ns)


LEAST_STANDSTILL_NS = 100_000_000
"""From here on it is no busy moment any more: two and a half frames of 25 (from practice, no source)."""


class Standstill(NamedTuple):
    """A stretch of a take in which nothing left, as the machine or the player stood still."""

    before: int
    """How many packets had left before it."""
    first: int
    """The first packet that was missed, counted from the first that left, and the last one."""
    last: int
    lasted_s: float
    """From when the first of them was due to when a packet left again, or the take was over."""

    def __str__(self) -> str:
        return f"for {self.lasted_s:.1f} s, packets {self.first}-{self.last} were missed"


def standstills(times: PacketTimes, refresh_hz: Fraction) -> Iterator[Standstill]:
    """Yield where a take stood still, from the times of the packets that left.

    One that lasted to the end of the take is not among them: no packet of it left after that.
    """
    numbers = np.rint(times.from_first_due().due_ns * (float(refresh_hz) / 1e9)).astype(np.int64)
    for at in np.flatnonzero(np.diff(numbers) > 1).tolist():
        first, last = int(numbers[at]) + 1, int(numbers[at + 1]) - 1
        first_due_ns = int(times.due_ns[at + 1]) - int((last + 1 - first) * 1_000_000_000 / refresh_hz)
        lasted_ns = int(times.sent_ns[at + 1]) - first_due_ns
        if lasted_ns >= LEAST_STANDSTILL_NS:
            yield Standstill(at + 1, first, last, lasted_ns / 1e9)


def to_blob(numbers: npt.ArrayLike) -> bytes:
    """Return whole numbers as they stand in the file of takes: 64 bits each, the lowest byte first."""
    return np.asarray(numbers, dtype="<i8").tobytes()


def from_blob(blob: bytes) -> Numbers:
    return np.frombuffer(blob, dtype="<i8").astype(np.int64)
