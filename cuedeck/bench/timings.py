"""How times are spread: the middle, the tails and the worst, and how busy the machine was meanwhile."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Self

import numpy as np

HEADING = f"{'':26}{'median':>10}{'p99':>10}{'p99.9':>10}{'worst':>10}  ms"


@dataclass(frozen=True)
class Spread:
    """Some times, in nanoseconds. A share of them is never between two of them, but the longer one."""

    count: int
    median_ns: int
    p99_ns: int
    p999_ns: int
    worst_ns: int

    @classmethod
    def of(cls, times_ns: Sequence[int]) -> Self:
        """Return how times are spread; all are 0 where there are none."""
        if not times_ns:
            return cls(0, 0, 0, 0, 0)
        shares = np.percentile(times_ns, (50, 99, 99.9, 100), method="higher")
        return cls(len(times_ns), *(int(share) for share in shares))

    def line(self, name: str) -> str:
        """Return the times as a line under `HEADING`."""
        times = (self.median_ns, self.p99_ns, self.p999_ns, self.worst_ns)
        return f"  {name:24}" + "".join(f"{time / 1e6:10.4f}" for time in times)


def ratio(ours: float, peers: float) -> str:
    """Return how many times as much ours is, in words."""
    return f"{ours / peers:.2f} times" if peers > 0 else "no ratio"


def stolen_s() -> float:
    """Return for how long the host of a virtual machine has kept its processors waiting since it started; else 0."""
    if sys.platform != "linux":
        return 0.0
    ticks = Path("/proc/stat").read_text(encoding="ascii").split()
    return int(ticks[8]) / os.sysconf("SC_CLK_TCK")


def load_words() -> str:
    """Return how many programs wanted to run over the last minute, and how many can at a time."""
    processors = os.cpu_count() or 1
    if not hasattr(os, "getloadavg"):
        return f"{processors} processors"
    return f"load {os.getloadavg()[0]:.1f} on {processors} processors"
