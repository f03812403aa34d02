"""What every way in for timecode has in common."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from cuedeck.errors import Refusal
from cuedeck.timing.chase import Reading


class InputUnusable(Refusal):
    """Something that timecode cannot be read from. The message says what and why."""


@dataclass(frozen=True)
class RecordedTimecode:
    """All that a recording holds, its times in seconds from its start."""

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
        """Return what has come by a time and was not told yet, in the order of its times; never waits.

        The time of the first call is the start of the take, and of a recording that is played back.
        """

    def is_over(self, time_s: float) -> bool:
        """Whether nothing more can come."""

    def close(self) -> None:
        """Let go of it; safe to call twice."""
