"""One frame of longitudinal timecode: 80 bits of SMPTE ST 12-1, as ten bytes.

Bit 0 is the lowest bit of byte 0. Each of the first eight bytes holds a digit of the label and its flags in
the low half and a group of user bits in the high half; the sync word ends the frame. The bit places are
those in the public documentation of libltc (ltc.h) and EBU N12-1999.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

from cuedeck.show.units import UnitError
from cuedeck.timing.timecode import Timecode, TimecodeRate

FRAME_BYTES = 10
FRAME_BITS = 80
SYNC_WORD = b"\xfc\xbf"
"""0011 1111 1111 1101, the first bit lowest."""
FASTEST_COUNTED = 30
"""Labels a second: two digits in six bits hold no frame number above 39, and ST 12-1 uses 0 to 29."""
_DROP_BIT, _COLOUR_BIT = 10, 11
_FLAG_BITS = {24: (43, 58, 59), 25: (27, 58, 43), 30: (43, 58, 59)}
"""Binary group flags 0, 1 and 2, by the labels a second."""
_POLARITY_BIT = {24: 27, 25: 59, 30: 27}


class LtcRefused(UnitError):
    """A frame that longitudinal timecode cannot hold, or bits that are none."""


def require_ltc(rate: TimecodeRate) -> None:
    """Raise LtcRefused where a rate has more labels a second than a frame of 80 bits can hold."""
    if rate.counted > FASTEST_COUNTED:
        half = next(name for name in ("23.976", "24", "25", "29.97", "30") if _is_half(name, rate))
        raise LtcRefused(
            f"longitudinal timecode has no frames at {rate}: it counts to {FASTEST_COUNTED} a second,"
            " and a faster picture carries the label of every second frame",
            f"write {half}{'df' if rate.is_drop else ''}",
        )


def _is_half(name: str, rate: TimecodeRate) -> bool:
    return TimecodeRate.parse(name).frames_per_second * 2 == rate.frames_per_second


@dataclass(frozen=True)
class LtcFrame:
    """What one frame says."""

    label: Timecode
    user_bits: int = 0
    """32 bits; the first of the eight groups is the lowest."""
    is_colour_framed: bool = False
    binary_group_flags: int = 0
    """What the user bits mean: flag 0 is the lowest bit, flag 2 the highest."""

    def __post_init__(self) -> None:
        """Raise LtcRefused for what does not fit."""
        require_ltc(self.label.rate)
        if not 0 <= self.user_bits < 1 << 32:
            raise LtcRefused("user bits are 32 bits", "write eight hexadecimal digits such as 20240229")
        if not 0 <= self.binary_group_flags < 8:
            raise LtcRefused("there are three binary group flags", "write 0 to 7")

    def to_bytes(self) -> bytes:
        """Return the ten bytes, with the polarity correction that makes the number of ones even."""
        hours, minutes, seconds, frames = self.label.parts
        digits = [digit for part in (frames, seconds, minutes, hours) for digit in (part % 10, part // 10)]
        bits = int.from_bytes(SYNC_WORD, "little") << 64
        for group, digit in enumerate(digits):
            bits |= (digit | (self.user_bits >> 4 * group & 15) << 4) << 8 * group
        bits |= self.label.rate.is_drop << _DROP_BIT | self.is_colour_framed << _COLOUR_BIT
        for flag, place in enumerate(_FLAG_BITS[self.label.rate.counted]):
            bits |= (self.binary_group_flags >> flag & 1) << place
        bits |= (bits.bit_count() & 1) << _POLARITY_BIT[self.label.rate.counted]
        return bits.to_bytes(FRAME_BYTES, "little")

    @classmethod
    def from_bytes(cls, data: bytes, rate: TimecodeRate) -> Self:
        """Return what ten bytes say at a rate. Raises LtcRefused for bits that are no frame of that rate.

        The polarity correction is not asked for: old generators leave it out.
        """
        require_ltc(rate)
        if len(data) != FRAME_BYTES or data[8:] != SYNC_WORD:
            raise LtcRefused("these bits do not end in the sync word", "read 80 bits up to the end of the sync word")
        bits = int.from_bytes(data, "little")
        is_drop = bool(bits >> _DROP_BIT & 1) and rate.counted != 25  # unassigned at 25
        if is_drop != rate.is_drop:
            raise LtcRefused(f"the frame says that it is {'' if is_drop else 'not '}drop-frame", f"{rate} is asked for")
        flags = sum((bits >> place & 1) << flag for flag, place in enumerate(_FLAG_BITS[rate.counted]))
        user_bits = sum((data[group] >> 4) << 4 * group for group in range(8))
        return cls(_label(data, rate), user_bits, bool(bits >> _COLOUR_BIT & 1), flags)


def _label(data: bytes, rate: TimecodeRate) -> Timecode:
    units = [data[group] & 15 for group in (0, 2, 4, 6)]
    tens = [data[group] & mask for group, mask in ((1, 3), (3, 7), (5, 7), (7, 3))]
    if max(units) > 9:
        raise LtcRefused("a digit of the label is over 9", "this frame is damaged")
    frames, seconds, minutes, hours = (10 * ten + unit for ten, unit in zip(tens, units, strict=True))
    mark = ";" if rate.is_drop else ":"
    try:
        return Timecode.parse(f"{hours:02d}:{minutes:02d}:{seconds:02d}{mark}{frames:02d}", rate)
    except UnitError as error:
        raise LtcRefused(error.what, error.cure) from error
