"""Colour temperature and Duv lead to a chromaticity and back."""

from __future__ import annotations

from math import hypot

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from cuedeck.light.chromaticity import uv_1960_from_xy
from cuedeck.light.white import (
    White,
    planckian_xy,
    white_from_xy,
    xy_from_white,
)

kelvins = st.floats(1000, 40000) | st.floats(25, 1000).map(lambda mired: min(max(1e6 / mired, 1000.0), 40000.0))
duvs = st.floats(-0.05, 0.05)


@given(kelvins, duvs)
def test_a_white_comes_back_from_its_chromaticity(kelvin: float, duv: float) -> None:
    back = white_from_xy(xy_from_white(White(kelvin, duv)))
    assert back is not None
    assert back.kelvin == pytest.approx(kelvin, abs=1e-4)
    assert back.duv == pytest.approx(duv, abs=1e-9)


LOCUS = [uv_1960_from_xy(planckian_xy(1e6 / (25 + 975 * n / 3000))) for n in range(3001)]


@given(st.floats(0.0, 1.0), st.floats(0.001, 1.0))
@example(0.0, 1.0)
@example(0.372, 0.291)
def test_a_chromaticity_has_a_colour_temperature_just_where_the_locus_is_near(x: float, y: float) -> None:
    """A dense scan of the locus tells where; at its ends, and at the very edge of 0.05, either answer may be right."""
    u, v = uv_1960_from_xy((x * (1 - y), y))
    distance, nearest = min((hypot(u - at_u, v - at_v), n) for n, (at_u, at_v) in enumerate(LOCUS))
    white = white_from_xy((x * (1 - y), y))
    if white is not None:
        assert abs(white.duv) == pytest.approx(distance, abs=1e-5)
        assert xy_from_white(White(white.kelvin, white.duv)) == pytest.approx((x * (1 - y), y), abs=1e-9)
    if distance > 0.0501:
        assert white is None
    if distance < 0.0499 and 0 < nearest < 3000:
        assert white is not None


@pytest.mark.parametrize("kelvin", [1000.0, 40000.0])
@pytest.mark.parametrize("duv", [-0.05, 0.0, 0.05])
def test_the_corners_of_the_range_belong_to_it(kelvin: float, duv: float) -> None:
    back = white_from_xy(xy_from_white(White(kelvin, duv)))
    assert back == pytest.approx((kelvin, duv), abs=1e-6)


@given(kelvins)
def test_on_the_locus_duv_is_nothing(kelvin: float) -> None:
    assert planckian_xy(kelvin) == xy_from_white(White(kelvin, 0.0))


@given(kelvins, st.floats(0.0001, 0.05))
def test_above_the_locus_is_greener_and_below_is_pinker(kelvin: float, duv: float) -> None:
    on = uv_1960_from_xy(planckian_xy(kelvin))
    greener = uv_1960_from_xy(xy_from_white(White(kelvin, duv)))
    pinker = uv_1960_from_xy(xy_from_white(White(kelvin, -duv)))
    assert greener[1] > on[1] > pinker[1]


@pytest.mark.parametrize("white", [White(999, 0), White(40001, 0), White(5600, 0.0501), White(5600, -0.0501)])
def test_a_white_out_of_range_is_refused(white: White) -> None:
    with pytest.raises(ValueError, match="1000 to 40000 K"):
        xy_from_white(white)


@pytest.mark.parametrize(
    ("colour", "xy"),
    # Primaries of sRGB (IEC 61966-2-1), and chromaticities past the hot and the warm end of the locus.
    [
        ("red", (0.64, 0.33)),
        ("green", (0.30, 0.60)),
        ("blue", (0.15, 0.06)),
        ("hotter", (0.240, 0.234)),
        ("warmer", (0.69, 0.305)),
    ],
)
def test_colours_far_from_the_locus_or_past_its_ends_have_no_colour_temperature(
    colour: str, xy: tuple[float, float]
) -> None:
    assert white_from_xy(xy) is None, colour
