"""Chromaticity: which colour light has, apart from how much of it there is, in three diagrams of the CIE.

All are of the CIE 1931 2-degree observer, and each conversion has its inverse here. Distances between
colours are taken on 1976 u'v'; the colour temperature of a white that is off the locus on 1960 uv, which
is u' and two thirds of v'. Formulas: CIE 15.
"""

from __future__ import annotations

Xy = tuple[float, float]
"""CIE 1931 x and y."""
Uv = tuple[float, float]
"""u and v on the CIE 1960 diagram, or u' and v' on that of 1976; the name of the function says which."""
Xyz = tuple[float, float, float]
"""CIE 1931 tristimulus values X, Y and Z; Y is the luminance."""


def is_possible(xy: Xy) -> bool:
    """Return whether x and y can belong to light: none of X, Y and Z below 0, and Y above it."""
    x, y = xy
    return x >= 0 and y > 0 and x + y <= 1


def uv_prime_from_xy(xy: Xy) -> Uv:
    """Return CIE 1976 u' and v'."""
    x, y = xy
    share = -2 * x + 12 * y + 3
    return 4 * x / share, 9 * y / share


def xy_from_uv_prime(uv_prime: Uv) -> Xy:
    """Return CIE 1931 x and y; the inverse of uv_prime_from_xy."""
    u, v = uv_prime
    share = 6 * u - 16 * v + 12
    return 9 * u / share, 4 * v / share


def uv_1960_from_xy(xy: Xy) -> Uv:
    """Return CIE 1960 u and v."""
    u, v = uv_prime_from_xy(xy)
    return u, v * 2 / 3


def xy_from_uv_1960(uv: Uv) -> Xy:
    """Return CIE 1931 x and y; the inverse of uv_1960_from_xy."""
    u, v = uv
    return xy_from_uv_prime((u, v * 3 / 2))


def xyz_from_xy(xy: Xy, luminance: float) -> Xyz:
    """Return X, Y and Z of light of a chromaticity and a luminance Y. Raises ValueError where y is not above 0."""
    x, y = xy
    if y <= 0:
        raise ValueError("light of y = 0 has no luminance")
    return luminance * x / y, luminance, luminance * (1 - x - y) / y


def xy_from_xyz(xyz: Xyz) -> Xy | None:
    """Return x and y of light; None where there is no light."""
    total = sum(xyz)
    return (xyz[0] / total, xyz[1] / total) if total > 0 else None
