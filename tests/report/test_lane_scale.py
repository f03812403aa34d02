"""What the lanes show."""

from __future__ import annotations

import numpy as np
import pytest

from cuedeck.report.lanes import LaneScale
from cuedeck.report.picture import shot_picture
from cuedeck.rig.dimmer import DIMMERS
from tests.tui.shows import opened


@pytest.mark.parametrize(
    ("scale", "heights"),
    [
        (LaneScale.PERCENT, [0, 0.0625, 0.5, 1]),
        (LaneScale.STOPS, [0, 0, 0.75, 1]),
        (LaneScale.LIGHT, [0, 0.00390625, 0.25, 1]),
    ],
)
def test_a_lane_stands_as_high_as_its_scale_says(scale: LaneScale, heights: list[float]) -> None:
    """Half control of a square-law dimmer is a quarter of the light, 2 of 8 stops under full."""
    assert scale.heights(np.array([0, 0.0625, 0.5, 1]), DIMMERS["square"]).tolist() == heights


@pytest.mark.parametrize(
    ("scale", "words"),
    [
        (LaneScale.PERCENT, ["0 %", "50 %", "100 %"]),
        (LaneScale.STOPS, ["out", "-2.0", "0.0"]),
        (LaneScale.LIGHT, ["0 %", "25 %", "100 %"]),
    ],
)
def test_levels_follow_the_scale(scale: LaneScale, words: list[str]) -> None:
    """In six characters at most."""
    assert [scale.level(control, DIMMERS["square"]) for control in (0, 0.5, 1)] == words


def test_each_scale_says_itself_and_the_next() -> None:
    """Round and round."""
    assert [scale.words for scale in LaneScale] == ["lanes: percent", "0…-8 stops", "lanes: light"]
    assert LaneScale.LIGHT.after is LaneScale.PERCENT


def test_a_picture_is_drawn_in_stops() -> None:
    """Full is full, and half of a linear lamp stands one eighth lower."""
    plan = opened().plan("1")
    rows = shot_picture(plan, plan.timeline(), 5, scale=LaneScale.STOPS)
    assert [row.text[3] for row in rows if row.kind == "light"][:2] == ["█", "▇"]
