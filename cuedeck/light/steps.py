"""Steps of light that may be seen: where a channel has too few values for a smooth fade. Light over time in."""

from __future__ import annotations

import numpy as np

from cuedeck.arrays import Mask, Values
from cuedeck.light.scales import stops_from_light

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
