"""The screen's colours, against IEC 61966-2-1 (sRGB)."""

from __future__ import annotations

import numpy as np
import pytest

from cuedeck.light.chromaticity import Xy
from cuedeck.light.screen import (
    Rgb,
    light_of_screen_value,
    light_of_xy,
    screen_colour_of_xy,
    screen_value_of_light,
    xy_of_screen_colour,
    xyz_of_screen_colour,
)
from cuedeck.light.white import planckian_xy
from tests.light.colour_science import colour

# IEC 61966-2-1 decoding, computed; the formula from memory.
DECODED = [(0.0, 0.0), (10 / 255, 0.003035), (0.5, 0.214041), (128 / 255, 0.215861), (188 / 255, 0.502886), (1.0, 1.0)]


@pytest.mark.parametrize(("value", "light"), DECODED)
def test_the_decoding_of_srgb(value: float, light: float) -> None:
    assert light_of_screen_value(value) == pytest.approx(light, abs=6e-7)


@pytest.mark.parametrize(("value", "light"), DECODED)
def test_the_encoding_of_srgb(value: float, light: float) -> None:
    assert screen_value_of_light(light) == pytest.approx(value, abs=1e-5)


@pytest.mark.parametrize("value", np.linspace(0, 1, 18).tolist())
def test_the_encoding_is_that_of_the_reference_library(value: float) -> None:
    assert screen_value_of_light(value) == pytest.approx(float(colour.models.eotf_inverse_sRGB(value)), abs=1e-9)
    assert light_of_screen_value(value) == pytest.approx(float(colour.models.eotf_sRGB(value)), abs=1e-9)


@pytest.mark.parametrize(
    ("name", "screen", "xy", "luminance"),
    [
        # IEC 61966-2-1: primaries and white, and their shares of the luminance.
        ("red", (1.0, 0.0, 0.0), (0.64, 0.33), 0.2126),
        ("green", (0.0, 1.0, 0.0), (0.30, 0.60), 0.7152),
        ("blue", (0.0, 0.0, 1.0), (0.15, 0.06), 0.0722),
        ("white", (1.0, 1.0, 1.0), (0.3127, 0.3290), 1.0),
    ],
)
def test_primaries_and_white_of_srgb(name: str, screen: Rgb, xy: Xy, luminance: float) -> None:
    # The standard's own matrix, rounded to four places, puts red at x = 0.64007.
    assert xy_of_screen_colour(screen) == pytest.approx(xy, abs=1e-4), name
    assert xyz_of_screen_colour(screen)[1] == pytest.approx(luminance, abs=1e-12)
    assert screen_colour_of_xy(xy) == pytest.approx(screen, abs=6e-3)


@pytest.mark.parametrize("screen", [(1.0, 128 / 255, 0.0), (0.2, 0.4, 0.6), (0.9, 0.1, 0.5), (0.03, 0.03, 0.01)])
def test_a_screen_colour_is_the_light_of_the_reference_library(screen: Rgb) -> None:
    # The library's matrix for sRGB is that of the standard, to four places.
    expected = colour.sRGB_to_XYZ(np.array(screen))
    assert xyz_of_screen_colour(screen) == pytest.approx(expected, abs=1e-9)
    assert xy_of_screen_colour(screen) == pytest.approx(colour.XYZ_to_xy(expected), abs=1e-9)


@pytest.mark.parametrize("xy", [(0.3127, 0.3290), (0.44758, 0.40745), (0.40, 0.35), (0.25, 0.30)])
def test_a_chromaticity_shows_as_the_reference_library_shows_it(xy: Xy) -> None:
    expected = colour.XYZ_to_sRGB(colour.xy_to_XYZ(np.array(xy)), apply_cctf_encoding=False)
    assert light_of_xy(xy) == pytest.approx(expected / expected.max(), abs=1e-9)


def test_daylight_is_nearly_the_white_of_the_screen() -> None:
    # A black body of 6504 K lies close under CIE D65, the white of sRGB (IEC 61966-2-1).
    assert min(screen_colour_of_xy(planckian_xy(6504))) > 0.96
