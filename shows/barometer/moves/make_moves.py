"""Write the demo's moves beside this file, as a rig would record them: uneven steps, a little noise.

The same files come out on every run.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from random import Random

STEP_S = 0.020
JITTER_S = 0.004
"""How far a sample may be off its time; under half a step, so that times keep increasing."""

Leg = tuple[float, float]
"""Seconds, and where the axis is at their end. A leg that ends where it began is a dwell."""


def minimum_jerk(share: float) -> float:
    """Return how far a move has come, 0 to 1, at a share of its time."""
    return share**3 * (10 - 15 * share + 6 * share**2)


def position(start: float, legs: Sequence[Leg], time_s: float) -> float:
    """Return where the axis is meant to be at a time."""
    for duration_s, end in legs:
        if time_s < duration_s:
            return start + (end - start) * minimum_jerk(time_s / duration_s)
        time_s -= duration_s
        start = end
    return start


def record(name: str, axis: str, start: float, legs: Sequence[Leg], noise: float) -> None:
    """Write one move, sampled from its start to its end."""
    random = Random(name)  # noqa: S311 - noise that repeats, no secret
    end_s = sum(duration_s for duration_s, _ in legs)
    between = [n * STEP_S + random.uniform(-JITTER_S, JITTER_S) for n in range(1, round(end_s / STEP_S))]
    lines = [f"time s,{axis}"]
    for time_s in (0.0, *between, end_s):
        measured = position(start, legs, time_s) + random.gauss(0, noise)
        lines.append(f"{time_s:.3f},{measured:.3f}")
    (Path(__file__).parent / name).write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    record("slide-in.csv", "slide mm", 0, [(8.0, 340)], noise=0.02)
    record("rim-arc.csv", "arm deg", -60, [(6.0, 60)], noise=0.01)
    record("long-table.csv", "table mm", 0, [(3.2, 400), (1.2, 400), (3.2, 800), (1.2, 800), (3.2, 1200)], noise=0.02)
