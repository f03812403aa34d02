"""A crossfade of colour moves evenly in u'v', and its light has no dip."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.light.emitters import Emitters, mix_along_uv
from tests.light.lights import lights, mixtures, uv_prime_of

PROGRESS = np.linspace(0.0, 1.0, 21)


@given(st.data(), lights)
def test_the_colour_goes_straight_and_evenly(data: st.DataObject, emitters: Emitters) -> None:
    start, end = data.draw(mixtures(emitters)), data.draw(mixtures(emitters))
    shares = mix_along_uv(PROGRESS, emitters.weight(start), emitters.weight(end))
    from_uv, to_uv = (uv_prime_of(emitters.chromaticity(amounts)) for amounts in (start, end))
    for progress, share in zip(PROGRESS, shares, strict=True):
        reached = uv_prime_of(emitters.chromaticity((1 - share) * start + share * end))
        assert reached == pytest.approx((1 - progress) * from_uv + progress * to_uv, abs=1e-9)


@given(st.data(), lights)
def test_the_light_stays_between_its_ends_and_never_turns_back(data: st.DataObject, emitters: Emitters) -> None:
    start, end = data.draw(mixtures(emitters)), data.draw(mixtures(emitters))
    shares = mix_along_uv(PROGRESS, emitters.weight(start), emitters.weight(end))[:, None]
    luminance = emitters.luminance((1 - shares) * start + shares * end)
    low, high = sorted((float(emitters.luminance(start)), float(emitters.luminance(end))))
    assert (luminance >= low - 1e-12).all()
    assert (luminance <= high + 1e-12).all()
    steps = np.diff(luminance)
    assert (steps >= -1e-12).all() or (steps <= 1e-12).all()


@given(st.floats(1e-6, 1e6), st.floats(1e-6, 1e6))
def test_a_mix_starts_at_nothing_ends_at_all_and_always_grows(weight_from: float, weight_to: float) -> None:
    shares = mix_along_uv(PROGRESS, weight_from, weight_to)
    assert shares[0] == 0.0
    assert shares[-1] == 1.0
    assert (np.diff(shares) > 0).all()


def test_two_lights_of_one_weight_mix_linearly() -> None:
    assert mix_along_uv(PROGRESS, 7.0, 7.0) == pytest.approx(PROGRESS)


@pytest.mark.parametrize(("weight_from", "weight_to"), [(0.0, 5.0), (5.0, 0.0), (0.0, 0.0)])
def test_an_end_that_is_dark_mixes_linearly(weight_from: float, weight_to: float) -> None:
    assert mix_along_uv(PROGRESS, weight_from, weight_to).tolist() == PROGRESS.tolist()


def test_many_lights_mix_at_once() -> None:
    weights_from, weights_to = np.array([[1.0], [0.0], [4.0]]), np.array([[3.0], [2.0], [1.0]])
    shares = mix_along_uv(PROGRESS, weights_from, weights_to)
    assert shares.shape == (3, 21)
    # Half way from weight 1 to weight 3: s S0 / (s S0 + (1 - s) S1) = 1/4; from 4 to 1: 4/5.
    assert shares[:, 10] == pytest.approx([0.25, 0.5, 0.8])
