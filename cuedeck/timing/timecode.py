"""Timecode: labels of frames as SMPTE ST 12-1 counts them, exactly.

A label stands for a whole number of frames since 00:00:00:00, and wraps at 24 hours of labels. Real time is
a fraction: at 29.97 a frame lasts 1001/30000 s, whatever its label says. Drop-frame leaves labels out, never
frames: :00 and :01 (at 59.94 :00 to :03) of each minute that is not divisible by ten.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import total_ordering
from typing import Self

from cuedeck.show.frame_rates import LABEL, LABEL_CURE, RATES, TimecodeRate
from cuedeck.show.units import UnitError, shorten

__all__ = ["RATES", "Timecode", "TimecodeRate"]


@total_ordering
@dataclass(frozen=True)
class Timecode:
    """A label: so many frames after 00:00:00:00, less than a day of them."""

    frames: int
    rate: TimecodeRate

    def __post_init__(self) -> None:
        """Wrap at 24 hours."""
        object.__setattr__(self, "frames", self.frames % self.rate.frames_per_day)

    @classmethod
    def parse(cls, text: str, rate: TimecodeRate) -> Self:
        """Return the frame of a label; a semicolon before the frames is for drop-frame. Raises UnitError."""
        match = LABEL.fullmatch(text.strip())
        if match is None:
            raise UnitError(f"'{shorten(text)}' is no timecode", LABEL_CURE)
        hours, minutes, seconds, frames = (int(match[n]) for n in (1, 2, 3, 5))
        if match[4] == ";" and not rate.is_drop:
            raise UnitError(f"'{text.strip()}' is drop-frame, and {rate} is not", "write a colon before the frames")
        if hours > 23 or minutes > 59 or seconds > 59 or frames >= rate.counted:
            raise UnitError(f"'{text.strip()}' is out of range", f"at {rate} it ends at 23:59:59:{rate.counted - 1}")
        if frames < rate.dropped_per_minute and seconds == 0 and minutes % 10:
            first = f"{hours:02d}:{minutes:02d}:00;{rate.dropped_per_minute:02d}"
            raise UnitError(f"'{text.strip()}' is left out in drop-frame", f"this minute begins with {first}")
        return cls.of(hours, minutes, seconds, frames, rate)

    @classmethod
    def of(cls, hours: int, minutes: int, seconds: int, frames: int, rate: TimecodeRate) -> Self:
        """Return the frame of the parts of a label that is in use."""
        all_minutes = 60 * hours + minutes
        counted = rate.counted * (60 * all_minutes + seconds) + frames
        return cls(counted - rate.dropped_per_minute * (all_minutes - all_minutes // 10), rate)

    @property
    def parts(self) -> tuple[int, int, int, int]:
        """Hours, minutes, seconds and frames of the label."""
        rate = self.rate
        tens, rest = divmod(self.frames, rate.frames_per_ten_minutes)
        # The first minute of ten is whole; each of the nine others lacks the labels that are dropped.
        per_minute = 60 * rate.counted - rate.dropped_per_minute
        later_minutes = max(rest - 60 * rate.counted, -1) // per_minute + 1
        counted = self.frames + rate.dropped_per_minute * (9 * tens + later_minutes)
        seconds, frames = divmod(counted, rate.counted)
        minutes, seconds = divmod(seconds, 60)
        hours, minutes = divmod(minutes, 60)
        return hours, minutes, seconds, frames

    @property
    def time_s(self) -> Fraction:
        """Real time from 00:00:00:00 to the start of the frame."""
        return self.frames / self.rate.frames_per_second

    def __add__(self, frames: int) -> Self:
        return type(self)(self.frames + frames, self.rate)

    def __sub__(self, frames: int) -> Self:
        return type(self)(self.frames - frames, self.rate)

    def __lt__(self, other: Timecode) -> bool:
        self._require_same_rate(other)
        return self.frames < other.frames

    def frames_since(self, other: Timecode) -> int:
        """Return how many frames after another label this one is, 0 to a day. Raises ValueError at another rate."""
        self._require_same_rate(other)
        return (self.frames - other.frames) % self.rate.frames_per_day

    def _require_same_rate(self, other: Timecode) -> None:
        if self.rate != other.rate:
            raise ValueError(f"timecode at {self.rate} cannot be compared with timecode at {other.rate}")

    def __str__(self) -> str:
        hours, minutes, seconds, frames = self.parts
        width = max(2, len(str(self.rate.counted - 1)))
        return f"{hours:02d}:{minutes:02d}:{seconds:02d}{';' if self.rate.is_drop else ':'}{frames:0{width}d}"
