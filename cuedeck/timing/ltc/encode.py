"""Longitudinal timecode as a signal: biphase mark, SMPTE ST 12-1.

The level changes at the start of every bit, and once more in the middle of a one. Edge k of the half-bits
stands at exactly k x sample rate / (160 x frame rate) samples, between samples where it falls there, so that
nothing drifts at rates such as 30000/1001.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import numpy as np

from cuedeck.arrays import Numbers, Sound, Values
from cuedeck.timing.ltc.frame import FRAME_BITS, LtcFrame
from cuedeck.timing.timecode import TimecodeRate

RISE_S = 40e-6
"""From 10 to 90 percent. ST 12-1: 40 us, 10 more or less, as the documentation of libltc (ltc.h) has it."""
DEFAULT_LEVEL_DBFS = -18.0
_FRAMES_PER_BLOCK = 250
_HALF_BITS = 2 * FRAME_BITS
_LAST_HALF_BITS = 2
"""How long the edge that ends the last frame is held."""
# A quarter wave from trough to crest passes 10 and 90 percent at 2/pi x asin(0.8) of its half width.
_HALF_WIDTH_S = RISE_S / (4 / np.pi * np.arcsin(0.8))


def sample_count(frames: int, rate: TimecodeRate, sample_rate_hz: int) -> int:
    """Return how many samples the signal of so many frames has."""
    return _grid(rate, sample_rate_hz).first_sample(frames * _HALF_BITS + _LAST_HALF_BITS)


def encode(first: LtcFrame, count: int, sample_rate_hz: int, level_dbfs: float = DEFAULT_LEVEL_DBFS) -> Iterator[Sound]:
    """Yield the signal of frames that count up from a first one, in blocks; full scale is 1.

    The level is that of the crests. After the last frame comes the edge that ends it, held for one bit.
    """
    amplitude = np.float32(10 ** (level_dbfs / 20))
    grid = _grid(first.label.rate, sample_rate_hz)
    for done in range(0, count, _FRAMES_PER_BLOCK):
        numbers = range(done, min(done + _FRAMES_PER_BLOCK, count))
        frames = (replace(first, label=first.label + number).to_bytes() for number in numbers)
        is_last = numbers.stop == count
        yield amplitude * _block(b"".join(frames), numbers.start * _HALF_BITS, grid, sample_rate_hz, is_last)


class _Grid:
    """Where half-bits begin, exactly."""

    def __init__(self, samples_per_half_bit: Fraction) -> None:
        self._step = samples_per_half_bit

    def at(self, numbers: Numbers) -> tuple[Numbers, Values]:
        """Return the whole sample before each half-bit and the part of a sample after it."""
        whole, rest = np.divmod(numbers * self._step.numerator, self._step.denominator)
        return whole, rest / self._step.denominator

    def first_sample(self, number: int) -> int:
        """Return the first sample at or after a half-bit."""
        return -int(-number * self._step // 1)


def _grid(rate: TimecodeRate, sample_rate_hz: int) -> _Grid:
    return _Grid(sample_rate_hz / (_HALF_BITS * rate.frames_per_second))


def _block(data: bytes, first_half_bit: int, grid: _Grid, sample_rate_hz: int, is_last: bool) -> Sound:
    bits = np.unpackbits(np.frombuffer(data, np.uint8), bitorder="little")
    edges = np.ones(2 * len(bits) + 1, dtype=bool)  # the last is the first of what follows
    edges[1::2] = bits
    numbers = first_half_bit + np.flatnonzero(edges)
    after = np.where(np.arange(len(numbers)) % 2 == 0, np.float32(1), np.float32(-1))  # every frame begins upwards
    whole, part = grid.at(numbers)
    begin = grid.first_sample(first_half_bit)
    end = grid.first_sample(first_half_bit + len(edges) - 1 + (_LAST_HALF_BITS if is_last else 0))
    bounds = np.clip(whole + (part > 0), begin, end)
    flat = np.repeat(np.append(-after[0], after), np.diff(bounds, prepend=begin, append=end))
    _shape(flat, begin, whole, part, after, _HALF_WIDTH_S * sample_rate_hz)
    return flat


def _shape(
    signal: Sound,
    begin: int,
    whole: Numbers,
    part: Values,
    after: Sound,
    half_width: float,
) -> None:
    """Give the edges of a square wave their rise, in place."""
    reach = int(np.ceil(half_width))
    for offset in range(-reach, reach + 1):
        places = whole + offset - begin
        share = np.clip((offset - part) / half_width, -1, 1)
        inside = (places >= 0) & (places < len(signal)) & (np.abs(share) < 1)
        signal[places[inside]] = (after * np.sin(np.pi / 2 * share))[inside]
