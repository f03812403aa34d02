"""A filter for positions of a live axis: it passes those that the axis can have reached at its greatest speed.

One sample that lies further off is a fault of the line or of the encoder, and would pass every position between
here and there. It waits for those that follow: where the next one goes on from the place before, it was wrong;
where some in a row agree with each other, the axis is there, and all of them count. So no sample that stands alone
is believed, and no travel, however fast, is locked out for longer than a few samples.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from cuedeck.show.model import Cue
from cuedeck.show.triggers import AtPosition
from cuedeck.show.units import Angle, Length
from cuedeck.timing.moves import Move
from cuedeck.timing.survey import survey

MARGIN = 2
"""How many times as fast as in its move an axis may go. It also covers samples that come late by up to `JITTER_S`."""
JITTER_S = 0.05
"""How late a sample may come: those of a serial line are read in bunches."""
TREMBLE = 0.5
"""In millimetres or degrees; a step of that is no travel."""
UNKNOWN_SPEED: Mapping[type[Length | Angle], float] = {Length: 1000.0, Angle: 360.0}
"""In mm/s or deg/s, for an axis of no known speed: our own bound, over what a slider is pushed by hand."""
AGREEING = 3
"""Samples in a row that are believed against the place before."""
_FASTER = 4
"""How many times the greatest speed samples may have between them that agree with each other against it."""

Sample = tuple[float, float]
"""A time in seconds and a position."""


@dataclass
class RejectedSamples:
    """Samples that the axis cannot have had: how many, and the worst."""

    count: int = 0
    position: float = 0.0
    """Of the worst."""
    speed: float = 0.0
    """That the axis would have needed to come to the worst, in mm/s or deg/s."""

    def add(self, position: float, speed: float) -> None:
        self.count += 1
        if speed > self.speed:
            self.position, self.speed = position, speed


def greatest_speeds(
    cues: Iterable[Cue], move: Move | None, is_recorded: bool, stated: Mapping[str, Length | Angle]
) -> dict[str, float]:
    """Return the greatest speed of each axis that a cue is tied to: as stated, else by its move, else a high one."""
    speeds = {axis: float(speed) for axis, speed in stated.items()}
    surveyed = () if move is None else survey(move, is_recorded).axes
    peaks = {one.axis.name: one.peak_speed.value for one in surveyed}
    for cue in cues:
        if isinstance(cue.trigger, AtPosition):
            by_move = MARGIN * peaks.get(cue.trigger.axis, 0.0)
            speeds.setdefault(cue.trigger.axis, by_move or UNKNOWN_SPEED[type(cue.trigger.position)])
    return speeds


class OutlierFilter:
    """Passes on the positions of one axis that it can have reached, and rejects the others."""

    def __init__(self, greatest_speed: float) -> None:
        self.greatest_speed = greatest_speed
        """In mm/s or deg/s."""
        self.rejected = RejectedSamples()
        self._believed: Sample | None = None
        self._doubtful: list[Sample] = []
        """Those since the last one that was believed."""

    def take(self, at_s: float, position: float) -> list[float]:
        """Take a position; return what is believed now, in order: it alone, with those it bears out, or nothing."""
        sample = at_s, position
        if self._believed is None:
            return self._take_first(sample)
        if self._is_near(self._believed, sample):
            self._reject_doubtful()
            return self._believe([sample])
        if self._doubtful and not self._is_near(self._doubtful[-1], sample, _FASTER):
            self._reject_doubtful()
        self._doubtful.append(sample)
        return self._believe(self._doubtful) if len(self._doubtful) == AGREEING else []

    def _take_first(self, sample: Sample) -> list[float]:
        """Take one before any was believed: two that agree are, whatever came between them."""
        pairs = (before for before in reversed(self._doubtful) if self._is_near(before, sample))
        before = next(pairs, None)
        if before is None:
            self._doubtful = [*self._doubtful, sample][-AGREEING:]
            return []
        return self._believe([before, sample])

    def _is_near(self, before: Sample, after: Sample, times: int = 1) -> bool:
        return abs(after[1] - before[1]) <= self._reach(before, after, times)

    def _reach(self, before: Sample, after: Sample, times: int = 1) -> float:
        return TREMBLE + times * self.greatest_speed * max(after[0] - before[0], JITTER_S)

    def _reject_doubtful(self) -> None:
        for at_s, position in self._doubtful:
            if self._believed is not None:
                before_s, before = self._believed
                self.rejected.add(position, abs(position - before) / max(at_s - before_s, JITTER_S))
        self._doubtful = []

    def _believe(self, samples: list[Sample]) -> list[float]:
        self._believed, self._doubtful = samples[-1], []
        return [position for _, position in samples]
