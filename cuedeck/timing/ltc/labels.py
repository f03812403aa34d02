"""From frames as they were read to labels that can be believed.

A damaged frame can still look whole. A frame is believed only where it agrees with another one: the frame
before it or after it, without a gap, carries the label before it or after it; or its label is, at its time,
the one that is due after the last believed frame. All else is left out, and shows as a gap. Nothing is filled in.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from cuedeck.arrays import Mask, Numbers, Slots
from cuedeck.show.frame_rates import rate_by_speed
from cuedeck.timing.ltc.bits import NO_FRAMES, RawFrames, joined
from cuedeck.timing.timecode import Timecode, TimecodeRate

_COUNTS = (24, 25, 30)
_ADJACENT = 0.25
"""Frames that touch are no further apart, in frames."""
_LONGEST_WAIT = 250
"""Frames after which a label is no longer due at a time: the speed may have changed."""

_REMEMBERED = 500
"""Frames, some twenty seconds of them."""


@dataclass(frozen=True, eq=False)
class Fields:
    """The digits and flags of frames; columns of one length."""

    hours: Numbers
    minutes: Numbers
    seconds: Numbers
    frames: Numbers
    is_drop: Mask

    @classmethod
    def of(cls, data: Slots) -> Fields:
        """Return what frames of ten bytes say, shape (frames, 10)."""
        wide = data.astype(np.int64)
        units, tens = wide[:, 0:8:2] & 15, wide[:, 1:8:2] & [3, 7, 7, 3]
        parts = np.where(units > 9, 100, 10 * tens + units)  # 100 is out of range of every part
        return cls(parts[:, 3], parts[:, 2], parts[:, 1], parts[:, 0], (wide[:, 1] & 4) > 0)

    def numbers(self, rate: TimecodeRate) -> Numbers:
        """Return the frames since 00:00:00:00 at a rate; -1 for what is no label there."""
        minutes = 60 * self.hours + self.minutes
        dropped = rate.dropped_per_minute
        left_out = (self.frames < dropped) & (self.seconds == 0) & (self.minutes % 10 > 0)
        in_range = (self.hours < 24) & (self.minutes < 60) & (self.seconds < 60) & (self.frames < rate.counted)
        counted = rate.counted * (60 * minutes + self.seconds) + self.frames - dropped * (minutes - minutes // 10)
        # Bit 10 says drop-frame at 30 labels a second alone; elsewhere it is unassigned.
        is_kind = (self.is_drop == rate.is_drop) | (rate.counted != 30)
        numbers: Numbers = np.where(in_range & ~left_out & is_kind, counted, -1)
        return numbers


def user_bits_of(data: Slots) -> Numbers:
    """Return the 32 user bits of each frame; the first group is the lowest."""
    bits: Numbers = ((data[:, :8].astype(np.int64) >> 4) << (4 * np.arange(8))).sum(axis=1)
    return bits


class RateFinder:
    """Which rate the frames of one source have, from all that were seen so far.

    How many labels a second has shows where the second changes, and at 30 by labels over 24. Until then, and
    between 24 and 24000/1001, the time that a frame takes decides, so that a source which runs off speed before
    its first full second may be taken for another.
    """

    def __init__(self, sample_rate_hz: float) -> None:
        self._sample_rate_hz = sample_rate_hz
        self._votes = dict.fromkeys(_COUNTS, 0.0)
        self._drop_votes = 0.0
        self._frames = 0.0
        self._samples = 0.0

    def take(self, raw: RawFrames) -> None:
        """Learn from frames; those of long ago count for less, as another source may have taken their place."""
        if self._frames > _REMEMBERED:
            self._votes = {counted: votes / 2 for counted, votes in self._votes.items()}
            self._drop_votes, self._frames, self._samples = self._drop_votes / 2, self._frames / 2, self._samples / 2
        fields = Fields.of(raw.data)
        near = _touching(raw)
        self._frames += len(raw)
        self._samples += float((raw.ends - raw.starts).sum())
        self._drop_votes += int(np.where(fields.is_drop, 1, -1).sum())
        backwards = raw.is_reverse[1:]
        earlier = np.where(backwards, fields.frames[1:], fields.frames[:-1])
        later = np.where(backwards, fields.frames[:-1], fields.frames[1:])
        for counted in _COUNTS:
            self._votes[counted] += int((near & (earlier == counted - 1) & (later <= 2)).sum())

    @property
    def measured_fps(self) -> float:
        """Frames a second of the reader's clock; 0 before the first frame."""
        return self._frames * self._sample_rate_hz / self._samples if self._frames else 0.0

    @property
    def rate(self) -> TimecodeRate | None:
        """The rate, or None before the first frame."""
        if not self._frames:
            return None
        counted = max(_COUNTS, key=lambda count: (self._votes[count], -abs(np.log(self.measured_fps / count))))
        is_drop = counted == 30 and self._drop_votes > 0
        if is_drop:
            return TimecodeRate(Fraction(30000, 1001), 30, is_drop=True)
        return rate_by_speed(counted, self.measured_fps)


@dataclass(frozen=True, eq=False)
class Labels:
    """Frames that are believed, in order of time."""

    raw: RawFrames
    numbers: Numbers
    """Frames since 00:00:00:00."""
    rate: TimecodeRate

    def __len__(self) -> int:
        return len(self.numbers)

    def __iter__(self) -> Iterator[Timecode]:
        return (Timecode(number, self.rate) for number in self.numbers.tolist())


@dataclass(frozen=True)
class Gap:
    """Where labels do not follow on each other."""

    begin_sample: float
    end_sample: float
    before: Timecode
    after: Timecode


class LabelTrack:
    """Takes frames as they come, and hands on those that are believed."""

    def __init__(self, rate: TimecodeRate) -> None:
        self.rate = rate
        self._held = NO_FRAMES
        """The last frame that was read, believed or not."""
        self._is_held_believed = False
        self._last: tuple[int, float, float, bool] | None = None
        """Number, start, length and direction of the last believed frame."""

    def take(self, raw: RawFrames) -> Labels:
        """Return the frames that can be believed now, among them one that waited for its neighbour."""
        carried = len(self._held)
        raw = joined([self._held, raw])
        numbers = Fields.of(raw.data).numbers(self.rate)
        raw, numbers = raw.pick(numbers >= 0), numbers[numbers >= 0]
        if not len(raw):
            return Labels(raw, numbers, self.rate)
        follows = links(raw, numbers, self.rate)
        believed = np.append(follows, False) | np.append(False, follows)
        if carried and self._is_held_believed:
            believed[0] = True
        self._believe_what_is_due(raw, numbers, believed)
        fresh = believed.copy()
        fresh[0] &= not (carried and self._is_held_believed)
        self._held, self._is_held_believed = raw.pick(slice(-1, None)), bool(believed[-1])
        return Labels(raw.pick(fresh), numbers[fresh], self.rate)

    def _believe_what_is_due(self, raw: RawFrames, numbers: Numbers, believed: Mask) -> None:
        """Mark lone frames whose label is the one that is due at their time, after the last believed one."""
        done = 0
        for lone in [*np.flatnonzero(~believed).tolist(), len(raw)]:
            if lone > done and believed[lone - 1]:
                self._last = _as_last(raw, numbers, lone - 1)
            if lone < len(raw) and self._last is not None and self._is_due(_as_last(raw, numbers, lone), self._last):
                believed[lone] = True
            done = lone

    def _is_due(self, frame: tuple[int, float, float, bool], last: tuple[int, float, float, bool]) -> bool:
        number, start, _, is_reverse = frame
        last_number, last_start, length, was_reverse = last
        passed = (start - last_start) / length
        whole = round(passed)
        step = -whole if is_reverse else whole
        return (
            is_reverse == was_reverse
            and 0 < whole <= _LONGEST_WAIT
            and abs(passed - whole) < _ADJACENT
            and (last_number + step - number) % self.rate.frames_per_day == 0
        )


def links(raw: RawFrames, numbers: Numbers, rate: TimecodeRate) -> Mask:
    """Return for each pair of neighbours whether one follows on the other, in time and in label."""
    step = np.where(raw.is_reverse[1:], -1, 1)
    follows: Mask = (numbers[1:] - numbers[:-1] - step) % rate.frames_per_day == 0
    return _touching(raw) & follows


def gaps_of(labels: Labels) -> list[Gap]:
    numbers, raw = labels.numbers, labels.raw
    breaks = np.flatnonzero(~links(raw, numbers, labels.rate)) if len(labels) else np.empty(0, np.int64)
    return [
        Gap(
            float(raw.ends[place]),
            float(raw.starts[place + 1]),
            Timecode(int(numbers[place]), labels.rate),
            Timecode(int(numbers[place + 1]), labels.rate),
        )
        for place in breaks.tolist()
    ]


def _touching(raw: RawFrames) -> Mask:
    lengths = (raw.ends - raw.starts)[1:]
    is_near = np.abs(raw.starts[1:] - raw.ends[:-1]) < _ADJACENT * lengths
    near: Mask = is_near & (raw.is_reverse[1:] == raw.is_reverse[:-1])
    return near


def _as_last(raw: RawFrames, numbers: Numbers, place: int) -> tuple[int, float, float, bool]:
    start = float(raw.starts[place])
    return int(numbers[place]), start, float(raw.ends[place]) - start, bool(raw.is_reverse[place])
