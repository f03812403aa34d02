"""The straight line through the latest labels of a timecode: where it is, and how fast it runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Point:
    """A label that came."""

    at_s: float
    frame: int
    """From the origin, not wrapped at a day."""


@dataclass(frozen=True)
class FittedLine:
    """Where the position is while it runs."""

    at_s: float
    frame: float
    frames_per_second: float

    def frame_at(self, time_s: float) -> float:
        """Return where it is at a time, in frames from the origin."""
        return self.frame + self.frames_per_second * (time_s - self.at_s)


def line_through(points: Sequence[Point], direction: int, fastest: float) -> FittedLine:
    """Return the line of least squares through two points or more, its speed from 0 to the fastest."""
    last = points[-1]
    # Seen from the last point, so that the sums stay small and exact.
    times_s = [point.at_s - last.at_s for point in points]
    frames = [float(point.frame - last.frame) for point in points]
    mean_s, mean_frame = sum(times_s) / len(points), sum(frames) / len(points)
    spread = sum((time_s - mean_s) ** 2 for time_s in times_s)
    together = sum((time_s - mean_s) * frame for time_s, frame in zip(times_s, frames, strict=True))
    speed = direction * min(max(direction * together / spread, 0.0), fastest)
    return FittedLine(last.at_s, last.frame + mean_frame - speed * mean_s, speed)
