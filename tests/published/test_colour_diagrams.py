"""CIE 1960 uv and 1976 u'v', against the reference library."""

from __future__ import annotations

import numpy as np
import pytest

from cuedeck.light.chromaticity import Xy, uv_1960_from_xy, uv_prime_from_xy, xy_from_uv_prime, xyz_from_xy
from tests.light.colour_science import colour

# CIE 15: illuminants A, D50, D65 and E for the 2-degree observer. IEC 61966-2-1: the primaries of sRGB.
CHROMATICITIES = [
    (0.44758, 0.40745),
    (0.34567, 0.35850),
    (0.31271, 0.32902),
    (1 / 3, 1 / 3),
    (0.64, 0.33),
    (0.30, 0.60),
    (0.15, 0.06),
]


def test_d65_on_the_diagram_of_1976() -> None:
    # u'n and v'n of D65 in the CIE 1976 formulas, from memory: 0.1978, 0.4683.
    assert uv_prime_from_xy((0.3127, 0.3290)) == pytest.approx((0.1978, 0.4683), abs=5e-5)


def test_equal_energy_is_at_4_over_19_and_9_over_19() -> None:
    # CIE 15: u' = 4X / (X + 15Y + 3Z), v' = 9Y / (X + 15Y + 3Z), with X = Y = Z.
    assert uv_prime_from_xy((1 / 3, 1 / 3)) == pytest.approx((4 / 19, 9 / 19), abs=1e-15)


@pytest.mark.parametrize("xy", CHROMATICITIES)
def test_the_diagrams_are_those_of_the_reference_library(xy: Xy) -> None:
    xyz = colour.xyY_to_XYZ(np.array([*xy, 0.7]))
    assert xyz_from_xy(xy, 0.7) == pytest.approx(xyz, abs=1e-12)
    assert uv_prime_from_xy(xy) == pytest.approx(colour.xy_to_Luv_uv(xy), abs=1e-12)
    assert uv_1960_from_xy(xy) == pytest.approx(colour.UCS_to_uv(colour.XYZ_to_UCS(xyz)), abs=1e-12)
    assert xy_from_uv_prime(uv_prime_from_xy(xy)) == pytest.approx(xy, abs=1e-12)
