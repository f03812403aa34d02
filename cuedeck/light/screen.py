"""The screen's colours: sRGB to and from light (IEC 61966-2-1, its matrices to four places).

A screen colour is red, green and blue as encoded, 0 to 1; 'sRGB 255 128 0' is (1, 128/255, 0). Linear light
is the same before encoding.

Hue and saturation are those of HSV with its value held at 1, taken of linear light: hue runs from 0 red over 1/3
green and 2/3 blue, and stays under 1; saturation runs from 0 white to 1. Formula: Smith, Color Gamut Transform
Pairs, SIGGRAPH 1978 (from memory).
"""

from __future__ import annotations

import numpy as np

from cuedeck.arrays import Values
from cuedeck.light.chromaticity import Xy, Xyz, xy_from_xyz, xyz_from_xy

Rgb = tuple[float, float, float]
"""Red, green and blue."""

_XYZ_FROM_RGB = ((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505))
_RGB_FROM_XYZ = ((3.2406, -1.5372, -0.4986), (-0.9689, 1.8758, 0.0415), (0.0557, -0.2040, 1.0570))


def screen_value_of_light(light: float) -> float:
    """Return the sRGB encoding of a linear value, both 0 to 1."""
    return 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055


def light_of_screen_value(value: float) -> float:
    """Return the linear value of an sRGB encoding, both 0 to 1; the inverse of screen_value_of_light."""
    return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4


def screen_colour_of_light(linear: Rgb) -> Rgb:
    """Return the encoding of linear red, green and blue."""
    red, green, blue = (screen_value_of_light(part) for part in linear)
    return red, green, blue


def light_of_screen_colour(colour: Rgb) -> Rgb:
    """Return the linear red, green and blue of a screen colour; the inverse of screen_colour_of_light."""
    red, green, blue = (light_of_screen_value(part) for part in colour)
    return red, green, blue


def relative_luminance(colour: Rgb) -> float:
    """Return the luminance of a screen colour, 0 for black to 1 for white (WCAG 2.2, relative luminance)."""
    red, green, blue = light_of_screen_colour(colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast_ratio(one: Rgb, other: Rgb) -> float:
    """Return the contrast of two screen colours, 1 to 21 (WCAG 2.2, contrast ratio)."""
    low, high = sorted((relative_luminance(one), relative_luminance(other)))
    return (high + 0.05) / (low + 0.05)


def xyz_of_screen_colour(colour: Rgb) -> Xyz:
    """Return X, Y and Z of a screen colour; Y is the luminance relative to the screen's white, 0 to 1."""
    return _times(_XYZ_FROM_RGB, light_of_screen_colour(colour))


def xy_of_screen_colour(colour: Rgb) -> Xy | None:
    """Return the chromaticity of a screen colour; None for black, which has none."""
    return xy_from_xyz(xyz_of_screen_colour(colour))


def light_of_xy(xy: Xy) -> Rgb:
    """Return linear red, green and blue of a chromaticity, the largest 1.

    Parts that are below 0, for colours that no screen shows, are set to 0. Raises ValueError where y is not
    above 0.
    """
    linear = [max(part, 0.0) for part in _times(_RGB_FROM_XYZ, xyz_from_xy(xy, 1.0))]
    red, green, blue = (part / max(linear) for part in linear)
    return red, green, blue


def screen_colour_of_xy(xy: Xy) -> Rgb:
    """Return the screen colour, the largest part 1, that shows a chromaticity or comes near it."""
    return screen_colour_of_light(light_of_xy(xy))


def _times(matrix: tuple[Xyz, Xyz, Xyz], vector: Xyz) -> Xyz:
    a, b, c = (sum(weight * part for weight, part in zip(row, vector, strict=True)) for row in matrix)
    return a, b, c


def hue_and_saturation_from_rgb(rgb: Values) -> tuple[Values, Values]:
    """Return hue and saturation, shape (...), of linear red, green and blue, shape (..., 3), none below 0.

    How bright the light is does not matter. What has no hue (white, and black) is given hue 0, and black
    saturation 0.
    """
    red, green, blue = np.moveaxis(np.asarray(rgb, dtype=np.float64), -1, 0)
    top = np.maximum(np.maximum(red, green), blue)
    span = top - np.minimum(np.minimum(red, green), blue)
    divisor = np.where(span > 0, span, 1.0)
    sixths = np.select(
        [span == 0, top == red, top == green],
        [0.0, (green - blue) / divisor, 2.0 + (blue - red) / divisor],
        4.0 + (red - green) / divisor,
    )
    hue = np.mod(sixths / 6.0, 1.0)
    # A hue a rounding error under red would come out of the modulus as 1.
    return np.where(hue < 1.0, hue, 0.0), span / np.where(top > 0, top, 1.0)


def rgb_from_hue_and_saturation(hue: Values, saturation: Values) -> Values:
    """Return linear red, green and blue, shape (..., 3), the largest 1, of hue and saturation, shape (...)."""
    place = np.asarray(hue)[..., None] * 6.0 - np.array([0.0, 2.0, 4.0])
    from_peak = np.abs(np.mod(place + 3.0, 6.0) - 3.0)
    pure = np.clip(2.0 - from_peak, 0.0, 1.0)
    return np.asarray(1.0 - np.asarray(saturation)[..., None] * (1.0 - pure))
