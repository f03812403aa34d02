"""White light: the black body, mired, colour temperature and Duv.

The black body's chromaticity is kept as two Chebyshev series in mired, u and v on the CIE 1960 diagram.
They were computed with colour-science 0.4.7 from the CIE 1931 2-degree observer and Planck's law with
c2 = 1.4388e-2 m K, in sums of 1 nm from 360 to 830 nm, at 400 Chebyshev nodes from 10 to 1010 mired, and
cut after the 24th degree. Against the sums themselves they are wrong by at most 1.1e-9 in u or v from
1000 to 40000 K (measured), which is under 0.01 K at the hot end.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from math import hypot
from typing import NamedTuple

from cuedeck.light.chromaticity import Uv, Xy, uv_1960_from_xy, xy_from_uv_1960

LEAST_KELVIN = 1000.0
MOST_KELVIN = 40000.0
MOST_DUV = 0.05
"""How far from the locus a colour temperature has a meaning (CIE 15). The locus nowhere bends tighter than a
circle of 0.1, so that within this distance one point of it is the nearest."""

_GRID_SPACING_UV = 0.002
"""Points of the locus five mired apart are nowhere further from each other than this."""
_MIDDLE_MIRED, _HALF_SPAN_MIRED = 510.0, 500.0
_U = (
    *(0.30976925869, 0.14258713531, 0.003698534, -0.00756595987, 0.00219620934, -0.00031194633, -0.0001017318),
    *(0.00011293113, -6.092681e-05, 2.406516e-05, -5.98066e-06, -9.4646e-07, 2.4352e-06, -1.84804e-06, 9.0977e-07),
    *(-2.6364e-07, -2.588e-08, 9.277e-08, -7.043e-08, 3.397e-08, -9.64e-09, -9.2e-10, 3.29e-09, -2.5e-09, 1.22e-09),
)
_V = (
    *(0.33442682567, 0.03878411452, -0.02538177536, 0.00711897745, 0.00025633082, -0.00135380893, 0.00081392616),
    *(-0.00031099861, 7.339617e-05, 6.01667e-06, -2.125261e-05, 1.66579e-05, -9.0076e-06, 3.44325e-06, -5.8144e-07),
    *(-4.1764e-07, 5.1099e-07, -3.2384e-07, 1.3987e-07, -3.344e-08, -8.21e-09, 1.557e-08, -1.096e-08, 5.19e-09),
    -1.54e-09,
)


class White(NamedTuple):
    """A colour near the black body's."""

    kelvin: float
    """Correlated colour temperature."""
    duv: float
    """Signed distance from the locus on the CIE 1960 diagram: above 0 greener, below 0 pinker (ANSI C78.377)."""


def mired_from_kelvin(kelvin: float) -> float:
    """Return micro reciprocal degrees: one million over the colour temperature."""
    return 1e6 / kelvin


def planckian_xy(kelvin: float) -> Xy:
    """Return the CIE 1931 chromaticity of a black body. Raises ValueError outside 1000 to 40000 K."""
    return xy_from_white(White(kelvin, 0.0))


def xy_from_white(white: White) -> Xy:
    """Return the chromaticity so far from the locus, square to it on the CIE 1960 diagram.

    Raises ValueError outside 1000 to 40000 K or 0.05 from the locus, where the inverse has no answer.
    """
    if not _is_within_range(white):
        raise ValueError(f"a colour temperature is from 1000 to 40000 K and within 0.05 of the locus, not {white}")
    (u, v), (du, dv) = _locus(mired_from_kelvin(white.kelvin))
    length = hypot(du, dv)
    return xy_from_uv_1960((u - white.duv * dv / length, v + white.duv * du / length))


def white_from_xy(xy: Xy) -> White | None:
    """Return the colour temperature of the locus's nearest point on the CIE 1960 diagram, and the distance.

    None where that point is not from 1000 to 40000 K, or is further than 0.05 away. The inverse of
    xy_from_white. Definition: CIE 15.
    """
    u, v = uv_1960_from_xy(xy)

    def lead(mired: float) -> float:
        """How far the point lies ahead along the locus, towards more mired; 0 where it is abreast."""
        (at_u, at_v), (du, dv) = _locus(mired)
        return (u - at_u) * du + (v - at_v) * dv

    grid = _grid()
    # Nearer than this the locus has one nearest point, and it lies between the neighbours of the grid's nearest.
    distance, nearest = min((hypot(u - at_u, v - at_v), n) for n, (_, (at_u, at_v)) in enumerate(grid))
    if distance > MOST_DUV + _GRID_SPACING_UV or nearest in (0, len(grid) - 1):
        return None
    mired = _root(lead, grid[nearest - 1][0], grid[nearest + 1][0])
    (at_u, at_v), (du, dv) = _locus(mired)
    duv = ((v - at_v) * du - (u - at_u) * dv) / hypot(du, dv)
    white = White(1e6 / mired, duv)
    return white if _is_within_range(white) else None


def _is_within_range(white: White) -> bool:
    """Whether colour temperature and distance are in range, or out by no more than rounding on the way back."""
    return LEAST_KELVIN - 1e-6 <= white.kelvin <= MOST_KELVIN + 1e-3 and abs(white.duv) <= MOST_DUV + 1e-9


def _locus(mired: float) -> tuple[Uv, Uv]:
    """Return u and v of the black body, and how each changes with a mired."""
    at = (mired - _MIDDLE_MIRED) / _HALF_SPAN_MIRED
    (u, du), (v, dv) = _series(_U, at), _series(_V, at)
    return (u, v), (du / _HALF_SPAN_MIRED, dv / _HALF_SPAN_MIRED)


def _series(coefficients: tuple[float, ...], at: float) -> tuple[float, float]:
    """Return the value and the slope of a Chebyshev series at -1 to 1 (Clenshaw's recurrence)."""
    value, value_before, slope, slope_before = 0.0, 0.0, 0.0, 0.0
    for coefficient in reversed(coefficients[1:]):
        slope, slope_before = 2 * value + 2 * at * slope - slope_before, slope
        value, value_before = 2 * at * value - value_before + coefficient, value
    return at * value - value_before + coefficients[0], value + at * slope - slope_before


@cache
def _grid() -> tuple[tuple[float, Uv], ...]:
    """Return points of the locus at every fifth mired, two past each end of the range."""
    return tuple((mired, _locus(mired)[0]) for mired in range(15, 1011, 5))


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Return where a function falls through 0 between low and high, by false position.

    The locus is so nearly straight between points of the grid that this is quick.
    """
    at_low, at_high = function(low), function(high)
    middle = low
    for _ in range(60):
        before, middle = middle, (low * at_high - high * at_low) / (at_high - at_low)
        at_middle = function(middle)
        if at_middle == 0 or abs(middle - before) < 1e-9:
            break
        if at_middle > 0:
            low, at_low = middle, at_middle
        else:
            high, at_high = middle, at_middle
    return middle
