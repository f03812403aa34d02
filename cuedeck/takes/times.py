"""When the packets of a take were due, and when they left: when the sending of each began."""

from __future__ import annotations

from typing import NamedTuple, Self

import numpy as np
import numpy.typing as npt

Nanoseconds = npt.NDArray[np.int64]


class PacketTimes(NamedTuple):
    """Due and real times of packets, (packets,) each, in nanoseconds of one clock."""

    due_ns: Nanoseconds
    sent_ns: Nanoseconds

    @property
    def late_ns(self) -> list[int]:
        """How late each packet left."""
        return [int(late) for late in self.sent_ns - self.due_ns]

    def from_first_due(self) -> Self:
        """Return the same times, counted from when the first packet was due."""
        start_ns = self.due_ns[:1].sum()
        return self._replace(due_ns=self.due_ns - start_ns, sent_ns=self.sent_ns - start_ns)


def to_blob(numbers: npt.ArrayLike) -> bytes:
    """Return whole numbers as they stand in the file of takes: 64 bits each, the lowest byte first."""
    return np.asarray(numbers, dtype="<i8").tobytes()


def from_blob(blob: bytes) -> npt.NDArray[np.int64]:
    """Return the whole numbers of a blob."""
    return np.frombuffer(blob, dtype="<i8").astype(np.int64)
