"""The rates at which frames are counted: those of SMPTE ST 12-1, and how a label of a frame is written.

What a label stands for needs the rate of its camera: `cuedeck.timing.timecode` counts.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Self

from cuedeck.show.units import CommaForPoint, UnitError, parse_number, print_number, shorten

LABEL = re.compile(r"(\d{1,2}):(\d{2}):(\d{2})([:;])(\d{2})", re.ASCII)
"""Hours, minutes, seconds, the sign before the frames, frames."""
LABEL_CURE = "write hours:minutes:seconds:frames such as 01:00:04:12"


@dataclass(frozen=True)
class TimecodeRate:
    """How frames are counted, and how long they last."""

    frames_per_second: Fraction
    """Real frames in a real second: 30000/1001 at 29.97."""
    counted: int
    """Frames to a second of labels: 30 at 29.97."""
    is_drop: bool = False
    """Whether labels are left out so that they keep up with the clock."""

    @classmethod
    def parse(cls, text: str) -> Self:
        """Return the rate of a text such as 25, 29.97 or 29.97df. Raises UnitError."""
        cleaned = "".join(text.lower().split()).removesuffix("fps")
        name = cleaned.removesuffix("drop").removesuffix("df")
        rate = RATES.get(_SPELLINGS.get(name, name))
        if rate is None:
            raise UnitError(f"'{shorten(text)}' is no rate of timecode", RATE_CURE)
        is_drop = name != cleaned
        if is_drop and (rate.counted % 30 or rate.frames_per_second.denominator == 1):
            raise UnitError(f"{rate} has no drop-frame", "drop-frame is for 29.97 and 59.94")
        return cls(rate.frames_per_second, rate.counted, is_drop)

    @classmethod
    def counting(cls, frames_per_second: Fraction) -> Self:
        """Return how frames of any rate are counted without drop-frame: whole frames to a second of labels."""
        return cls(frames_per_second, max(round(frames_per_second), 1))

    @property
    def is_standard(self) -> bool:
        """Whether ST 12-1 knows the rate."""
        return any(rate.frames_per_second == self.frames_per_second for rate in RATES.values())

    @property
    def frames_per_day(self) -> int:
        """Frames in 24 hours of labels."""
        return 24 * 6 * self.frames_per_ten_minutes

    @property
    def dropped_per_minute(self) -> int:
        """Labels left out in nine minutes of ten."""
        return self.counted // 15 if self.is_drop else 0

    @property
    def frames_per_ten_minutes(self) -> int:
        """Frames in ten minutes of labels."""
        return 600 * self.counted - 9 * self.dropped_per_minute

    def __str__(self) -> str:
        known = RATES.items()
        names = (name for name, rate in known if rate.frames_per_second == self.frames_per_second)
        name = next(names, print_number(self.frames_per_second))
        return f"{name}df" if self.is_drop else name


RATES = {
    "23.976": TimecodeRate(Fraction(24000, 1001), 24),
    "24": TimecodeRate(Fraction(24), 24),
    "25": TimecodeRate(Fraction(25), 25),
    "29.97": TimecodeRate(Fraction(30000, 1001), 30),
    "30": TimecodeRate(Fraction(30), 30),
    "47.952": TimecodeRate(Fraction(48000, 1001), 48),
    "48": TimecodeRate(Fraction(48), 48),
    "50": TimecodeRate(Fraction(50), 50),
    "59.94": TimecodeRate(Fraction(60000, 1001), 60),
    "60": TimecodeRate(Fraction(60), 60),
}
"""The rates of ST 12-1 without drop-frame, by the names they go by."""
SAME_SPEED = 4e-4
"""Clocks of cameras and sound are within some 50 parts in a million; 23.976 and 24 are 1000 apart."""
_SPELLINGS = {"23.98": "23.976", "47.95": "47.952"}
DROP_FRAME = ("29.97df", "59.94df")
RATE_CURE = f"write one of {', '.join((*RATES, *DROP_FRAME))}"


def rate_by_speed(counted: int, measured_fps: float) -> TimecodeRate:
    """Return the rate without drop-frame that has so many labels a second, and frames at a speed.

    24 and 24000/1001 have the same labels, as have 30 and 30000/1001: off speed they cannot be told apart, and it is
    the whole number.
    """
    alike = (rate for rate in RATES.values() if rate.counted == counted and rate.frames_per_second != counted)
    slowed = next((rate for rate in alike if is_at_speed(rate, measured_fps)), None)
    return RATES[str(counted)] if slowed is None else slowed


def is_at_speed(rate: TimecodeRate, measured_fps: float) -> bool:
    """Whether frames come at the speed of a rate, as far as clocks agree."""
    return abs(measured_fps / float(rate.frames_per_second) - 1) < SAME_SPEED


def read_label(text: str) -> str:
    """Return a label of a frame as it was written, where it has the form of one. Raises UnitError."""
    cleaned = text.strip()
    if not LABEL.fullmatch(cleaned):
        raise UnitError(f"'{shorten(text)}' is no timecode", LABEL_CURE)
    return cleaned


_NTSC = {"23.976": 24, "23.98": 24, "29.97": 30, "47.952": 48, "47.95": 48, "59.94": 60}


def parse_frame_rate(text: str) -> Fraction:
    """Return frames a second, exactly: 23.976 is 24000/1001 (SMPTE ST 12-1). Raises UnitError."""
    cleaned = text.strip()
    if cleaned in _NTSC:
        return Fraction(_NTSC[cleaned] * 1000, 1001)
    try:
        rate = parse_number(cleaned)
    except CommaForPoint:
        raise
    except UnitError as error:
        raise UnitError(
            f"'{shorten(text)}' is not a frame rate", "write frames a second such as 25 or 23.976"
        ) from error
    if not 1 <= rate <= 1000:
        raise UnitError(f"{print_number(rate)} frames a second is out of range", "write 1 to 1000")
    return rate
