"""What a fixture is doing, as a receiver of packets knows it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from cuedeck.light.screen import screen_colour_of_white, screen_value_of_light
from cuedeck.rig.patch import Patch, PatchedFixture, kelvin_on_colour_range

Slots = npt.NDArray[np.uint8]
Values = npt.NDArray[np.float64]


@dataclass(frozen=True)
class FixtureState:
    """The level and the colour of one fixture."""

    name: str
    level: float
    """Control value, 0 to 1."""
    kelvin: float | None
    """Colour temperature, for lights that have one."""
    screen_colour: tuple[float, float, float]
    """Red, green and blue at full level as a screen shows it (sRGB, 0 to 1)."""


def states(patch: Patch, slots: Slots) -> tuple[FixtureState, ...]:
    """Return what every fixture makes of the slots of one packet, shape (universes, 512)."""
    levels = patch.decode(slots[None])[0]
    return tuple(_state(fixture, levels) for fixture in patch.fixtures)


def _state(fixture: PatchedFixture, levels: Values) -> FixtureState:
    level = float(levels[fixture.columns["intensity"]])
    ends = fixture.type.colour_temperature
    column = fixture.columns.get("colour temperature")
    if column is not None and ends is not None:
        kelvin = kelvin_on_colour_range(ends, float(levels[column]))
        return FixtureState(fixture.name, level, kelvin, screen_colour_of_white(kelvin))
    emitters = {name: float(levels[column]) for name, column in fixture.columns.items()}
    if not {"red", "green", "blue"} & emitters.keys():
        return FixtureState(fixture.name, level, None, (1.0, 1.0, 1.0))
    white = emitters.get("white", 0.0)
    red, green, blue = (
        screen_value_of_light(min(emitters.get(name, 0.0) + white, 1.0)) for name in ("red", "green", "blue")
    )
    return FixtureState(fixture.name, level, None, (red, green, blue))
