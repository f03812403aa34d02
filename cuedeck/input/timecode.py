"""What a source of timecode is, and a recording that is played back as one."""

from __future__ import annotations

import queue
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from cuedeck.timing.chase import Reading


@dataclass(frozen=True)
class TimecodeRecording:
    """The timecode of a whole recording, with times in seconds from its start."""

    name: str
    """What the user calls it."""
    readings: tuple[Reading, ...]
    """In the order of their times."""
    length_s: float


class TimecodeSource(Protocol):
    """Timecode that comes in while a take runs, its times on the clock of the take in seconds."""

    @property
    def name(self) -> str:
        """What the user calls it."""

    def open(self) -> None:
        """Start to listen. Raises InputUnusable."""

    def arrived(self, time_s: float) -> Sequence[Reading]:
        """Return what has come up to a time and was not returned yet, in order of time. Never waits.

        The time of the first call is the start of the take, and of a recording that is played back.
        """

    def is_over(self, time_s: float) -> bool:
        """Whether nothing more can come."""

    def close(self) -> None:
        """Let go of it; safe to call twice."""


Item = TypeVar("Item")


def newly_arrived(arrived: queue.SimpleQueue[Item]) -> list[Item]:
    """Return what the thread of a driver has put into a queue by now. Never waits."""
    # The size is read once: a driver that adds without a pause must not keep the caller here.
    return [arrived.get_nowait() for _ in range(arrived.qsize())]


class RecordingPlayback:
    """A recording that is played back as a source. It starts with the take."""

    def __init__(self, recorded: TimecodeRecording) -> None:
        self._recorded = recorded
        self._start_s: float | None = None
        self._returned = 0

    @property
    def name(self) -> str:
        return self._recorded.name

    def open(self) -> None:
        """Do nothing: the recording was read before."""

    def arrived(self, time_s: float) -> Sequence[Reading]:
        """Return the readings up to a time that were not returned yet. The first call starts the recording."""
        start_s = self._start_s = time_s if self._start_s is None else self._start_s
        first, readings = self._returned, self._recorded.readings
        while self._returned < len(readings) and start_s + readings[self._returned].at_s <= time_s:
            self._returned += 1
        return [replace(one, at_s=start_s + one.at_s) for one in readings[first : self._returned]]

    def is_over(self, time_s: float) -> bool:
        """Whether the recording has ended."""
        return self._start_s is not None and time_s - self._start_s > self._recorded.length_s

    def close(self) -> None:
        """Do nothing: no file is open."""
