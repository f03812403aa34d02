"""Drives for a colour, on published sets of primaries: those of screens, whose white is CIE D65."""

from __future__ import annotations

import numpy as np
import pytest

from cuedeck.light.chromaticity import Xy, uv_prime_from_xy
from cuedeck.light.emitters import Emitters
from tests.light.colour_science import colour

D65 = (0.3127, 0.3290)
SRGB = [(0.64, 0.33, 0.2126), (0.30, 0.60, 0.7152), (0.15, 0.06, 0.0722)]
"""IEC 61966-2-1: the luminances are the row of Y."""
BT_2020 = [(0.708, 0.292, 0.2627), (0.170, 0.797, 0.6780), (0.131, 0.046, 0.0593)]
"""Rec. ITU-R BT.2020."""
DISPLAY_P3 = [(0.680, 0.320, 0.228975), (0.265, 0.690, 0.691739), (0.150, 0.060, 0.079287)]
"""SMPTE EG 432-1 primaries with D65; the luminances computed from the two."""
SETS = [("sRGB", SRGB), ("ITU-R BT.2020", BT_2020), ("Display P3", DISPLAY_P3)]


@pytest.mark.parametrize(("name", "primaries"), SETS)
def test_the_white_of_a_screen_takes_all_its_primaries_full(
    name: str, primaries: list[tuple[float, float, float]]
) -> None:
    # The luminances are printed to four places, and blue, the smallest, counts the most in them.
    solution = Emitters.measured(primaries).solve(D65)
    assert solution.in_gamut, name
    assert solution.amounts == pytest.approx([1.0, 1.0, 1.0], abs=1e-3)
    assert solution.reached_xy == pytest.approx(D65, abs=1e-12)


@pytest.mark.parametrize(("name", "primaries"), SETS)
@pytest.mark.parametrize("linear", [(1.0, 0.5, 0.25), (0.1, 0.2, 1.0), (0.0, 1.0, 0.6), (1.0, 0.0, 0.0)])
def test_the_drives_of_a_colour_are_its_linear_light(
    name: str, primaries: list[tuple[float, float, float]], linear: tuple[float, float, float]
) -> None:
    # colour-science, each set's own matrix; a screen of three primaries has one way to mix each colour.
    space = colour.RGB_COLOURSPACES[name]
    xyz = np.asarray(space.matrix_RGB_to_XYZ) @ np.array(linear)
    solution = Emitters.measured(primaries).solve(tuple(colour.XYZ_to_xy(xyz)))
    assert solution.amounts == pytest.approx(linear, abs=2e-3)
    assert solution.distance_uv < 2e-4


@pytest.mark.parametrize(("name", "primaries"), SETS)
@pytest.mark.parametrize("target", [(0.4476, 0.4075), (0.3457, 0.3585), (0.3333, 0.3333), (0.25, 0.25)])
def test_a_colour_in_gamut_is_reached_exactly(
    name: str, primaries: list[tuple[float, float, float]], target: Xy
) -> None:
    emitters = Emitters.measured(primaries)
    solution = emitters.solve(target)
    assert solution.in_gamut, name
    assert solution.distance_uv < 1e-12
    assert emitters.chromaticity(solution.amounts) == pytest.approx(target, abs=1e-12)


@pytest.mark.parametrize("target", [(0.170, 0.797), (0.708, 0.292), (0.131, 0.046), (0.10, 0.35), (0.40, 0.15)])
def test_the_nearest_colour_of_a_screen_is_that_of_a_dense_scan(target: Xy) -> None:
    # Primaries of Rec. ITU-R BT.2020, a cyan and a magenta, all outside sRGB. The scan mixes in steps of 1/400
    # of the way between corners of u'v', so it finds the nearest to 1e-3.
    solution = Emitters.measured(SRGB).solve(target)
    first, second = np.meshgrid(np.linspace(0, 1, 401), np.linspace(0, 1, 401))
    shares = np.stack([first, second, 1 - first - second])[:, first + second <= 1 + 1e-12]
    corners = np.array([uv_prime_from_xy(primary[:2]) for primary in SRGB])
    scanned = np.hypot(*(shares.T @ corners - uv_prime_from_xy(target)).T).min()
    assert not solution.in_gamut
    assert solution.distance_uv <= scanned + 1e-12
    assert solution.distance_uv == pytest.approx(scanned, abs=1e-3)
