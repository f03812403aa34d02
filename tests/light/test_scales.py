"""Scales of light as cuedeck counts them: no light, stops that go on to black, and the way back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.light.scales import (
    FLOOR_STOPS,
    light_from_lightness,
    light_from_stops,
    lightness_from_light,
    ratio_from_stops,
    stops_from_light,
    stops_from_ratio,
)


def test_no_light_is_no_number_of_stops() -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        stops_from_ratio(0)


@given(st.floats(1e-6, 1e6), st.floats(1e-6, 1e6))
def test_stops_add_where_ratios_multiply(one: float, other: float) -> None:
    together = stops_from_ratio(one * other)
    assert together == pytest.approx(stops_from_ratio(one) + stops_from_ratio(other), abs=1e-9)


@given(st.floats(-40, 40))
def test_a_ratio_comes_back_from_its_stops(stops: float) -> None:
    assert stops_from_ratio(ratio_from_stops(stops)) == pytest.approx(stops, abs=1e-12)


def test_light_relative_to_full_is_counted_in_stops_down_to_ten() -> None:
    stops = stops_from_light(np.array([1.0, 0.5, 0.25, 0.125, 2**-9.5, 2**-10]))
    assert stops == pytest.approx([0, -1, -2, -3, -9.5, -10], abs=1e-12)


def test_the_scale_of_stops_goes_on_to_black() -> None:
    # The tangent of log2 at the floor meets black 1 / ln 2 = 1.442695 stops under it.
    assert float(stops_from_light(np.array([0.0]))[0]) == pytest.approx(-11.442695, abs=1e-6)
    assert float(light_from_stops(np.array([-11.4426950408889634]))[0]) == pytest.approx(0, abs=1e-15)


def test_the_scale_of_stops_has_neither_step_nor_kink_at_its_floor() -> None:
    h = 1e-4
    light = light_from_stops(np.array([FLOOR_STOPS - h, FLOOR_STOPS, FLOOR_STOPS + h]))
    below, above = np.diff(light) / h
    assert below == pytest.approx(above, rel=1e-3)


@given(st.floats(0, 1))
def test_light_comes_back_from_its_stops(light: float) -> None:
    assert float(light_from_stops(stops_from_light(np.array([light])))[0]) == pytest.approx(light, rel=1e-12, abs=1e-15)


@given(st.floats(0, 1))
def test_light_comes_back_from_its_lightness(light: float) -> None:
    back = light_from_lightness(lightness_from_light(np.array([light])))
    assert float(back[0]) == pytest.approx(light, rel=1e-12, abs=1e-15)


@given(st.floats(0, 1), st.floats(0, 1))
def test_more_light_is_lighter(one: float, other: float) -> None:
    low, high = sorted((one, other))
    lightness = lightness_from_light(np.array([low, high]))
    assert lightness[0] <= lightness[1]
    if high - low > 1e-9:
        assert lightness[0] < lightness[1]
