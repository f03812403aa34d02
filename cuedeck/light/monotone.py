"""Monotone cubic curves through points, both ways.

Between two points a curve is the cubic with given slopes at both; with the slopes of `through` it never
turns back where the points do not. Each stretch is computed from the nearer of its two points, so every
point is met exactly from both sides, in both directions. Only operations that IEEE 754 rounds correctly
are used (+ - * / and the square root), in a fixed order for each value: the same value gives the same
bits in any array, on any machine.

The slopes are those of Fritsch and Butland, "A Method for Constructing Local Monotone Piecewise Cubic
Interpolants", SIAM J. Sci. Stat. Comput. 5 (1984) 300-304: the weighted harmonic mean of the slopes to
both sides, for points at any distance. At the two ends it is the three-point slope, kept to one that
does not turn back (Moler, "Numerical Computing with MATLAB", 2004, chapter 3.6; that page from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple, Self

import numpy as np

from cuedeck.arrays import Index, Values

_AT_ONCE = 16_384
"""Values solved at a time, so that what lies between the steps stays in the processor's cache: twice as quick."""
_NEWTON_STEPS = 4
"""The closed form of the quadratic is off by a few percent, and each step squares that."""
_BISECTIONS = 64
_CLOSE = 8 * float(np.finfo(np.float64).eps)
"""How near to what was asked, relative to it, a solution lies: the rounding of the cubic itself."""
_TINY = float(np.finfo(np.float64).tiny)
"""Added to a divisor that may be zero where the dividend is."""


class _Halves(NamedTuple):
    """The curve in halves of stretches, each computed from the point at its outer end.

    With s from 0 at the point to 1/2 in the middle, x = from_x + step_x * s, and
    y = from_y + sign * (a s + b s^2 + c s^3), whose bracket rises with s.
    """

    x: Values
    """Where they begin, and where the last one ends."""
    y: Values
    from_x: Values
    from_y: Values
    step_x: Values
    """The length of the stretch, negative where the point is the right one."""
    sign: Values
    a: Values
    b: Values
    c: Values
    lowest_x: Values
    """The lowest x at which the curve has the height of the point."""


@dataclass(frozen=True)
class MonotoneCubic:
    """A curve that never falls, equal to another with the same points and slopes.

    `x` rises strictly, `y` never falls, and no slope is negative or more than three times that of the
    stretches beside it (Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246: enough to be monotone).
    """

    x: tuple[float, ...]
    y: tuple[float, ...]
    slopes: tuple[float, ...]

    @classmethod
    def through(cls, points: Sequence[tuple[float, float]]) -> Self:
        """Return the curve through at least two points (x, y), x rising and y never falling."""
        x, y = zip(*points, strict=True)
        return cls(x, y, tuple(_slopes(x, y)))

    def at(self, x: Values) -> Values:
        """Return the height of the curve, any shape; outside the points it is that of the first or last."""
        halves = self._halves
        inside = np.clip(x, self.x[0], self.x[-1])
        index = _half_of(inside, halves.x)
        s = (inside - halves.from_x[index]) / halves.step_x[index]
        risen = ((halves.c[index] * s + halves.b[index]) * s + halves.a[index]) * s
        return np.asarray(halves.from_y[index] + halves.sign[index] * risen, dtype=np.float64)

    def inverse(self, y: Values) -> Values:
        """Return where the curve has a height, any shape; the lowest such x where there are many.

        Heights outside those of the points are taken as the first or the last.
        """
        flat = np.ravel(np.asarray(y, dtype=np.float64))
        found = np.empty_like(flat)
        for start in range(0, len(flat), _AT_ONCE):
            part = slice(start, start + _AT_ONCE)
            found[part] = self._inverse(flat[part])
        return found.reshape(np.shape(y))

    def _inverse(self, y: Values) -> Values:
        halves = self._halves
        inside = np.clip(y, self.y[0], self.y[-1])
        index = _half_of(inside, halves.y)
        asked = (inside - halves.from_y[index]) * halves.sign[index]
        s = _solve(halves.a[index], halves.b[index], halves.c[index], asked)
        found = halves.from_x[index] + halves.step_x[index] * s
        return np.where(asked == 0, halves.lowest_x[index], found)

    @cached_property
    def _halves(self) -> _Halves:
        x, y = np.array(self.x), np.array(self.y)
        slopes = np.array(self.slopes)
        step, rise = np.diff(x), np.diff(y)
        left, right = slopes[:-1] * step, slopes[1:] * step
        middle_y = y[:-1] + (rise / 2 + (left - right) / 8)
        c = left + right - 2 * rise
        lowest_x = x[np.searchsorted(y, y)]
        return _Halves(
            x=np.append(_alternate(x[:-1], x[:-1] + step / 2), x[-1]),
            y=np.append(_alternate(y[:-1], middle_y), y[-1]),
            from_x=_alternate(x[:-1], x[1:]),
            from_y=_alternate(y[:-1], y[1:]),
            step_x=_alternate(step, -step),
            sign=_alternate(np.ones(len(step)), -np.ones(len(step))),
            a=_alternate(left, right),
            b=_alternate(3 * rise - 2 * left - right, 3 * rise - 2 * right - left),
            c=_alternate(c, c),
            lowest_x=_alternate(lowest_x[:-1], lowest_x[1:]),
        )


def _alternate(one: Values, other: Values) -> Values:
    return np.stack([one, other], axis=-1).reshape(-1)


def _half_of(values: Values, ends: Values) -> Index:
    """Return in which half each value lies; a value at an end belongs to the half that begins there."""
    return np.asarray(np.searchsorted(ends[1:-1], values, side="right"), dtype=np.intp)


def _slopes(x: Sequence[float], y: Sequence[float]) -> list[float]:
    steps = [after - before for before, after in pairwise(x)]
    rises = [(after - before) / step for (before, after), step in zip(pairwise(y), steps, strict=True)]
    if len(rises) == 1:
        return [rises[0], rises[0]]
    inner = [
        _harmonic_mean(*of_steps, *of_rises)
        for of_steps, of_rises in zip(pairwise(steps), pairwise(rises), strict=True)
    ]
    first = _end_slope(steps[0], steps[1], rises[0], rises[1])
    last = _end_slope(steps[-1], steps[-2], rises[-1], rises[-2])
    return [first, *inner, last]


def _harmonic_mean(step: float, next_step: float, rise: float, next_rise: float) -> float:
    if rise <= 0 or next_rise <= 0:
        return 0.0
    weight, next_weight = 2 * next_step + step, next_step + 2 * step
    return (weight + next_weight) / (weight / rise + next_weight / next_rise)


def _end_slope(step: float, next_step: float, rise: float, next_rise: float) -> float:
    """Return the three-point slope; where no stretch falls it is at most twice the rise, so only its sign is kept."""
    return max(((2 * step + next_step) * rise - step * next_rise) / (step + next_step), 0.0)


def _solve(a: Values, b: Values, c: Values, asked: Values) -> Values:
    """Return s, 0 to 1/2, at which a s + b s^2 + c s^3, rising there, is what was asked.

    Newton's steps from the root of the quadratic; the few that are not there after a fixed number of
    them (a cubic that is almost flat) are bisected.
    """
    s = 2 * asked / (a + np.sqrt(np.maximum(a * a + 4 * b * asked, 0.0)) + _TINY)
    for _ in range(_NEWTON_STEPS):
        np.clip(s, 0.0, 0.5, out=s)
        miss = ((c * s + b) * s + a) * s - asked
        s -= miss / ((3 * c * s + 2 * b) * s + a + _TINY)
    s = np.clip(s, 0.0, 0.5)
    miss = ((c * s + b) * s + a) * s - asked
    far = np.abs(miss) > _CLOSE * asked
    if far.any():
        s[far] = _bisect(a[far], b[far], c[far], asked[far])
    return np.asarray(s, dtype=np.float64)


def _bisect(a: Values, b: Values, c: Values, asked: Values) -> Values:
    low, high = np.zeros_like(asked), np.full_like(asked, 0.5)
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        is_below = ((c * middle + b) * middle + a) * middle < asked
        low, high = np.where(is_below, middle, low), np.where(is_below, high, middle)
    return (low + high) / 2
