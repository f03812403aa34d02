"""Steps of light: how much it changes at once, and where that would be seen as a staircase.

Light is a share of full, 0 to 1, one value for each packet or camera frame.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Values = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

LEAST_LIGHT = 2.0**-8
"""Below eight stops under full a step is not counted further: out of black every step would be without end."""
VISIBLE_STOPS = 0.05
"""A step of light that is seen where it comes alone: about 3.5 % (common practice, no source)."""

NEAR = 44
"""How many values, a second of packets, two steps of one staircase are apart at most."""


def step_stops(light: Values) -> Values:
    """Return how much light changes from each value to the next, in stops, never below 0; one value fewer."""
    under_full = np.log2(np.maximum(light, LEAST_LIGHT))
    return np.abs(np.diff(under_full, axis=0))


def staircase(light: Values) -> Mask:
    """Return where light jumps visibly after it has stood still: a fade that its slots are too coarse for.

    True at the value after the jump; the first value of all is none. A jump that is the only one, such as a cue
    without a fade, is no staircase: another must follow or come before it within `NEAR` values.
    """
    jumps = np.zeros(len(light), dtype=bool)
    if len(light) < 3:
        return jumps
    steps = step_stops(light)
    stood = np.concatenate([[True], light[1:-1] == light[:-2]])
    jumps[1:] = (steps >= VISIBLE_STOPS) & stood
    places = np.flatnonzero(jumps)
    gaps = np.diff(places)
    has_near = np.zeros(len(places), dtype=bool)
    has_near[1:] |= gaps <= NEAR
    has_near[:-1] |= gaps <= NEAR
    jumps[places[~has_near]] = False
    return jumps
