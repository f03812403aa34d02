"""Screen colours lead to light and back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.light.screen import (
    Rgb,
    light_of_screen_colour,
    light_of_screen_value,
    light_of_xy,
    screen_colour_of_light,
    screen_colour_of_xy,
    screen_value_of_light,
    xy_of_screen_colour,
)
from cuedeck.light.white import planckian_xy

parts = st.floats(0.0, 1.0)


@given(parts)
def test_a_value_comes_back_from_its_light(value: float) -> None:
    # The two pieces of the standard meet only nearly: the gap is 1e-8 of light.
    assert screen_value_of_light(light_of_screen_value(value)) == pytest.approx(value, abs=5e-7)


@given(st.tuples(parts, parts, parts))
def test_a_colour_comes_back_from_its_light(colour: Rgb) -> None:
    assert screen_colour_of_light(light_of_screen_colour(colour)) == pytest.approx(colour, abs=5e-7)


@given(st.tuples(parts, parts, parts).filter(lambda colour: max(colour) > 0.05))
def test_a_colour_at_its_brightest_comes_back_from_its_chromaticity(colour: Rgb) -> None:
    linear = light_of_screen_colour(colour)
    xy = xy_of_screen_colour(colour)
    assert xy is not None
    # The two matrices of the standard, rounded to four places, are inverses to about 1e-4.
    assert light_of_xy(xy) == pytest.approx([part / max(linear) for part in linear], abs=2e-3)


def test_black_has_no_chromaticity() -> None:
    assert xy_of_screen_colour((0.0, 0.0, 0.0)) is None


def test_a_colour_that_no_screen_shows_loses_what_is_below_nothing() -> None:
    # The green primary of Rec. ITU-R BT.2020 lies outside sRGB: red and blue would have to be negative.
    assert screen_colour_of_xy((0.170, 0.797)) == pytest.approx((0.0, 1.0, 0.0))


def test_tungsten_light_is_orange_on_the_screen() -> None:
    red, green, blue = screen_colour_of_xy(planckian_xy(2856))
    assert red == pytest.approx(1.0)
    assert 0.6 < green < 0.8
    assert 0.2 < blue < 0.5


@given(st.floats(1000, 40000))
def test_a_screen_colour_is_within_its_range_and_its_largest_part_is_full(kelvin: float) -> None:
    colour = screen_colour_of_xy(planckian_xy(kelvin))
    assert all(0 <= part <= 1 + 1e-12 for part in colour)
    assert max(colour) == pytest.approx(1.0)


@given(st.floats(1000, 35000), st.floats(1.01, 1.14))
def test_cooler_light_is_bluer_against_red(kelvin: float, factor: float) -> None:
    warm, cool = screen_colour_of_xy(planckian_xy(kelvin)), screen_colour_of_xy(planckian_xy(kelvin * factor))
    assert cool[2] >= warm[2]
    assert cool[0] <= warm[0]
