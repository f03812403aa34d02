"""A recording that is played back as a source: it starts with the take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cuedeck.input.timecode import RecordedTimecode
from cuedeck.timing.chase import Reading


class Playback:
    """Tells the readings of a recording as the clock reaches them."""

    def __init__(self, recorded: RecordedTimecode) -> None:
        self._recorded = recorded
        self._start_s: float | None = None
        self._told = 0

    @property
    def name(self) -> str:
        """What the user calls it."""
        return self._recorded.name

    def open(self) -> None:
        """Do nothing: it is read already."""

    def arrived(self, time_s: float) -> Sequence[Reading]:
        """Return the readings that the time has reached and that were not told yet; the first call starts it."""
        start_s = self._start_s = time_s if self._start_s is None else self._start_s
        first, readings = self._told, self._recorded.readings
        while self._told < len(readings) and start_s + readings[self._told].at_s <= time_s:
            self._told += 1
        return [replace(one, at_s=start_s + one.at_s) for one in readings[first : self._told]]

    def is_over(self, time_s: float) -> bool:
        """Whether the recording has ended."""
        return self._start_s is not None and time_s - self._start_s > self._recorded.length_s

    def close(self) -> None:
        """Leave it where it is."""
