"""What a fixture is doing, as a receiver of packets knows it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cuedeck.arrays import Slots, Values
from cuedeck.light.chromaticity import Xy
from cuedeck.light.screen import screen_colour_of_xy, screen_value_of_light
from cuedeck.light.white import White, planckian_xy, white_from_xy
from cuedeck.rig.mixing import TINTING, WhiteMixer
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch

MOST_WHITE_DUV = 0.02
"""How far from the locus light is still called a white, with a colour temperature."""


@dataclass(frozen=True)
class FixtureState:
    """The level and the colour of one fixture."""

    name: str
    level: float
    """Control value, 0 to 1."""
    kelvin: float | None
    """Colour temperature, for lights that are known to give a white."""
    screen_colour: tuple[float, float, float]
    """Red, green and blue at full level as a screen shows it (sRGB, 0 to 1)."""


Known = dict[str, tuple[bytes, FixtureState]]
"""The last state of each light, and the values that its colour came from: colours change less often than levels."""


def states(patch: Patch, slots: Slots, known: Known | None = None) -> tuple[FixtureState, ...]:
    """Return what every light makes of the slots of one packet, shape (universes, 512).

    `known` is what was known of the lights of this patch, and is brought up to date.
    """
    levels = patch.decode(slots[None])[0]
    if known is None:
        return tuple(_state(fixture, levels) for fixture in patch.lights)
    return tuple(_state_again(fixture, levels, known) for fixture in patch.lights)


def _state_again(fixture: PatchedFixture, levels: Values, known: Known) -> FixtureState:
    colour = levels[fixture.colour_columns].tobytes()
    before = known.get(fixture.name)
    if before is not None and before[0] == colour:
        state = replace(before[1], level=float(levels[fixture.columns["intensity"]]))
    else:
        state = _state(fixture, levels)
    known[fixture.name] = (colour, state)
    return state


def _state(fixture: PatchedFixture, levels: Values) -> FixtureState:
    level = float(levels[fixture.columns["intensity"]])
    if fixture.white is not None and not _is_tinted(fixture, levels):
        kelvin = fixture.white.kelvin_at(float(levels[fixture.columns["colour temperature"]]))
        return FixtureState(fixture.name, level, kelvin, _screen_colour(fixture, levels))
    xy = _xy(fixture, levels)
    white: White | None = None if xy is None else white_from_xy(xy)
    kelvin_or_none = white.kelvin if white is not None and abs(white.duv) <= MOST_WHITE_DUV else None
    return FixtureState(fixture.name, level, kelvin_or_none, _screen_colour(fixture, levels))


def _is_tinted(fixture: PatchedFixture, levels: Values) -> bool:
    """Whether emitters or a hue colour what a colour temperature channel gives."""
    return any(levels[fixture.columns[name]] > 0 for name in TINTING if name in fixture.columns)


def _xy(fixture: PatchedFixture, levels: Values) -> Xy | None:
    is_tinted = _is_tinted(fixture, levels)
    for mixer in fixture.mixers:
        if is_tinted and isinstance(mixer, WhiteMixer):
            continue
        values = np.array([levels[fixture.columns[name]] for name in mixer.attributes])
        if (xy := mixer.xy(values)) is not None:
            return xy
    white = fixture.type.white
    return None if white is None or fixture.mixers else planckian_xy(float(white))


def _screen_colour(fixture: PatchedFixture, levels: Values) -> tuple[float, float, float]:
    if (xy := _xy(fixture, levels)) is not None:
        return screen_colour_of_xy(xy)
    drives = {name: float(levels[fixture.columns[name]]) for name in fixture.emitters}
    if not {"red", "green", "blue"} & drives.keys():
        return 1.0, 1.0, 1.0
    white = max(drives.get(name, 0.0) for name in ("white", "warm white", "cool white"))
    red, green, blue = (
        screen_value_of_light(min(drives.get(name, 0.0) + white, 1.0)) for name in ("red", "green", "blue")
    )
    return red, green, blue
