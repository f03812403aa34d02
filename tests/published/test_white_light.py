"""White light: mired, correction filters, the Planckian locus, colour temperature and Duv."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from cuedeck.light.chromaticity import uv_1960_from_xy
from cuedeck.light.white import (
    White,
    mired_from_kelvin,
    planckian_xy,
    white_from_xy,
    xy_from_white,
)
from cuedeck.show.colours import WhiteColour, parse_colour
from tests.light.colour_science import colour


def filtered_kelvin(kelvin: int, shift_mired: int) -> float:
    """Return the colour temperature that a look asks for with the light of a source behind a filter."""
    asked = parse_colour(f"{kelvin} K {shift_mired:+} mired")
    assert isinstance(asked, WhiteColour)
    return asked.filtered_kelvin


@cache
def observer() -> Any:
    return colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(colour.SpectralShape(360, 830, 1))


@pytest.mark.parametrize(
    ("kelvin", "x", "y"),
    [
        # Computed: CIE 1931 2-degree observer, c2 = 1.4388e-2 m K, in steps of 1 nm from 360 to 830 nm.
        # The x of 4000 K is also printed in a published table.
        (1500, 0.58572, 0.39312),
        (2000, 0.52668, 0.41330),
        (2700, 0.45986, 0.41060),
        (2856, 0.44754, 0.40743),
        (3000, 0.43693, 0.40408),
        (3200, 0.42336, 0.39895),
        (4000, 0.38044, 0.37675),
        (4300, 0.36811, 0.36869),
        (5000, 0.34510, 0.35161),
        (5500, 0.33244, 0.34104),
        (5600, 0.33020, 0.33908),
        (6000, 0.32209, 0.33176),
        (6500, 0.31353, 0.32363),
        (10000, 0.28063, 0.28829),
    ],
)
def test_the_planckian_locus(kelvin: float, x: float, y: float) -> None:
    assert planckian_xy(kelvin) == pytest.approx((x, y), abs=6e-6)


def test_the_planckian_locus_is_that_of_the_reference_library_from_1000_to_40000_kelvin() -> None:
    # colour-science, Planck's law summed over the observer's curves: what the series was computed from.
    kelvins = np.append(1e6 / np.linspace(26, 999, 150), [1000, 40000])
    expected = colour.temperature.CCT_to_uv_Planck1900(kelvins, observer())
    ours = np.array([uv_1960_from_xy(planckian_xy(float(kelvin))) for kelvin in kelvins])
    assert np.abs(ours - expected).max() < 1.5e-9


@pytest.mark.parametrize(
    ("kelvin", "x", "y"),
    # Kang and others (2002), their approximation as worked in a public answer. It keeps within 1e-3.
    [(2856, 0.44707, 0.40751), (5003, 0.34491, 0.35152), (6504, 0.31343, 0.32360)],
)
def test_a_published_approximation_lies_beside_the_locus(kelvin: float, x: float, y: float) -> None:
    assert planckian_xy(kelvin) == pytest.approx((x, y), abs=1e-3)


@pytest.mark.parametrize(
    ("illuminant", "xy", "kelvin", "duv"),
    [
        # Chromaticities: CIE 15. Colour temperature and Duv: Ohno (2013), computed with colour-science.
        ("D65", (0.3127, 0.3290), 6504.3, 0.0032),
        ("D50", (0.3457, 0.3585), 5000.7, 0.0032),
        ("A", (0.44758, 0.40745), 2855.5, 0.0000),
        ("E", (1 / 3, 1 / 3), 5455.5, -0.0044),
    ],
)
def test_colour_temperature_and_duv_of_illuminants(
    illuminant: str, xy: tuple[float, float], kelvin: float, duv: float
) -> None:
    white = white_from_xy(xy)
    assert white is not None, illuminant
    assert white.kelvin == pytest.approx(kelvin, abs=0.06)
    assert white.duv == pytest.approx(duv, abs=5e-5)


def test_illuminant_a_is_a_black_body_of_2848_kelvin_by_the_c2_of_its_time() -> None:
    # CIE 15: illuminant A was laid down at 2848 K with c2 = 1.4350e-2, which is 2855.5 K with 1.4388e-2.
    white = white_from_xy((0.44757, 0.40744))
    assert white is not None
    assert white.kelvin == pytest.approx(2848 * 1.4388 / 1.4350, abs=0.2)
    assert white.duv == pytest.approx(0.0, abs=1e-5)


@pytest.mark.parametrize("duv", [-0.04, -0.02, -0.003, 0.003, 0.02, 0.04])
@pytest.mark.parametrize("kelvin", [1500, 2700, 3200, 4300, 5600, 6500, 10000, 20000])
def test_colour_temperature_and_duv_are_those_of_the_reference_library(kelvin: float, duv: float) -> None:
    # colour-science: the method of Ohno (2013), whose own step is about 1e-5 of the colour temperature.
    uv = np.array(uv_1960_from_xy(xy_from_white(White(kelvin, duv))))
    found_kelvin, found_duv = colour.temperature.uv_to_CCT_Ohno2013(uv, observer())
    assert found_kelvin == pytest.approx(kelvin, rel=1e-4)
    assert found_duv == pytest.approx(duv, abs=2e-6)


@pytest.mark.parametrize(
    ("xy", "kelvin"),
    # McCamy's formula (1992), at most 2 K out from 2856 to 6500 K: 449 n^3 + 3525 n^2 + 6823.3 n + 5520.33.
    [((0.3127, 0.3290), 6505.0806), ((0.44758, 0.40745), 2857.131), ((0.34567, 0.35850), 5002.097)],
)
def test_colour_temperature_is_near_the_formula_of_mccamy(xy: tuple[float, float], kelvin: float) -> None:
    white = white_from_xy(xy)
    assert white is not None
    assert white.kelvin == pytest.approx(kelvin, abs=2.0)


@pytest.mark.parametrize(
    ("warm", "cool", "mired"),
    [
        # A camera's reference guide: 1000 K is 83 mired between 3000 and 4000 K, 24 between 6000 and 7000 K.
        (3000, 4000, 83.3),
        (6000, 7000, 23.8),
        # Computed; 131 is printed for 3200 to 5500 K in a calculator of correction filters.
        (3200, 5500, 130.7),
        (3200, 5600, 133.9),
    ],
)
def test_a_difference_in_mired(warm: float, cool: float, mired: float) -> None:
    assert mired_from_kelvin(warm) - mired_from_kelvin(cool) == pytest.approx(mired, abs=0.05)


@pytest.mark.parametrize(
    ("kelvin", "shift_mired", "behind"),
    [
        # Shifts of generic orange (full, half, quarter) and blue (full, half, quarter, eighth) filters, as a maker
        # prints them; the colour temperatures behind them computed.
        (5600, 159, 2962),
        (5600, 109, 3477),
        (5600, 64, 4122),
        (3200, -137, 5698),
        (3200, -78, 4264),
        (3200, -35, 3604),
        (3200, -18, 3396),
    ],
)
def test_a_correction_filter_shifts_by_its_mired(kelvin: int, shift_mired: int, behind: float) -> None:
    assert filtered_kelvin(kelvin, shift_mired) == pytest.approx(behind, abs=0.5)


@pytest.mark.parametrize(
    ("shift_mired", "behind"),
    # What the trade calls full, half, quarter and eighth blue on 3200 K (common practice, rounded to 100 K).
    [(-137, 5700), (-78, 4300), (-35, 3600), (-18, 3400)],
)
def test_blue_filters_give_what_the_trade_calls_them(shift_mired: int, behind: float) -> None:
    assert filtered_kelvin(3200, shift_mired) == pytest.approx(behind, abs=50)
