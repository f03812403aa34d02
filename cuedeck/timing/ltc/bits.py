"""From edges to frames of 80 bits.

The clock is recovered from the edges themselves: pulses last one half-bit or two, and any 128 of them hold a
sync word, which has both. A frame counts where a sync word stands at its end (or, run backwards, at its
beginning), where every one of its bits begins with an edge, and where it is 160 half-bits from end to end.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from cuedeck.arrays import Mask, Numbers, Slots, Values
from cuedeck.timing.ltc.edges import Edges
from cuedeck.timing.ltc.frame import FRAME_BITS, FRAME_BYTES, SYNC_WORD

HALF_BITS = 2 * FRAME_BITS
_WINDOW = 128
"""Pulses over which the clock is taken to be steady."""
_LEAST_PULSES = 80
"""A frame has 80 bits, each of which begins with an edge."""
_QUANTILE = _WINDOW // 8
"""At least one pulse in five is short, so that this one of the sorted pulses is."""
_TOO_LONG = 255
_END_SLACK = 0.35
"""How much of a half-bit a pulse at an end of the signal may be off."""


@dataclass(frozen=True, eq=False)
class RawFrames:
    """Frames as they were read, in order of time; columns of one length."""

    starts: Values
    """Samples from the first of the stream to the edge with which a frame begins, as time runs."""
    ends: Values
    """Samples to the edge with which it ends."""
    data: Slots
    """Shape (frames, 10): the bits as they were written, whichever way they were read."""
    is_reverse: Mask
    is_inverted: Mask
    """Whether the edge before bit 0 falls, as it was written."""

    def __len__(self) -> int:
        return len(self.starts)

    def pick(self, which: Numbers | Mask | slice) -> RawFrames:
        """Return some of the frames."""
        return RawFrames(
            self.starts[which], self.ends[which], self.data[which], self.is_reverse[which], self.is_inverted[which]
        )

    def placed(self, offset: float, scale: float) -> RawFrames:
        """Return the same frames on another count of samples."""
        starts, ends = offset + scale * self.starts, offset + scale * self.ends
        return RawFrames(starts, ends, self.data, self.is_reverse, self.is_inverted)


def joined(parts: Sequence[RawFrames]) -> RawFrames:
    """Return the frames of several parts, as one; there is at least one part."""
    if len(parts) == 1:
        return parts[0]
    return RawFrames(
        np.concatenate([part.starts for part in parts]),
        np.concatenate([part.ends for part in parts]),
        np.concatenate([part.data for part in parts]),
        np.concatenate([part.is_reverse for part in parts]),
        np.concatenate([part.is_inverted for part in parts]),
    )


NO_FRAMES = RawFrames(
    np.empty(0), np.empty(0), np.empty((0, FRAME_BYTES), np.uint8), np.empty(0, bool), np.empty(0, bool)
)


def _half_bits_of(bits: Sequence[int]) -> bytes:
    """Return edges (1) and none (0) at every half-bit of some bits, and the edge that follows them."""
    return bytes(half for bit in bits for half in (1, bit)) + b"\1"


_SYNC_BITS = [int(bit) for byte in SYNC_WORD for bit in f"{byte:08b}"[::-1]]
_SYNC = _half_bits_of(_SYNC_BITS)
_REVERSED_SYNC = _half_bits_of(_SYNC_BITS[::-1])


def find_frames(edges: Edges, begin: float | None = None, end: float | None = None) -> RawFrames:
    """Return the frames that edges spell out, with times as those of the edges.

    Where the begin and the end of the whole signal are given, the edge that opens its very first frame and the
    one that closes its very last may be missing there: a pulse is complete all the same where the signal stands
    still between its one edge and the end for the time that is due.
    """
    if len(edges.times) < _LEAST_PULSES:
        return NO_FRAMES
    edges, half_bits = _with_ends(edges, _half_bit_lengths(np.diff(edges.times)), begin, end)
    times = edges.times
    lengths = np.diff(times)
    places = _places(lengths, half_bits)
    grid = np.zeros(int(places[-1]) + 1, np.uint8)
    grid[places] = 1
    starts, is_reverse = _sync_words(grid)
    halves = grid[starts[:, None] + np.arange(HALF_BITS)]
    is_sound = halves[:, ::2].all(axis=1)
    starts, is_reverse, halves = starts[is_sound], is_reverse[is_sound], halves[is_sound]
    bits = halves[:, 1::2]
    bits[is_reverse] = bits[is_reverse, ::-1]
    first, last = np.searchsorted(places, starts), np.searchsorted(places, starts + HALF_BITS)
    # Backwards the frame was written from its last edge on, and a rising edge reads as falling.
    rises = edges.is_rising[np.where(is_reverse, last, first)]
    return RawFrames(
        times[first], times[last], np.packbits(bits, axis=1, bitorder="little"), is_reverse, rises == is_reverse
    )


def _with_ends(edges: Edges, half_bits: Values, begin: float | None, end: float | None) -> tuple[Edges, Values]:
    """Return the edges with those at the ends of the signal, and the half-bit of each pulse."""
    times, is_rising = edges.times, edges.is_rising
    if begin is not None and _is_pulse(times[0] - begin, half_bits[0]):
        times, half_bits = np.append(begin, times), np.append(half_bits[0], half_bits)
        is_rising = np.append(~is_rising[:1], is_rising)
    if end is not None and _is_pulse(end - times[-1], half_bits[-1]):
        times, half_bits = np.append(times, end), np.append(half_bits, half_bits[-1])
        is_rising = np.append(is_rising, ~is_rising[-1:])
    return Edges(times, is_rising, edges.level), half_bits


def _is_pulse(length: float, half_bit: float) -> bool:
    return bool(min(abs(length - half_bit), abs(length - 2 * half_bit)) < _END_SLACK * half_bit)


def _half_bit_lengths(lengths: Values) -> Values:
    """Return the length of a half-bit about each pulse, in samples."""
    count = len(lengths)
    windows = -(-count // _WINDOW)
    if count <= _WINDOW:
        rows = lengths[None, :]
    else:
        rows = lengths[: count // _WINDOW * _WINDOW].reshape(-1, _WINDOW)
        if len(rows) < windows:
            rows = np.concatenate((rows, lengths[None, -_WINDOW:]))
    seed = np.partition(rows, min(_QUANTILE, count // 8), axis=1)[:, min(_QUANTILE, count // 8), None]
    for _ in range(2):
        is_short, is_plausible = rows < 1.5 * seed, (rows > 0.5 * seed) & (rows < 2.6 * seed)
        halves = (is_plausible * np.where(is_short, 1, 2)).sum(axis=1)
        seed = ((rows * is_plausible).sum(axis=1) / np.maximum(halves, 1))[:, None]
    middles = _WINDOW * (np.arange(len(rows)) + 0.5)
    middles[-1] = count - min(_WINDOW, count) / 2
    return np.interp(np.arange(count), middles, seed[:, 0])


def _places(lengths: Values, half_bits: Values) -> Numbers:
    """Return the half-bit at which each edge stands, counted from the first edge."""
    steps = np.clip(np.rint(lengths / half_bits), 0, _TOO_LONG).astype(np.int64)
    # A pulse that is too short is no half-bit. Far off the grid, it spoils the frame that it is in and no other.
    steps[steps == 0] = _TOO_LONG
    places = np.zeros(len(steps) + 1, np.int64)
    np.cumsum(steps, out=places[1:])
    return places


def _sync_words(grid: Slots) -> tuple[Numbers, Mask]:
    """Return where whole frames begin, as their sync words have it, and whether they run backwards."""
    data = grid.tobytes()
    found = sorted(
        [(place, False) for place in _all_in(data, _SYNC)] + [(p, True) for p in _all_in(data, _REVERSED_SYNC)]
    )
    places = np.array([place for place, _ in found], np.int64)
    is_reverse = np.array([reverse for _, reverse in found], bool)
    starts = np.where(is_reverse, places, places + len(_SYNC) - 1 - HALF_BITS)
    is_whole = (starts >= 0) & (starts + HALF_BITS < len(grid))
    is_whole[is_whole] = grid[starts[is_whole] + HALF_BITS] == 1
    return starts[is_whole], is_reverse[is_whole]


def _all_in(data: bytes, pattern: bytes) -> Iterator[int]:
    place = data.find(pattern)
    while place >= 0:
        yield place
        place = data.find(pattern, place + 1)
