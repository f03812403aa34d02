"""Crossfades of colour: how far to mix two lights so that the colour moves evenly.

Light adds. Where amounts are mixed linearly, a = (1 - L) a0 + L a1, the chromaticity moves on the straight
line between the two, in every CIE diagram, and the luminance is the same mixture of both, so it never dips
below the darker nor rises over the brighter. Only the pace is wrong: the stronger light wins early. This
module puts the pace right and leaves the path alone.
"""

from __future__ import annotations

import numpy as np

from cuedeck.arrays import Values


def mix_along_uv(progress: Values, weight_from: Values | float, weight_to: Values | float) -> Values:
    """Return L, 0 to 1, with which the colour has gone the share `progress` of its way in CIE 1976 u'v'.

    The weight of a light is X + 15Y + 3Z (Emitters.weight); progress, 0 to 1, and the weights broadcast. With s
    the progress, L = s S0 / (s S0 + (1 - s) S1), which solves s = L S1 / ((1 - L) S0 + L S1), the share that
    the second light has in u' and v' of the mixture. A dark end has no colour to come from or to go to: then
    L is the progress.
    """
    s = np.asarray(progress, dtype=np.float64)
    forward, backward = s * weight_from, (1.0 - s) * weight_to
    both_lit = (np.asarray(weight_from) > 0) & (np.asarray(weight_to) > 0)
    mixed = forward / np.where(both_lit, forward + backward, 1.0)
    return np.where(both_lit, mixed, s)
