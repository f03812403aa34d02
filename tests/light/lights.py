"""Lights of several emitters as hypothesis draws them, and the coordinates they are looked at in."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from cuedeck.arrays import Values
from cuedeck.light.chromaticity import Xy, is_possible, uv_prime_from_xy
from cuedeck.light.emitters import Emitters

Reading = tuple[float, float, float]

chromaticities = (
    st.tuples(st.integers(0, 80), st.integers(2, 84))
    .map(lambda hundredths: (hundredths[0] / 100, hundredths[1] / 100))
    .filter(is_possible)
)
"""Rounded as a maker prints them, so that duplicates and lines of three come up often."""
readings = st.lists(
    st.tuples(chromaticities, st.integers(1, 200)).map(lambda drawn: (*drawn[0], float(drawn[1]))),
    min_size=1,
    max_size=8,
)
lights = readings.map(Emitters.measured)


@st.composite
def mixtures(draw: st.DrawFn, emitters: Emitters) -> Values:
    """Amounts of a light that is not dark."""
    count = emitters.xyz.shape[1]
    amounts = draw(st.lists(st.integers(0, 100), min_size=count, max_size=count).filter(any))
    return np.array(amounts) / 100


def uv_prime_of(xy: Xy | None) -> Values:
    assert xy is not None
    return np.array(uv_prime_from_xy(xy))


def uv_prime_of_each(emitters: Emitters) -> Values:
    """u' and v' of each emitter alone, shape (emitters, 2)."""
    return np.array([uv_prime_of(emitters.chromaticity(alone)) for alone in np.eye(emitters.xyz.shape[1])])
