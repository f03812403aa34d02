"""Edges of a square wave in noise: where a signal crosses from one side of its own middle to the other.

A running mean over about two thirds of the shortest pulse takes most of the noise away and keeps every pulse.
The middle and the level are those of the neighbourhood, so that an offset, hum and a changing level do not
matter. A crossing counts once the signal has gone clearly past the middle (hysteresis); its time is where the
line between the last sample on one side and the first on the other passes the middle. Where the signal stays at
the middle for longer than any pulse, it begins and ends with an edge.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from cuedeck.arrays import Mask, Numbers, Sound, Values

_BLOCK = 32
"""Samples that share a middle and a level."""
_HYSTERESIS = 0.45
"""Past the middle by this part of the root mean square, either way."""
_LEAST_LEVEL = 5e-5
"""Under -86 dBFS nothing is looked for: it is less than two steps of 16 bits."""
_QUIET_WIDTHS = 5
"""So many times the running mean at the middle is silence: a pulse is shorter."""
_EDGES_FOR_LEVEL = 400


class Edges(NamedTuple):
    """Edges in order."""

    times: Values
    """In samples from the start of the signal."""
    is_rising: Mask
    level: float
    """Half the distance from crest to crest, where full scale is 1; 0 where there are no edges."""


NO_EDGES = Edges(np.empty(0), np.empty(0, bool), level=0.0)


def find_edges(signal: Sound, width: int, neighbourhood: int) -> Edges:
    """Return the edges of a signal, with a running mean of so many samples, and a neighbourhood of so many."""
    count = len(signal) - width + 1
    if count < 2 * _BLOCK:
        return NO_EDGES
    rows = _running_sums(signal, width, count)
    middle, level = _neighbourhood(rows, max(1, round(neighbourhood / _BLOCK)))
    margin = np.maximum(_HYSTERESIS * level, np.float32(_LEAST_LEVEL * width))
    above = rows > (middle + margin)[:, None]
    below = rows < (middle - margin)[:, None]
    side = (above.view(np.int8) - below.view(np.int8)).ravel()[:count]
    last, first, is_rising = _crossings(side, _QUIET_WIDTHS * width)
    if not len(last):
        return NO_EDGES
    sums = rows.ravel()
    at_middle = middle[first // _BLOCK]
    before, after = sums[last] - at_middle, sums[first] - at_middle
    rise = before - after
    share = np.clip(np.divide(before, rise, out=np.full(len(rise), 0.5), where=rise != 0), 0, 1)
    times = last + (first - last) * share + (width - 1) / 2
    return Edges(times, is_rising, _crest(times - (width - 1) / 2, sums, middle) / width)


def _running_sums(signal: Sound, width: int, count: int) -> Sound:
    """Return the sums of so many samples each, in rows of a block; the last is repeated to fill its row."""
    sums = np.empty(-(-count // _BLOCK) * _BLOCK, np.float32)
    running = sums[:count]
    running[:] = 0
    power, size, offset = signal, 1, 0
    while True:  # a sum over 7 is one over 1, one over 2 and one over 4
        if width & size:
            running += power[offset : offset + count]
            offset += size
        if 2 * size > width:
            break
        power = power[:-size] + power[size:]
        size *= 2
    sums[count:] = sums[count - 1]
    return sums.reshape(-1, _BLOCK)


def _neighbourhood(rows: Sound, reach: int) -> tuple[Sound, Sound]:
    """Return the middle and the root mean square about it for each row, over so many rows around it."""
    totals = np.zeros((2, len(rows) + 1))
    np.cumsum(rows @ np.ones(_BLOCK, np.float32), out=totals[0, 1:], dtype=np.float64)
    np.cumsum(np.einsum("ij,ij->i", rows, rows), out=totals[1, 1:], dtype=np.float64)
    numbers = np.arange(len(rows))
    low = np.maximum(numbers - reach // 2, 0)
    high = np.minimum(low + reach, len(rows))
    low = np.maximum(high - reach, 0)
    mean, square = (totals[:, high] - totals[:, low]) / (_BLOCK * (high - low))
    return mean.astype(np.float32), np.sqrt(np.maximum(square - mean * mean, 0)).astype(np.float32)


def _crossings(side: npt.NDArray[np.int8], quiet: int) -> tuple[Numbers, Numbers, Mask]:
    """Return for each crossing the last sample before it and the first after it, and whether it rises.

    A run of more samples than `quiet` at the middle is a side of its own; a shorter one is on its way across.
    """
    starts = np.flatnonzero(side[1:] != side[:-1]) + 1
    runs = np.concatenate(([0], starts))
    ends = np.append(starts, len(side)) - 1
    sides = side[runs]
    clear = np.flatnonzero((sides != 0) | (ends - runs >= quiet))
    sides = sides[clear]
    change = np.flatnonzero(sides[1:] != sides[:-1])
    return ends[clear[change]], runs[clear[change + 1]], sides[change + 1] > sides[change]


def _crest(times: Values, sums: Sound, middle: Sound) -> float:
    """Return how far the signal is from its middle, halfway through the longer pulses."""
    some = times[:_EDGES_FOR_LEVEL]
    lengths = np.diff(some)
    long = np.flatnonzero(lengths > lengths.mean()) if len(lengths) else lengths.astype(np.int64)
    if not len(long):
        return 0.0
    places = (some[long] + lengths[long] / 2).astype(np.int64)
    return float(np.median(np.abs(sums[places] - middle[places // _BLOCK])))
