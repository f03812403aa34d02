"""Lights of several emitters: which drive gives which colour, and the drives for a wanted one.

Amounts are linear light, 0 to 1 of each emitter at full drive; dimmer curves are applied elsewhere.
It owns the choice among the many mixtures of one colour: the brightest.

Light adds. Where amounts are mixed linearly, a = (1 - L) a0 + L a1, the chromaticity moves on the straight line
between the two, in every CIE diagram, and the luminance is the same mixture of both, so it never dips below the
darker nor rises over the brighter. Only the pace is wrong: the stronger light wins early. `mix_along_uv` puts the
pace right and leaves the path alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations, product

import numpy as np

from cuedeck.arrays import Index, Values
from cuedeck.light.chromaticity import Xy, is_possible, uv_prime_from_xy, xy_from_uv_prime, xy_from_xyz, xyz_from_xy

MOST_EMITTERS = 8
HIT_UV = 1e-9
"""How near in u'v' a mixture must come to count as on its target; far above rounding, far below any eye."""

_WEIGHTS = np.array([1.0, 15.0, 3.0])


@dataclass(frozen=True)
class Solution:
    """The drives for a wanted colour, and what they give."""

    amounts: Values
    """Linear light of each emitter, 0 to 1, shape (emitters,)."""
    reached_xy: Xy
    luminance: float
    """Relative to all emitters at full."""
    distance_uv: float
    """How far the reached colour is from the wanted one in CIE 1976 u'v'."""
    in_gamut: bool
    """Whether the wanted colour is a mixture of the emitters."""


@dataclass(frozen=True, eq=False)
class Emitters:
    """The emitters of one light, as measured at full drive."""

    xyz: Values
    """X, Y and Z of each in a column, shape (3, emitters)."""

    @classmethod
    def measured(cls, readings: Sequence[tuple[float, float, float]]) -> Emitters:
        """Return the emitters of readings of x, y and luminance, in any one unit of luminance.

        Raises ValueError unless there are one to eight, each of a possible chromaticity and a luminance above 0.
        """
        if not 1 <= len(readings) <= MOST_EMITTERS:
            raise ValueError(f"a light has one to {MOST_EMITTERS} emitters, not {len(readings)}")
        for x, y, luminance in readings:
            if not (is_possible((x, y)) and luminance > 0):
                raise ValueError(f"no emitter has x {x}, y {y} and luminance {luminance}")
        return cls(np.array([xyz_from_xy((x, y), luminance) for x, y, luminance in readings]).T)

    def luminance(self, amounts: Values) -> Values:
        """Return luminance relative to all emitters at full, shape (...), of amounts, shape (..., emitters)."""
        return np.asarray(amounts @ self.xyz[1] / self.xyz[1].sum())

    def weight(self, amounts: Values) -> Values:
        """Return X + 15Y + 3Z, shape (...), of amounts, shape (..., emitters): the pull of a light in u'v'."""
        return np.asarray(amounts @ (_WEIGHTS @ self.xyz))

    def chromaticity(self, amounts: Values) -> Xy | None:
        """Return x and y of amounts, shape (emitters,); None where they are dark."""
        big_x, big_y, big_z = (float(part) for part in self.xyz @ amounts)
        return xy_from_xyz((big_x, big_y, big_z))

    def solve(self, target: Xy) -> Solution:
        """Return the brightest amounts of a chromaticity, or of the nearest that the emitters can mix.

        Nearest is least in Euclidean distance on CIE 1976 u'v'. Where several mixtures are equally bright,
        which takes three emitters on one line of the diagram, those named first are driven fullest.
        """
        wanted = np.array(uv_prime_from_xy(target))
        mixtures = self._mixtures_at(wanted)
        in_gamut = len(mixtures) > 0
        if not in_gamut:
            mixtures = self._mixtures_at(_nearest_on_segments(wanted, self._uv_prime))
        amounts = self._brightest(mixtures)
        reached = self._uv_prime @ (amounts * self._weights) / self.weight(amounts)
        return Solution(
            amounts=amounts,
            reached_xy=xy_from_uv_prime((float(reached[0]), float(reached[1]))),
            luminance=float(self.luminance(amounts)),
            distance_uv=float(np.hypot(*(reached - wanted))),
            in_gamut=in_gamut,
        )

    @property
    def _weights(self) -> Values:
        return np.asarray(_WEIGHTS @ self.xyz)

    @property
    def _uv_prime(self) -> Values:
        """Return u' and v' of each emitter, shape (2, emitters)."""
        return np.array([4.0 * self.xyz[0], 9.0 * self.xyz[1]]) / self._weights

    def _mixtures_at(self, wanted: Values) -> Values:
        """Return amounts that mix to u' and v', shape (mixtures, emitters), the brightest among them; or none.

        A linear program: the most luminance such that the pulls of the emitters on the wanted point, in u' and
        in v', cancel. Its optimum is at a corner, where at most two amounts are neither 0 nor 1. There are few
        enough corners to compute them all, and to keep those that land on the point.
        """
        pulls = (self._uv_prime - wanted[:, None]) * self._weights
        corners = _corner_amounts(pulls)
        light = corners @ self._weights
        hit = (light > 0) & (np.hypot(*(pulls @ corners.T)) <= HIT_UV * light)
        return np.asarray(corners[hit])

    def _brightest(self, mixtures: Values) -> Values:
        luminance = self.luminance(mixtures)
        equally_bright = mixtures[luminance >= luminance.max() * (1.0 - HIT_UV)]
        keys = -equally_bright.round(9).T[::-1]
        return np.asarray(equally_bright[np.lexsort(keys)[0]])


def _corner_amounts(pulls: Values) -> Values:
    """Return amounts, shape (corners, emitters), that cancel the pulls, shape (2, emitters), where they can.

    Two further emitters that pull straight along u' and v' and give no light stand in where fewer than two
    amounts are between 0 and 1, or where all emitters lie on one line.
    """
    count = pulls.shape[1]
    held, pairs = _corners(count)
    (a, c), (b, d) = (np.hstack([pulls, np.eye(2)])[:, pairs[:, n]] for n in (0, 1))
    u, v = -pulls @ held[:, :count].T
    determinant = a * d - b * c
    solvable = determinant != 0
    amounts = held[solvable]
    rows = np.arange(len(amounts))
    amounts[rows, pairs[solvable, 0]] = (d * u - b * v)[solvable] / determinant[solvable]
    amounts[rows, pairs[solvable, 1]] = (a * v - c * u)[solvable] / determinant[solvable]
    return np.asarray(np.clip(amounts[:, :count], 0.0, 1.0) + 0.0)  # no minus 0


@cache
def _corners(count: int) -> tuple[Values, Index]:
    """Return what each corner holds at 0 or 1, shape (corners, count + 2), and which two it leaves free."""
    held, pairs = [], []
    for pair in combinations(range(count + 2), 2):
        kept = [n for n in range(count) if n not in pair]
        for values in product((0.0, 1.0), repeat=len(kept)):
            row = np.zeros(count + 2)
            row[kept] = values
            held.append(row)
            pairs.append(pair)
    return np.array(held), np.array(pairs, dtype=np.intp)


def _nearest_on_segments(point: Values, ends: Values) -> Values:
    """Return the nearest point, shape (2,), to one outside on the lines between any two ends, shape (2, ends).

    Outside a convex hull the nearest point of the hull lies on its edge, and each edge is one of the lines.
    """
    start, end = ends[:, :, None], ends[:, None, :]
    along = end - start
    length = (along**2).sum(axis=0)
    share = ((point[:, None, None] - start) * along).sum(axis=0) / np.where(length > 0, length, 1.0)
    places = (start + np.clip(share, 0.0, 1.0) * along).reshape(2, -1)
    return np.asarray(places[:, np.argmin(np.hypot(*(places - point[:, None])))])


def mix_along_uv(progress: Values, weight_from: Values | float, weight_to: Values | float) -> Values:
    """Return L, 0 to 1, with which the colour has gone the share `progress` of its way in CIE 1976 u'v'.

    The weight of a light is X + 15Y + 3Z (Emitters.weight); progress, 0 to 1, and the weights broadcast. With s
    the progress, L = s S0 / (s S0 + (1 - s) S1), which solves s = L S1 / ((1 - L) S0 + L S1), the share that
    the second light has in u' and v' of the mixture. A dark end has no colour to come from or to go to: then
    L is the progress.
    """
    s = np.asarray(progress, dtype=np.float64)
    forward, backward = s * weight_from, (1.0 - s) * weight_to
    both_lit = (np.asarray(weight_from) > 0) & (np.asarray(weight_to) > 0)
    mixed = forward / np.where(both_lit, forward + backward, 1.0)
    return np.where(both_lit, mixed, s)
