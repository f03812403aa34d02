"""The patch sheet (what to set on each light, how full each universe is) and the look sheet.

The look sheet says what each look makes of each light, in numbers that can be held against a meter.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from cuedeck.light.white import White, white_from_xy
from cuedeck.rig.looks import resolve_look, settings_in
from cuedeck.rig.mixing import COLOUR_ATTRIBUTES, HueMixer, Mixture, solve
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch
from cuedeck.show.colours import Colour
from cuedeck.show.model import Show
from cuedeck.show.units import FULL_UNIVERSE

SWITCHES = 9
"""DIP switches that carry an address; switch n counts 2^(n - 1) (common practice, no source)."""


@dataclass(frozen=True)
class UniverseUse:
    """How full one universe is."""

    universe: int
    used_slots: int
    spare: tuple[tuple[int, int], ...]
    """The ranges of slots that no light listens to, first and last."""

    @property
    def spare_slots(self) -> int:
        return FULL_UNIVERSE - self.used_slots


def switches(slot: int, tenth: str | None) -> str | None:
    """Return the DIP switches of a slot, the number of each that is on and a dot for each that is off.

    Nine switches reach slot 511; for slot 512 there is no setting, and None is returned. A tenth switch
    carries no part of the address: its type says how it must stand.
    """
    if slot >= 1 << SWITCHES:
        return None
    nine = "".join(str(n + 1) if slot >> n & 1 else "." for n in range(SWITCHES))
    return nine if tenth is None else f"{nine} 10 {tenth}"


def universe_uses(patch: Patch) -> Iterator[UniverseUse]:
    for universe in patch.universes:
        taken = {
            slot
            for fixture in patch.fixtures
            if fixture.address.universe == universe
            for slot in range(fixture.address.slot, fixture.last_slot + 1)
        }
        yield UniverseUse(universe, len(taken), tuple(_free_ranges(taken)))


def _free_ranges(taken: set[int]) -> Iterator[tuple[int, int]]:
    first = 1
    for slot in [*sorted(taken), FULL_UNIVERSE + 1]:
        if slot > first:
            yield first, slot - 1
        first = slot + 1


def limits_text(fixture: PatchedFixture) -> str:
    """Return the limits of a fixture in the words of the show; '' where it has none."""
    named = (("never above", fixture.hung.never_above), ("never below", fixture.hung.never_below))
    return ", ".join(f"{key} {level}" for key, level in named if level is not None)


def slot_names(fixture: PatchedFixture) -> Iterator[tuple[int, str]]:
    """Yield each slot of a fixture and what it carries."""
    slot = fixture.address.slot
    for channel in fixture.channels:
        name = channel.attribute or f"held at {channel.channel.fixed_value}"
        parts = {1: ("",), 2: (" coarse", " fine"), 3: (" coarse", " fine", " finest")}[channel.width_slots]
        inverted = ", inverted" if channel.channel.is_inverted else ""
        for part in parts:
            yield slot, f"{name}{part}{inverted}"
            slot += 1


@dataclass(frozen=True)
class LookRow:
    """What one look makes of one light."""

    look: str
    fixture: str
    control: float | None
    """Control value 0 to 1 that is reached; None where the look leaves the level as it is."""
    asked_control: float | None
    """Control value that the look asks for, which the limits of the light may not allow."""
    stops: float | None
    """Light that is reached, relative to full; None where the look leaves it, and minus infinity for out."""
    colour: Colour | None
    """The colour asked for."""
    mixture: Mixture | None
    """What the light makes of that."""
    channels: Mapping[str, float]
    """What its other channels go to, 0 to 1."""
    primaries: str | None = None
    """By which red, green and blue the colour of a light with hue and saturation is judged: sRGB, or its own."""

    @property
    def white(self) -> White | None:
        """The colour temperature and Duv of the colour reached; None where it is far from white."""
        return None if self.mixture is None else white_from_xy(self.mixture.reached_xy)


def look_rows(show: Show, patch: Patch, look: str) -> Iterator[LookRow]:
    """Yield a row for each light that a look, or one it is like, says something of."""
    targets = resolve_look(show, patch, look)
    for fixture in patch.fixtures:
        values = {name: float(targets[column]) for name, column in fixture.columns.items()}
        set_values = {name: value for name, value in values.items() if not np.isnan(value)}
        if set_values:
            asked_control = set_values.pop("intensity", None)
            control = _reached(fixture, asked_control)
            colour = _colour(show, look, fixture)
            mixture = None if colour is None else solve(fixture.mixers, colour)
            asked = None if mixture is None else colour  # a light without colours is asked for none
            stops = _stops(fixture, control)
            primaries = next((mixer.primaries for mixer in fixture.mixers if isinstance(mixer, HueMixer)), None)
            judged = None if mixture is None else primaries
            yield LookRow(look, fixture.name, control, asked_control, stops, asked, mixture, set_values, judged)


def _reached(fixture: PatchedFixture, control: float | None) -> float | None:
    return control if control is None or fixture.limits is None else fixture.limits.within(control)


def _stops(fixture: PatchedFixture, control: float | None) -> float | None:
    if control is None:
        return None
    light = float(fixture.dimmer.light_from_control(np.array([control]))[0])
    return float(np.log2(light)) if light > 0 else float("-inf")


def _colour(show: Show, look: str, fixture: PatchedFixture) -> Colour | None:
    """Return the colour that stands last, unless an emitter is set by hand after it."""
    colour = None
    for setting in settings_in(show, look, fixture):
        if setting.colour is not None:
            colour = setting.colour
        if setting.channels.keys() & set(COLOUR_ATTRIBUTES):
            colour = None
    return colour
