"""Where lights are on the set at a time of a shot."""

from __future__ import annotations

from dataclasses import astuple
from math import hypot

import numpy as np
import pytest

from cuedeck.timeline.positions import Position, axis_of, position_of, positions
from tests.tui.shows import RIG, opened

ARM = """shots:
  "1":
    move: {keys: [{time: 0 s, slide: 0 deg}, {time: 1 s, slide: 90 deg}], ease: linear}
"""
"""The rider stands 0.5 m in front of the product, 0.4 m above it."""


def test_a_length_carries_a_light_to_the_right_at_its_height() -> None:
    """The rider stands 300 mm left of its place at the start and 300 mm right of it at the end, then stays."""
    plan = opened().plan("1")
    found = [position_of(plan, "rider", time_s) for time_s in (0.0, 2.0, 4.0, 9.0)]
    assert found == [Position(x_m, -0.5, 0.4) for x_m in (-0.3, 0.0, 0.3, 0.3)]


def test_a_light_that_rides_nothing_is_where_it_was_hung() -> None:
    plan = opened().plan("1")
    assert positions(plan, 0.0).keys() == positions(plan, 4.0).keys() == {"left", "right", "wall", "rider"}
    assert positions(plan, 4.0)["left"] == positions(plan, 0.0)["left"] == Position(-1, 0.5, 1)
    assert positions(plan, 1.0)["wall"] == Position(0, 1.4, 0.2)
    assert [axis_of(plan, light) is not None for light in ("left", "rider")] == [False, True]


def test_an_angle_turns_a_light_counterclockwise_seen_from_above_and_keeps_its_height() -> None:
    """From the near side by 90 degrees: to the right."""
    plan = opened(ARM, RIG).plan("1")
    assert astuple(position_of(plan, "rider", 0.0)) == pytest.approx((0.0, -0.5, 0.4))
    assert astuple(position_of(plan, "rider", 1.0)) == pytest.approx((0.5, 0.0, 0.4))
    for time_s in np.linspace(0, 1, 11).tolist():
        place = position_of(plan, "rider", time_s)
        assert hypot(place.x_m, place.y_m) == pytest.approx(0.5)
        assert place.z_m == 0.4


def test_in_a_shot_without_the_axis_a_rider_is_where_it_was_hung() -> None:
    plan = opened().plan("2")
    assert position_of(plan, "rider", 1.0) == Position(0, -0.5, 0.4)
