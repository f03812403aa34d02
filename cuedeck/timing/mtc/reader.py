"""From quarter frames to labels with their times.

No label is told that was not put together from eight pieces in an unbroken row, and none is told late: each
comes with the time of its own edge.
"""

from __future__ import annotations

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
