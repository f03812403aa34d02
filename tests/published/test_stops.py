"""Stops: a stop is a factor of two of light. Exposure handbooks; ISO 2720 for the table of light meters."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.light.scales import (
    FLOOR_STOPS,
    light_from_stops,
    ratio_from_stops,
    stops_from_light,
    stops_from_ratio,
)


@pytest.mark.parametrize(
    ("ratio", "stops"),
    [
        # Computed: the base-2 logarithm.
        (1.0, 0.0),
        (2.0, 1.0),
        (1.5, 0.585),
        (3.0, 1.585),
        (4.0, 2.0),
        (8.0, 3.0),
        (10.0, 3.322),
        (1.25, 0.322),
        (0.1, -3.322),
        (2**0.5, 0.5),
        # Inverse square law, worked in lighting and flash handbooks: 3x as far is 1/9, 5x is 1/25.
        (1 / 9, -3.17),
        (1 / 25, -4.644),
        # Bellows factor (1 + m)^2 of close-up handbooks, m = 0.1, 0.25, 0.5, 3.
        (1.21, 0.275),
        (1.5625, 0.644),
        (2.25, 1.17),
        (16.0, 4.0),
    ],
)
def test_stops_of_a_ratio(ratio: float, stops: float) -> None:
    assert stops_from_ratio(ratio) == pytest.approx(stops, abs=5e-4)
    assert ratio_from_stops(stops) == pytest.approx(ratio, rel=4e-4)


# Light at exposure values -2 to 15 for ISO 100, C = 250 (ISO 2720:1974; table in exposure handbooks).
LUX_AT_EV = [0.625, 1.25, 2.5, 5, 10, 20, 40, 80, 160, 320, 640, 1280, 2560, 5120, 10240, 20480, 40960, 81920]


def test_one_exposure_value_is_one_stop() -> None:
    assert [stops_from_ratio(lux / 2.5) for lux in LUX_AT_EV] == list(range(-2, 16))


# Exact lens stops in thirds from f/1 to two places, from a table of lens stops; light goes as 1/N^2.
THIRDS = [1.00, 1.12, 1.26, 1.41, 1.59, 1.78, 2.00, 2.24, 2.52, 2.83, 3.17, 3.56, 4.00, 4.49, 5.04, 5.66]


@pytest.mark.parametrize(("thirds", "number"), enumerate(THIRDS))
def test_a_third_of_a_lens_stop_is_a_third_of_a_stop(thirds: int, number: float) -> None:
    # A number printed to two places is off by up to 0.005, that is 0.0144 stop at f/1.
    assert -stops_from_ratio(1 / number**2) == pytest.approx(thirds / 3, abs=0.0145)


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
