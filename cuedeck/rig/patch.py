"""The patch: which parameter of which fixture is carried by which slot, both ways.

Levels are an array with a column for each parameter; slots an array of universes by 512. Encoding and
decoding stand side by side here and in `wiring`, and nothing else knows where a fixture listens.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from cuedeck.arrays import Slots, Values
from cuedeck.rig.limits import LimitedColumn, LimitedColumns, steps_of_intensity
from cuedeck.rig.parameters import Parameter, PatchedFixture, patched_fixtures
from cuedeck.rig.wiring import WiredChannel, Wiring
from cuedeck.show.channels import EMITTERS
from cuedeck.show.model import Show
from cuedeck.show.units import FEWEST_SLOTS, FULL_UNIVERSE

WIDTHS_SLOTS = (1, 2, 3)


@dataclass(frozen=True, eq=False)
class Patch:
    """The rig, wired."""

    fixtures: tuple[PatchedFixture, ...]
    parameters: tuple[Parameter, ...]
    universes: tuple[int, ...]
    """The universes that are sent, in order."""
    slots_sent: int
    """Slots in each packet."""
    slots_needed: int
    """Slots up to the last that is patched, where the show does not ask for a number of its own."""
    _wirings: tuple[Wiring, ...] = field(repr=False)
    _fixed: Slots = field(repr=False)
    _limited: LimitedColumns | None = field(repr=False)
    """What limits its lights; None where nothing does."""

    @cached_property
    def lights(self) -> tuple[PatchedFixture, ...]:
        return tuple(fixture for fixture in self.fixtures if fixture.gives_light)

    @property
    def defaults(self) -> Values:
        """The value of each parameter before any cue; shape (parameters,)."""
        return np.array([parameter.default for parameter in self.parameters], dtype=np.float64)

    @cached_property
    def dark(self) -> Slots:
        """The slots of a rig that was asked for nothing, shape (universes, 512)."""
        slots: Slots = self.encode(self.defaults[None])[0]
        return slots

    def encode(self, levels: Values) -> Slots:
        """Return the slots that carry levels: (n, parameters) of 0 to 1 in, (n, universes, 512) out.

        A channel's value is the nearest whole number of its range, halves upwards: floor(255 v + 1/2)
        for one slot, floor(65535 v + 1/2) for two, floor(16777215 v + 1/2) for three, the coarse byte
        in the first. No light is sent more or less than its limits allow, whatever its level.
        """
        if self._limited is not None:
            levels = self._limited.clip(levels)
        flat = np.empty((len(levels), self._fixed.size), dtype=np.uint8)
        flat[:] = self._fixed
        for wiring in self._wirings:
            wiring.encode(levels, flat)
        return flat.reshape(len(levels), len(self.universes), FULL_UNIVERSE)

    def decode(self, slots: Slots) -> Values:
        """Return the levels that slots stand for: (n, universes, 512) in, (n, parameters) out.

        Where emitters share an intensity that no slot carries, it is that of the strongest emitter; an
        emitter of a dark fixture decodes as full, as nothing can be known of it. Slots within the limits of
        the lights encode again to what they were.
        """
        flat = slots.reshape(len(slots), self._fixed.size)
        levels = np.ones((len(slots), len(self.parameters)))
        for wiring in self._wirings:
            levels[:, wiring.columns] = wiring.decode(flat)
        for fixture in self.lights:
            if not fixture.has_own_dimmer:
                _share_intensity(fixture, levels)
        return levels


def _share_intensity(fixture: PatchedFixture, levels: Values) -> None:
    """Tell the intensity of a fixture apart from the drives of its emitters, in place."""
    emitters = np.array([fixture.columns[name] for name in fixture.emitters], dtype=np.intp)
    drives = levels[:, emitters]
    strongest = drives.max(axis=1, keepdims=True)
    brightest = fixture.dimmer.light_from_control(strongest)
    lit = brightest[:, 0] > 0
    light = fixture.dimmer.light_from_control(drives[lit]) / brightest[lit]
    levels[:, fixture.columns["intensity"]] = strongest[:, 0]
    levels[:, emitters] = 1.0
    levels[np.ix_(lit, emitters)] = fixture.dimmer.control_from_light(light)


def build_patch(show: Show) -> Patch:
    """Wire a show's rig. Fixtures that cannot be wired are left out; check_rig says why."""
    fixtures = tuple(patched_fixtures(show))
    universes = tuple(sorted({fixture.address.universe for fixture in fixtures})) or (1,)
    fixed = np.zeros(len(universes) * FULL_UNIVERSE, dtype=np.uint8)
    entries: dict[int, list[WiredChannel]] = {width: [] for width in WIDTHS_SLOTS}
    for fixture in fixtures:
        place = universes.index(fixture.address.universe) * FULL_UNIVERSE + fixture.address.slot - 1
        for channel in fixture.channels:
            if channel.attribute is None:
                fixed[place] = channel.channel.fixed_value
            else:
                column = fixture.columns[channel.attribute]
                is_scaled = channel.attribute in EMITTERS and not fixture.has_own_dimmer
                scaled_by = fixture.columns["intensity"] if is_scaled else column
                entry = WiredChannel(column, scaled_by, place, channel.channel.is_inverted, fixture.dimmer)
                entries[channel.width_slots].append(entry)
            place += channel.width_slots
    asks = "slots" in show.model_fields_set
    last_slot = max((fixture.last_slot for fixture in fixtures), default=0)
    return Patch(
        fixtures=fixtures,
        parameters=tuple(parameter for fixture in fixtures for parameter in fixture.parameters()),
        universes=universes,
        slots_sent=max(last_slot if show.slots == "patched" else show.slots, FEWEST_SLOTS),
        slots_needed=max(show.slots if isinstance(show.slots, int) and asks else last_slot, FEWEST_SLOTS),
        _wirings=tuple(Wiring(entries[width], width) for width in WIDTHS_SLOTS if entries[width]),
        _fixed=fixed,
        _limited=_limited_columns(fixtures),
    )


def _limited_columns(fixtures: Iterable[PatchedFixture]) -> LimitedColumns | None:
    limited = [
        LimitedColumn.of(fixture.columns["intensity"], fixture.limits, steps_of_intensity(fixture.channels))
        for fixture in fixtures
        if fixture.limits is not None
    ]
    return LimitedColumns(limited) if limited else None
