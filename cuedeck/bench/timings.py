"""Times that were measured: medians, percentiles, processor time, and how busy the machine was meanwhile."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Self

import numpy as np

HEADING = f"{'':26}{'median':>10}{'p99':>10}{'p99.9':>10}{'worst':>10}  ms"


@dataclass(frozen=True)
class Percentiles:
    """Percentiles of some times. Each is one of these times: between two of them it is the longer one."""

    count: int
    median_ns: int
    p99_ns: int
    p999_ns: int
    worst_ns: int

    @classmethod
    def of(cls, times_ns: Sequence[int]) -> Self:
        """Return the percentiles of times in nanoseconds; all are 0 where there are no times."""
        if not times_ns:
            return cls(0, 0, 0, 0, 0)
        values = np.percentile(times_ns, (50, 99, 99.9, 100), method="higher")
        return cls(len(times_ns), *map(int, values))

    def line(self, name: str) -> str:
        """Return the times as a line under `HEADING`."""
        times = (self.median_ns, self.p99_ns, self.p999_ns, self.worst_ns)
        return f"  {name:24}" + "".join(f"{time / 1e6:10.4f}" for time in times)


def median_s(work: Callable[[], object], repeats: int, clock: Callable[[], float] = time.perf_counter) -> float:
    """Return the median time of a piece of work. On `time.process_time` other programs do not lengthen it."""
    times_s = []
    for _ in range(repeats):
        start_s = clock()
        work()
        times_s.append(clock() - start_s)
    return median(times_s)


def processor_s(pid: int) -> float | None:
    """Return the processor time that a process has used, with the system's part; None where there is no /proc."""
    try:
        status = Path(f"/proc/{pid}/stat").read_text(encoding="ascii", errors="replace")
    except OSError:
        return None
    fields = status.rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def ratio(ours: float, peers: float) -> str:
    """Return how many times the peer's figure ours is, in words."""
    return f"{ours / peers:.2f} times" if peers > 0 else "no ratio"


def stolen_time_s() -> float:
    """Return how long the host of a virtual machine kept its processors waiting since it started; elsewhere 0."""
    if sys.platform != "linux":
        return 0.0
    ticks = Path("/proc/stat").read_text(encoding="ascii").split()
    return int(ticks[8]) / os.sysconf("SC_CLK_TCK")


def machine_load() -> str:
    """Return how many programs wanted to run over the last minute, and how many can at a time."""
    processors = os.cpu_count() or 1
    if not hasattr(os, "getloadavg"):
        return f"{processors} processors"
    return f"load {os.getloadavg()[0]:.1f} on {processors} processors"
