"""Hue and saturation, for lights that take these two in place of red, green and blue.

They are those of HSV with its value held at 1, taken of linear light: hue runs from 0 red over 1/3 green and
2/3 blue, and stays under 1; saturation runs from 0 white to 1. Formula: Smith, Color Gamut Transform Pairs,
SIGGRAPH 1978 (from memory).
"""

from __future__ import annotations

import numpy as np

from cuedeck.arrays import Values


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
