"""What the lanes of a picture show: the control value, the light in stops, or the light as such."""

from __future__ import annotations

from enum import Enum

import numpy as np

from cuedeck.arrays import Values
from cuedeck.rig.dimmer import Dimmer

LOWEST_STOPS = -8
"""Where the scale of stops ends; light there or below it is blank, and its level is still said."""


class LaneScale(Enum):
    """What the height of a lane stands for, from blank to full."""

    PERCENT = "percent"
    """The control value."""
    STOPS = "stops"
    """The light through the dimmer curve, 0 stops at the top, LOWEST_STOPS at the bottom."""
    LIGHT = "light"
    """The light through the dimmer curve, relative to full."""

    @property
    def after(self) -> LaneScale:
        """The next of the three, and after the last the first."""
        every = list(LaneScale)
        return every[(every.index(self) + 1) % len(every)]

    @property
    def words(self) -> str:
        """What the lanes are, as the screen says it: with the end of the scale where it has one."""
        return f"0…{LOWEST_STOPS} stops" if self is LaneScale.STOPS else f"lanes: {self.value}"

    def heights(self, control: Values, dimmer: Dimmer) -> Values:
        """Return how high the lane of a light stands, 0 to 1, at control values 0 to 1."""
        if self is LaneScale.PERCENT:
            return control
        light = dimmer.light_from_control(control)
        if self is LaneScale.LIGHT:
            return light
        stops = np.log2(np.maximum(light, 2.0**LOWEST_STOPS))
        return np.asarray(1 - stops / LOWEST_STOPS, dtype=np.float64)

    def level(self, control: float, dimmer: Dimmer) -> str:
        """Return a level in the words of the scale, at most six characters: '45 %', '-1.2', 'out'."""
        if self is LaneScale.PERCENT:
            return percent_text(control)
        light = float(dimmer.light_from_control(np.array([control]))[0])
        if self is LaneScale.LIGHT:
            return percent_text(light)
        return f"{round(float(np.log2(light)), 1) + 0.0:.1f}" if light > 0 else "out"


def percent_text(level: float) -> str:
    """Return a level 0 to 1 in whole percent; what is not quite out or full is not called so."""
    if 0 < level < 0.005:
        return "<1 %"
    return f"{min(round(level * 100), 99) if level < 1 else 100} %"
