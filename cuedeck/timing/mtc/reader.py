"""From quarter frames to labels with their times, and the speed at which recorded timecode runs.

Every label is put together from eight pieces in an unbroken row, and comes with the time of its own edge.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from cuedeck.show.frame_rates import SAME_SPEED, TimecodeRate, rate_by_speed
from cuedeck.timing.chase import Arrival, Located, Reading
from cuedeck.timing.mtc.messages import PIECES, FullFrame, MtcMessage, QuarterFrame, label_of

_LONGEST_GAP_S = 0.06
"""Between two pieces of one label: three times as long as a quarter frame of 24 at half speed, and shorter
than the eight that could be lost unseen at full speed."""


class MtcReader:
    """Puts quarter frames together. Of every eight it tells two edges: the label's frame and the one after it."""

    def __init__(self) -> None:
        self._row: list[tuple[float, QuarterFrame]] = []

    def take(self, at_s: float, message: MtcMessage) -> list[Reading]:
        """Take a message that came at a time, and return what is known by it.

        The times of what is returned lie up to two frames back, at the edges that are labelled; a reader who
        takes the label for the present must add the two frames.
        """
        if isinstance(message, FullFrame):
            self._row.clear()
            return [Located(at_s, message.label)]
        if not isinstance(message, QuarterFrame):
            return []
        if self._row and not self._goes_on(at_s, message):
            self._row.clear()
        if self._row or message.piece in (0, PIECES - 1):
            self._row.append((at_s, message))
        if len(self._row) < PIECES:
            return []
        row, self._row = self._row, []
        return _arrivals(row)

    def _goes_on(self, at_s: float, message: QuarterFrame) -> bool:
        step = 1 if self._row[0][1].piece == 0 else -1
        before_s, before = self._row[-1]
        return message.piece == before.piece + step and at_s - before_s <= _LONGEST_GAP_S


def _arrivals(row: list[tuple[float, QuarterFrame]]) -> list[Reading]:
    is_reverse = row[0][1].piece != 0
    frames_low, frames_high, seconds_low, seconds_high, minutes_low, minutes_high, hours_low, last = (
        message.data for _, message in (reversed(row) if is_reverse else row)
    )
    label = label_of(
        last >> 1 & 3,
        (last & 1) << 4 | hours_low,
        minutes_high << 4 | minutes_low,
        seconds_high << 4 | seconds_low,
        frames_high << 4 | frames_low,
    )
    if label is None:
        return []
    edges_s = {message.piece: at_s for at_s, message in row}
    edges: list[Reading] = [Arrival(edges_s[0], label, is_reverse), Arrival(edges_s[4], label + 1, is_reverse)]
    return edges[::-1] if is_reverse else edges


TICK_S = 1 / 960
"""The times of a file are whole ticks: at a usual 480 to a beat, and 120 beats a minute, of about a millisecond."""
SHORTEST_S = TICK_S / SAME_SPEED
"""In less, a tick more or less could be the difference between the two."""


def measured_fps(arrivals: Sequence[Arrival]) -> float:
    """Return frames a second, over those that follow each other; 0 where too few do."""
    steps_s = list(_steps_s(arrivals))
    return len(steps_s) / sum(steps_s) if sum(steps_s) >= SHORTEST_S else 0.0


def rate_of(counted: TimecodeRate, arrivals: Sequence[Arrival]) -> TimecodeRate:
    """Return the rate of labels that count as `counted`, such as 24 or 24000/1001 for 24.

    The two bits of the rate in MTC say only how frames are counted; the times of quarter frames say how long
    they last.
    """
    return counted if counted.is_drop else rate_by_speed(counted.counted, measured_fps(arrivals))


def _steps_s(arrivals: Sequence[Arrival]) -> Iterator[float]:
    for before, after in pairwise(arrivals):
        if after.label.rate == before.label.rate and after.label in (before.label + 1, before.label - 1):
            yield after.at_s - before.at_s
