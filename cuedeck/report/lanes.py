"""The lanes of a picture: which value they show, and how curves and levels are drawn as characters."""

from __future__ import annotations

import math
from enum import Enum

import numpy as np

from cuedeck.arrays import Values
from cuedeck.rig.dimmer import Dimmer

BRAILLE = 0x2800
DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""The bit of each dot of a braille character, by row from the top and by column."""
BLOCKS = " ▁▂▃▄▅▆▇█"


def braille_curve(values: Values, lines: int) -> list[str]:
    """Return a curve, two values to a character and four dots to a line, the largest at the top."""
    rows = 4 * lines
    low, high = float(values.min()), float(values.max())
    share = (values - low) / (high - low) if high > low else np.zeros(len(values))
    heights = np.rint(share * (rows - 1)).astype(int).tolist()
    bits = [[0] * (len(values) // 2) for _ in range(lines)]
    before = heights[0]
    for index, height in enumerate(heights[: 2 * len(bits[0])]):
        toward = before + (1 if height > before else -1 if height < before else 0)
        for dot in range(min(toward, height), max(toward, height) + 1):
            line, row = divmod(rows - 1 - dot, 4)
            bits[line][index // 2] |= DOTS[row][index % 2]
        before = height
    return ["".join(chr(BRAILLE + cell) if cell else " " for cell in line) for line in bits]


def level_blocks(levels: Values, lines: int = 1) -> list[str]:
    """Return levels 0 to 1 as columns of eighths, top line first; any light at all shows, none is blank."""
    eighths = [0 if level <= 0 else max(1, math.floor(level * 8 * lines + 0.5)) for level in levels.tolist()]
    return ["".join(BLOCKS[min(max(count - 8 * line, 0), 8)] for count in eighths) for line in reversed(range(lines))]


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
