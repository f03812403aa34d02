"""Scales on which light is counted: stops and lightness, each with its inverse.

Light is relative to full output: 0 is black, 1 is full. Arrays in, arrays of the same shape out.
Every scale is strictly increasing and continuous from black to full, so that a fade which runs along
it has no jump and reaches black.
"""

from __future__ import annotations

import numpy as np

from cuedeck.arrays import Mask, Values

FLOOR_STOPS = -10.0
"""Where the scale of stops ends and the last stretch to black begins.

A scale of stops never reaches black. Ten stops under full lie below what a camera holds beside a
light at full, and below one step of an 8-bit dimmer.
"""

_FLOOR_LIGHT = 2.0**FLOOR_STOPS
_LN2 = float(np.log(2.0))
_CIE_EPSILON = (6.0 / 29.0) ** 3
_CIE_KAPPA = (29.0 / 3.0) ** 3


def stops_from_ratio(ratio: float) -> float:
    """Return how many factors of two a ratio of light is: the base-2 logarithm. Raises ValueError at 0."""
    if ratio <= 0:
        raise ValueError("a ratio of light in stops must be above 0")
    return float(np.log2(ratio))


def ratio_from_stops(stops: float) -> float:
    """Return the ratio of light that so many stops are: 2 to that power."""
    return float(2.0**stops)


def stops_from_light(light: Values) -> Values:
    """Return stops relative to full, going on below FLOOR_STOPS along the tangent to black.

    At or above the floor this is log2(light). Below it, light falls at the rate it had at the floor, so
    that black is 1/ln 2 = 1.44 stops under the floor rather than infinitely far down.
    """
    above = np.log2(np.maximum(light, _FLOOR_LIGHT))
    below = (np.minimum(light, _FLOOR_LIGHT) / _FLOOR_LIGHT - 1.0) / _LN2
    return np.asarray(above + below, dtype=np.float64)


def light_from_stops(stops: Values) -> Values:
    """Return the light at a number of stops; the inverse of stops_from_light."""
    above = np.exp2(np.maximum(stops, FLOOR_STOPS))
    below = np.minimum(stops - FLOOR_STOPS, 0.0) * (_LN2 * _FLOOR_LIGHT)
    return np.asarray(np.maximum(above + below, 0.0), dtype=np.float64)


def lightness_from_light(light: Values) -> Values:
    """Return CIE 1976 lightness L*, 0 to 100, of light relative to full as the white.

    Formula: CIE e-ILV 17-23-076.
    """
    root = 116.0 * np.cbrt(np.maximum(light, _CIE_EPSILON)) - 16.0
    return np.where(light > _CIE_EPSILON, root, _CIE_KAPPA * light)


def light_from_lightness(lightness: Values) -> Values:
    """Return light relative to full at a CIE 1976 lightness L*; the inverse of lightness_from_light."""
    cube = ((np.maximum(lightness, 8.0) + 16.0) / 116.0) ** 3
    return np.where(lightness > 8.0, cube, lightness / _CIE_KAPPA)


VISIBLE_STEP_STOPS = 0.03
"""A step of about 2 % of light, near the least that an eye tells apart (a Weber fraction; from memory, no source)."""
_NO_MORE_THAN_ONE_STEP = 1.5


def changes_stops(light: Values) -> Values:
    """Return how many stops the light changes from each moment to the next; black is 1.44 stops under the floor."""
    return np.diff(stops_from_light(light))


def coarse_steps(control: Values, light: Values, steps: int) -> Mask:
    """Return for each change from one packet to the next whether it is a step that the channel's values force.

    It is one where the control moves by a single one of the channel's `steps`, and the light by more than
    VISIBLE_STEP_STOPS. A change over several values at once is a fast fade or a snap, as asked for.
    """
    moved = np.abs(np.diff(control)) * steps
    is_single = (moved > 0.5) & (moved < _NO_MORE_THAN_ONE_STEP)
    return np.asarray(is_single & (np.abs(changes_stops(light)) > VISIBLE_STEP_STOPS), dtype=np.bool_)
