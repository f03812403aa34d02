"""Longitudinal timecode from a signal that comes in pieces.

`LtcReader` keeps the samples from the end of the last frame on, so that a frame may lie across any number of
pieces, and looks with the pulse length of the frames so far. Where a stretch stays dark it tries pulses of half
and of nearly twice that length, and before the first frame those of a half, of normal and of double speed.
`LtcDecoder` adds the labels that can be believed, and their times.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from cuedeck.arrays import Sound
from cuedeck.timing.chase import Arrival
from cuedeck.timing.ltc.bits import HALF_BITS, NO_FRAMES, RawFrames, find_frames, joined
from cuedeck.timing.ltc.edges import find_edges
from cuedeck.timing.ltc.labels import Labels, LabelTrack, RateFinder
from cuedeck.timing.timecode import TimecodeRate

PIECE = 1 << 17
"""Samples that are looked at together, at most: few enough to stay in the cache of the processor."""
_FINEST_HZ = 60_000
"""A signal with more samples a second is averaged down: no edge needs more."""
_FIRST_HALF_BITS_HZ = (9600.0, 4800.0, 2400.0)
"""Half-bits a second at double, normal and half the speed of 30 frames a second."""
_WIDTH = 0.7
"""The running mean over this part of a half-bit."""
_NEIGHBOURHOOD = 20
"""Half-bits that share a middle and a level: hum is slower, and the bits are even over fewer."""
_CONTEXT = 24
"""Half-bits before a frame that are looked at with it."""
_KEPT = 2.1 * HALF_BITS
"""Half-bits without a frame that are kept: whatever comes, a frame that has begun in them is found whole."""
_LEAST_S = 0.01
"""Fewer new samples than this wait for the next ones."""
_SHORTEST = 0.85
"""No frame is shorter than this part of the one before it."""
_RETRY_S = 0.08
_STEADY_S = 0.5
"""After so long without a frame, the pulse length is anybody's guess again."""


class LtcReader:
    """Finds the frames in one channel of sound."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._factor = -(-sample_rate_hz // _FINEST_HZ)
        self._rate_hz = sample_rate_hz / self._factor
        self._rest: Sound = np.empty(0, np.float32)
        self._kept: Sound = np.empty(0, np.float32)
        self._kept_from = 0
        """The sample with which what is kept begins."""
        self._unseen = 0
        self._half_bit: float | None = None
        self._frame_end = 0.0
        self._retried_at = 0.0
        self._levels: list[float] = []

    @property
    def level(self) -> float:
        """The crests of the timecode, or of whatever there is; full scale is 1."""
        return float(np.median(self._levels)) if self._levels else 0.0

    def feed(self, samples: Sound) -> RawFrames:
        """Take the next samples, full scale 1, and return the frames that end in them."""
        return joined([NO_FRAMES, *(self._take(samples[at : at + PIECE]) for at in range(0, len(samples), PIECE))])

    def finish(self) -> RawFrames:
        """Return a last frame whose closing edge would be the end of the signal."""
        return self._search(is_end=True)

    def _take(self, samples: Sound) -> RawFrames:
        if self._factor > 1:
            samples = self._averaged(samples)
        self._kept = np.concatenate((self._kept, samples))
        self._unseen += len(samples)
        return self._search(is_end=False) if self._may_hold_a_frame else NO_FRAMES

    @property
    def _may_hold_a_frame(self) -> bool:
        """Return whether a frame may have ended in the samples that were not searched yet."""
        if self._unseen < _LEAST_S * self._rate_hz:
            return False
        soonest = 0 if self._half_bit is None else self._frame_end + _SHORTEST * HALF_BITS * self._half_bit
        return self._kept_from + len(self._kept) >= soonest

    def _averaged(self, samples: Sound) -> Sound:
        samples = np.concatenate((self._rest, samples))
        whole = len(samples) // self._factor * self._factor
        self._rest = samples[whole:]
        total = samples[0 : whole : self._factor].copy()
        for offset in range(1, self._factor):
            total += samples[offset : whole : self._factor]
        return total / np.float32(self._factor)

    def _search(self, *, is_end: bool) -> RawFrames:
        self._unseen = 0
        first = self._half_bits[0]
        frames = self._frames_at(first, is_end)
        now = self._kept_from + len(self._kept)
        is_due = is_end or now - self._retried_at >= _RETRY_S * self._rate_hz
        if is_due and self._has_dark_stretch(frames, first):
            self._retried_at = now
            for half_bit in self._half_bits[1:]:
                frames = _with_others(frames, self._frames_at(half_bit, is_end))
        if len(frames):
            self._half_bit = float(frames.ends[-1] - frames.starts[-1]) / HALF_BITS
            self._frame_end = self._kept_from + float(frames.ends[-1])
        elif self._half_bit is not None and now - self._frame_end > _STEADY_S * self._rate_hz:
            self._half_bit = None
        found = frames.placed(self._kept_from, 1)
        self._forget(frames)
        return found.placed((self._factor - 1) / 2, self._factor)

    @property
    def _half_bits(self) -> list[float]:
        """Lengths of half-bits to look for, in samples, the likeliest first."""
        if self._half_bit is not None:
            return [self._half_bit, 0.5 * self._half_bit, 1.8 * self._half_bit]
        return [self._rate_hz / hz for hz in _FIRST_HALF_BITS_HZ]

    def _frames_at(self, half_bit: float, is_end: bool) -> RawFrames:
        edges = find_edges(self._kept, max(1, round(_WIDTH * half_bit)), round(_NEIGHBOURHOOD * half_bit))
        if len(edges.times) > HALF_BITS // 2:
            self._levels = [*self._levels[-200:], edges.level]
        begin = 0.0 if self._kept_from == 0 else None
        return find_frames(edges, begin, float(len(self._kept)) if is_end else None)

    def _has_dark_stretch(self, frames: RawFrames, half_bit: float) -> bool:
        """Return whether there is a place for a frame which none was found in."""
        begin = max(self._frame_end - self._kept_from, 0.0)
        bounds = np.concatenate(([begin], frames.ends)), np.append(frames.starts, len(self._kept))
        longest = 1.5 * HALF_BITS * half_bit if self._half_bit else 0
        return bool((bounds[1] - bounds[0]).max() > longest)

    def _forget(self, frames: RawFrames) -> None:
        slowest = self._half_bit or self._rate_hz / 1920  # 24 frames a second at half speed
        begin = len(self._kept) - _KEPT * slowest
        if len(frames):
            begin = max(begin, float(frames.ends[-1]) - _CONTEXT * slowest)
        elif self._half_bit is not None:
            begin = max(begin, self._frame_end - self._kept_from - _CONTEXT * slowest)
        cut = max(0, int(begin))
        self._kept = self._kept[cut:].copy()
        self._kept_from += cut


class LtcDecoder:
    """Labels that can be believed, from one channel of sound."""

    def __init__(self, sample_rate_hz: int, rate: TimecodeRate | None = None) -> None:
        """Decode at a rate, or at the one that the frames themselves show."""
        self._sample_rate_hz = sample_rate_hz
        self._reader = LtcReader(sample_rate_hz)
        self._finder = RateFinder(sample_rate_hz)
        self._given = rate
        self._track: LabelTrack | None = None

    @property
    def level(self) -> float:
        """The crests of the timecode; full scale is 1."""
        return self._reader.level

    def feed(self, samples: Sound) -> Iterator[Arrival]:
        """Take the next samples, full scale 1; yield the labels that can be believed by now."""
        raw = self._reader.feed(samples)
        if len(raw):
            yield from self._arrivals(raw)

    def _arrivals(self, raw: RawFrames) -> Iterator[Arrival]:
        self._finder.take(raw)
        rate = self._given or self._finder.rate
        if rate is None:
            return
        if self._track is None or self._track.rate != rate:
            self._track = LabelTrack(rate)
        labels = self._track.take(raw)
        yield from arrivals_of(labels, self._sample_rate_hz)


def arrivals_of(labels: Labels, sample_rate_hz: float) -> Iterator[Arrival]:
    """Yield labels with the times, on the clock of the samples, at which the starts of their frames pass.

    Backwards a frame ends with its start.
    """
    raw = labels.raw
    times_s = np.where(raw.is_reverse, raw.ends, raw.starts) / sample_rate_hz
    return (Arrival(*row) for row in zip(times_s.tolist(), labels, raw.is_reverse.tolist(), strict=True))


def _with_others(frames: RawFrames, others: RawFrames) -> RawFrames:
    if not len(others) or not len(frames):
        return others if not len(frames) else frames
    middles = (others.starts + others.ends) / 2
    after = np.searchsorted(frames.starts, middles)
    is_inside = (after > 0) & (middles < frames.ends[after - 1])
    both = joined([frames, others.pick(~is_inside)])
    return both.pick(np.argsort(both.starts))
