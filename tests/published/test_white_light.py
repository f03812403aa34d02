"""White light: mired, the Planckian locus, and the screen's encoding."""

from __future__ import annotations

import pytest
from cuedeck.light.colour import mired_from_kelvin, planckian_xy, screen_colour_of_white, screen_value_of_light
from hypothesis import given
from hypothesis import strategies as st


@pytest.mark.parametrize(
    ("kelvin", "x", "y"),
    [
        # Kang and others (2002), values of the approximation as worked in a public answer.
        (2856, 0.44707, 0.40751),
        (5003, 0.34491, 0.35152),
        (6504, 0.31343, 0.32360),
    ],
)
def test_the_approximation_of_the_planckian_locus(kelvin: float, x: float, y: float) -> None:
    assert planckian_xy(kelvin) == pytest.approx((x, y), abs=6e-6)


@pytest.mark.parametrize(
    ("kelvin", "x", "y"),
    [
        # The locus itself: CIE 1931 2 degree observer, c2 = 1.4388e-2 m K, computed in steps of 1 nm.
        (2000, 0.52668, 0.41330),
        (2700, 0.45986, 0.41060),
        (3200, 0.42336, 0.39895),
        (4000, 0.38044, 0.37675),
        (4300, 0.36811, 0.36869),
        (5600, 0.33020, 0.33908),
        (6500, 0.31353, 0.32363),
        (10000, 0.28063, 0.28829),
    ],
)
def test_the_approximation_keeps_to_the_locus(kelvin: float, x: float, y: float) -> None:
    assert planckian_xy(kelvin) == pytest.approx((x, y), abs=1e-3)


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


def test_a_correction_filter_shifts_by_its_mired() -> None:
    # Full orange filter of +159 mired, a common value: 5600 K becomes 2962 K (computed).
    assert mired_from_kelvin(2962) == pytest.approx(mired_from_kelvin(5600) + 159, abs=0.05)


@pytest.mark.parametrize(
    ("encoded", "light"),
    # IEC 61966-2-1 decoding, computed; the formula from memory.
    [(0.0, 0.0), (0.5, 0.214041), (128 / 255, 0.215861), (188 / 255, 0.502886), (10 / 255, 0.003035), (1.0, 1.0)],
)
def test_the_encoding_of_srgb(encoded: float, light: float) -> None:
    assert screen_value_of_light(light) == pytest.approx(encoded, abs=1e-5)


def test_daylight_is_nearly_the_white_of_the_screen() -> None:
    # A black body of 6504 K lies close under CIE D65, the white of sRGB (IEC 61966-2-1).
    assert min(screen_colour_of_white(6504)) > 0.96


def test_tungsten_light_is_orange_on_the_screen() -> None:
    red, green, blue = screen_colour_of_white(2856)
    assert red == pytest.approx(1.0)
    assert 0.6 < green < 0.8
    assert 0.2 < blue < 0.5


@given(st.floats(1000, 40000))
def test_a_screen_colour_is_within_its_range_and_its_largest_part_is_full(kelvin: float) -> None:
    colour = screen_colour_of_white(kelvin)
    assert all(0 <= part <= 1 + 1e-12 for part in colour)
    assert max(colour) == pytest.approx(1.0)


@given(st.floats(1700, 20000), st.floats(1.01, 1.2))
def test_cooler_light_is_bluer_against_red(kelvin: float, factor: float) -> None:
    warm, cool = screen_colour_of_white(kelvin), screen_colour_of_white(kelvin * factor)
    assert cool[2] >= warm[2]
    assert cool[0] <= warm[0]
