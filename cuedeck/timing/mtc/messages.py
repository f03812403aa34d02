"""MIDI Time Code as bytes: messages out of a stream, and the messages of a running timecode with their times.

A running timecode is told in quarter frames, four to the frame: eight pieces carry one label, and so two
frames pass until it is complete. Piece n leaves at the label's frame plus n quarters, forwards (0 to 7) and
in reverse (7 to 0) alike; pieces 0 and 4 stand on the edges of frames. Whatever else is in a stream is passed
over, and what is written is read back the same. A label is read from eight pieces in an unbroken row, and comes
with the time of its own edge.

Source of the format: MIDI Time Code (MMA/AMEI RP-004, first published in 1987).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from cuedeck.show.frame_rates import SAME_SPEED, TimecodeRate, rate_by_speed
from cuedeck.show.units import UnitError
from cuedeck.timing.chase import Arrival, Located, Reading
from cuedeck.timing.timecode import RATES, Timecode

RATES_BY_CODE = (RATES["24"], RATES["25"], TimecodeRate.parse("29.97df"), RATES["30"])
"""What the two bits of the rate stand for. The bits tell how frames are counted: 23.976 goes as 24, 29.97 as 30."""

PIECES = 8
EVERYONE = 0x7F
"""The device number that all listen to."""

_QUARTER_FRAME = 0xF1
_SYSEX, _SYSEX_END = 0xF0, 0xF7
_FIRST_REALTIME = 0xF8
_UNIVERSAL_REALTIME = 0x7F
_TIMECODE = 0x01
_FULL_FRAME, _USER_BITS = 0x01, 0x02
_LONGEST_SYSEX = 16
"""Bytes worth keeping: user bits, the longest message of timecode, take 13 between start and end."""


@dataclass(frozen=True)
class QuarterFrame:
    """One of the eight pieces of a label."""

    piece: int
    data: int
    """Four bits."""

    @property
    def encoded(self) -> bytes:
        return bytes((_QUARTER_FRAME, self.piece << 4 | self.data))


@dataclass(frozen=True)
class FullFrame:
    """A whole label at once: where a transport went to, and stands."""

    label: Timecode
    device: int = EVERYONE

    @property
    def encoded(self) -> bytes:
        """The ten bytes of the message. Raises UnitError where MTC does not know the rate."""
        hours, minutes, seconds, frames = self.label.parts
        coded_hours = code_of(self.label.rate) << 5 | hours
        return _timecode_sysex(self.device, _FULL_FRAME, (coded_hours, minutes, seconds, frames))


@dataclass(frozen=True)
class UserBits:
    """The 32 user bits of the timecode, in eight groups of four bits, and the two flags of their meaning."""

    groups: tuple[int, ...]
    flags: int = 0
    device: int = EVERYONE

    @property
    def encoded(self) -> bytes:
        return _timecode_sysex(self.device, _USER_BITS, (*self.groups, self.flags))


MtcMessage = QuarterFrame | FullFrame | UserBits


def code_of(rate: TimecodeRate) -> int:
    """Return the two bits of a rate. Raises UnitError for those that MTC has none for."""
    for code, known in enumerate(RATES_BY_CODE):
        if (known.counted, known.is_drop) == (rate.counted, rate.is_drop):
            return code
    raise UnitError(f"MIDI timecode does not count {rate}", "it counts 24, 25, 29.97df and 30")


def _timecode_sysex(device: int, kind: int, data: tuple[int, ...]) -> bytes:
    return bytes((_SYSEX, _UNIVERSAL_REALTIME, device, _TIMECODE, kind, *data, _SYSEX_END))


def label_of(code: int, hours: int, minutes: int, seconds: int, frames: int) -> Timecode | None:
    """Return the label of some numbers, or None where there is no such label."""
    try:
        return Timecode.parse(f"{hours:02d}:{minutes:02d}:{seconds:02d}:{frames:02d}", RATES_BY_CODE[code])
    except UnitError:
        return None


class MtcParser:
    """Finds the messages of timecode in a MIDI stream, however it is cut, and passes over everything else."""

    def __init__(self) -> None:
        self._sysex: bytearray | None = None
        self._is_quarter_frame_next = False

    def feed(self, data: bytes) -> list[MtcMessage]:
        """Take the next bytes of the stream and return the messages that they complete."""
        found = (self._take(byte) for byte in data)
        return [message for message in found if message is not None]

    def _take(self, byte: int) -> MtcMessage | None:
        if byte >= _FIRST_REALTIME:
            return None  # may stand between any two bytes, inside other messages too
        if byte < 0x80:
            return self._take_data(byte)
        ended, self._sysex = self._sysex, bytearray() if byte == _SYSEX else None
        self._is_quarter_frame_next = byte == _QUARTER_FRAME
        return _read_sysex(bytes(ended)) if byte == _SYSEX_END and ended is not None else None

    def _take_data(self, byte: int) -> QuarterFrame | None:
        if self._sysex is not None and len(self._sysex) < _LONGEST_SYSEX:
            self._sysex.append(byte)
        if not self._is_quarter_frame_next:
            return None
        self._is_quarter_frame_next = False
        return QuarterFrame(byte >> 4, byte & 0x0F)


def _read_sysex(data: bytes) -> FullFrame | UserBits | None:
    """Return the message between the start and the end of an exclusive one, where it is of timecode."""
    if len(data) < 4 or (data[0], data[2]) != (_UNIVERSAL_REALTIME, _TIMECODE):
        return None
    device, kind, content = data[1], data[3], data[4:]
    if kind == _FULL_FRAME and len(content) == 4:
        label = label_of(content[0] >> 5 & 3, content[0] & 0x1F, *content[1:])
        return None if label is None else FullFrame(label, device)
    if kind == _USER_BITS and len(content) == 9:
        return UserBits(tuple(group & 0x0F for group in content[:8]), content[8] & 3, device)
    return None


def quarter_frames(label: Timecode) -> tuple[QuarterFrame, ...]:
    """Return the eight pieces of a label, piece 0 first. Raises UnitError where MTC does not know the rate."""
    hours, minutes, seconds, frames = label.parts
    numbers = (frames, seconds, minutes, code_of(label.rate) << 5 | hours)
    nibbles = (nibble for number in numbers for nibble in (number & 0x0F, number >> 4))
    return tuple(QuarterFrame(piece, nibble) for piece, nibble in enumerate(nibbles))


@dataclass(frozen=True)
class Due:
    """A message, and when it is to leave, in exact seconds from the start of the run."""

    at_s: Fraction
    encoded: bytes


def running(first: Timecode, frames: int, *, is_reverse: bool = False) -> Iterator[Due]:
    """Yield the quarter frames of so many frames of running timecode, in the order in which they leave.

    Forwards, piece 0 of the first label leaves at 0. In reverse the run starts at the edge of the first
    label's frame and goes back from there; the first piece, a 7, leaves a quarter of a frame later.
    Raises UnitError where MTC does not know the rate.
    """
    quarter_s = 1 / first.rate.frames_per_second / 4
    for group in range(-(-frames // 2)):
        pieces = quarter_frames(first - 2 * (group + 1) if is_reverse else first + 2 * group)
        ordered = pieces[::-1] if is_reverse else pieces
        for place, piece in enumerate(ordered[: 4 * (frames - 2 * group)]):
            yield Due((PIECES * group + place + is_reverse) * quarter_s, piece.encoded)


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
