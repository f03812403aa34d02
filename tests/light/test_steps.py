"""Steps of light that may be seen."""

from __future__ import annotations

import numpy as np
import pytest

from cuedeck.light.scales import changes_stops, coarse_steps


def test_twice_the_light_is_a_stop() -> None:
    """A stop is a factor of two."""
    assert changes_stops(np.array([0.25, 0.5, 0.5, 0.125])).tolist() == [1.0, 0.0, -2.0]


def test_a_channel_of_8_bit_steps_where_it_is_dim() -> None:
    """From 10 to 11 of 255 is 0.14 stop of a linear lamp; from 200 to 201 it is 0.007."""
    control = np.array([10, 10, 11, 11, 200, 201]) / 255
    assert coarse_steps(control, control, 255).tolist() == [False, True, False, False, False]


def test_a_snap_is_no_step_of_the_channel() -> None:
    """It was asked for."""
    assert coarse_steps(np.array([0.0, 1.0]), np.array([0.0, 1.0]), 255).tolist() == [False]


@pytest.mark.parametrize("value", [1, 20, 100, 2_000])
def test_a_linear_lamp_of_16_bit_does_not_step(value: int) -> None:
    """Where a single step is much of the light, it lies under the floor of the scale of stops."""
    control = np.array([value, value + 1]) / 65535
    assert coarse_steps(control, control, 65535).tolist() == [False]
