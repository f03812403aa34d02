"""The patch: which parameter of which fixture is carried by which slot, both ways.

A parameter is one thing that a look can set on one fixture, a number from 0 to 1. Levels are an array
with a column for each parameter; slots an array of universes by 512. Encoding and decoding stand side
by side here, and nothing else knows where a fixture listens.

A fixture of emitters without a dimmer of its own has an intensity all the same: it scales the emitters.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from cuedeck.light.colour import mired_from_kelvin
from cuedeck.rig.types import types_of
from cuedeck.show.load import LoadedShow
from cuedeck.show.model import FEWEST_SLOTS, FULL_UNIVERSE, Attribute, ColourRange, Fixture, FixtureType, Show
from cuedeck.show.problems import Problem, choice_of, counted
from cuedeck.show.units import shorten

Values = npt.NDArray[np.float64]
Slots = npt.NDArray[np.uint8]
Index = npt.NDArray[np.intp]

FULL_8_BIT = 255
FULL_16_BIT = 65535
DEFAULT_WHITE_K = 5600.0
"""What a two-tone light gives until a look says otherwise, or the nearest it can."""


@dataclass(frozen=True)
class Parameter:
    """One thing that a look can set on one fixture."""

    fixture: str
    attribute: Attribute
    default: float
    """Its value, 0 to 1, before any cue."""


@dataclass(frozen=True)
class PatchedFixture:
    """A fixture with its type, and the columns of its parameters."""

    name: str
    hung: Fixture
    type: FixtureType
    columns: Mapping[Attribute, int]

    @property
    def has_own_dimmer(self) -> bool:
        """Whether a channel carries its intensity, rather than all its emitters together."""
        return any(channel.attribute == "intensity" for channel in self.type.channels)


@dataclass(frozen=True)
class _Wiring:
    """Columns of levels and the places of their slots in a flattened packet, for one channel width."""

    columns: Index
    scaled_by: Index
    """For each, the column that scales it; its own column where none does."""
    places: Index
    """Where each one's first slot is."""
    width_slots: int

    @cached_property
    def _runs(self) -> tuple[tuple[slice, slice], ...]:
        """Where neighbours among the entries are neighbours in the packet too: both as slices."""
        width = self.width_slots
        starts = np.flatnonzero(np.diff(self.places, prepend=-2 * width) != width).tolist()
        ends = [*starts[1:], len(self.places)]
        return tuple(
            (slice(start * width, end * width), slice(place, place + (end - start) * width))
            for start, end, place in zip(starts, ends, self.places[starts].tolist(), strict=False)
        )

    def place(self, values: Slots, flat: Slots) -> None:
        """Put the bytes of all entries, (n, bytes), into flattened packets, (n, slots)."""
        for of_values, of_packet in self._runs:
            flat[:, of_packet] = values[:, of_values]

    @cached_property
    def is_scaled(self) -> Index:
        """Which of the entries another column scales."""
        return np.flatnonzero(self.scaled_by != self.columns)


@dataclass(frozen=True)
class Patch:
    """The rig, wired."""

    fixtures: tuple[PatchedFixture, ...]
    parameters: tuple[Parameter, ...]
    universes: tuple[int, ...]
    """The universes that are sent, in order."""
    slots_sent: int
    """Slots in each packet."""
    _narrow: _Wiring = field(repr=False)
    _wide: _Wiring = field(repr=False)
    _fixed: Slots = field(repr=False)

    @property
    def defaults(self) -> Values:
        """The value of each parameter before any cue; shape (parameters,)."""
        return np.array([parameter.default for parameter in self.parameters], dtype=np.float64)

    def encode(self, levels: Values) -> Slots:
        """Return the slots that carry levels: (n, parameters) of 0 to 1 in, (n, universes, 512) out.

        A channel's value is the nearest whole number of its range, halves upwards: floor(255 v + 1/2)
        for one slot, floor(65535 v + 1/2) for two, the coarse byte in the first.
        """
        flat = np.empty((len(levels), self._fixed.size), dtype=np.uint8)
        flat[:] = self._fixed
        self._narrow.place(self._driven(levels, self._narrow, FULL_8_BIT).astype(np.uint8), flat)
        self._wide.place(self._driven(levels, self._wide, FULL_16_BIT).astype(">u2").view(np.uint8), flat)
        return flat.reshape(len(levels), len(self.universes), FULL_UNIVERSE)

    def decode(self, slots: Slots) -> Values:
        """Return the levels that slots stand for: (n, universes, 512) in, (n, parameters) out.

        Where emitters share an intensity that no slot carries, it is that of the strongest emitter; an
        emitter of a dark fixture decodes as full, as nothing can be known of it.
        """
        flat = slots.reshape(len(slots), -1)
        levels = np.ones((len(slots), len(self.parameters)))
        levels[:, self._narrow.columns] = flat[:, self._narrow.places] / FULL_8_BIT
        wide = flat[:, self._wide.places].astype(np.uint16) * 256 + flat[:, self._wide.places + 1]
        levels[:, self._wide.columns] = wide / FULL_16_BIT
        for fixture in self.fixtures:
            if not fixture.has_own_dimmer:
                intensity = fixture.columns["intensity"]
                emitters = [column for column in fixture.columns.values() if column != intensity]
                strongest = levels[:, emitters].max(axis=1)
                levels[:, intensity] = strongest
                dark = strongest == 0
                levels[:, emitters] = np.where(
                    dark[:, None], 1.0, levels[:, emitters] / np.where(dark, 1.0, strongest)[:, None]
                )
        return levels

    @staticmethod
    def _driven(levels: Values, wiring: _Wiring, full: int) -> Values:
        """Return values from 1/2 to full + 1/2: dropping the fraction then rounds, halves upwards."""
        driven = np.take(levels, wiring.columns, axis=1)
        driven *= full
        scaled = wiring.is_scaled
        if scaled.size:
            driven[:, scaled] *= levels[:, wiring.scaled_by[scaled]]
        driven += 0.5
        return driven


def position_on_colour_range(ends: ColourRange, kelvin: float) -> float:
    """Return where a colour temperature lies between two ends, 0 warm to 1 cool, along the mired scale.

    Outside the ends it is clamped.
    """
    low, high = mired_from_kelvin(float(ends.low)), mired_from_kelvin(float(ends.high))
    return min(max((low - mired_from_kelvin(kelvin)) / (low - high), 0.0), 1.0)


def kelvin_on_colour_range(ends: ColourRange, position: float) -> float:
    """Return the colour temperature at a position; the inverse of position_on_colour_range."""
    low, high = mired_from_kelvin(float(ends.low)), mired_from_kelvin(float(ends.high))
    return 1e6 / (low + (high - low) * position)


def build_patch(show: Show) -> Patch:
    """Wire a show's rig. Fixtures of unknown type or past the end of a universe are left out."""
    fixtures = tuple(_patched(show))
    parameters = tuple(
        Parameter(fixture.name, attribute, _default(fixture.type, attribute))
        for fixture in fixtures
        for attribute in fixture.columns
    )
    universes = tuple(sorted({fixture.hung.address.universe for fixture in fixtures})) or (1,)
    fixed = np.zeros((len(universes), FULL_UNIVERSE), dtype=np.uint8)
    entries: dict[int, list[tuple[int, int, int]]] = {1: [], 2: []}
    for fixture in fixtures:
        place = universes.index(fixture.hung.address.universe) * FULL_UNIVERSE + fixture.hung.address.slot - 1
        for channel in fixture.type.channels:
            if channel.attribute is None:
                fixed.flat[place] = channel.fixed_value
            else:
                column = fixture.columns[channel.attribute]
                scaled_by = column if fixture.has_own_dimmer else fixture.columns["intensity"]
                entries[channel.width_slots].append((column, scaled_by, place))
            place += channel.width_slots
    last_slots = [_last_slot(fixture.hung, fixture.type) for fixture in fixtures]
    sent = max(last_slots, default=0) if show.slots == "patched" else show.slots
    return Patch(
        fixtures=fixtures,
        parameters=parameters,
        universes=universes,
        slots_sent=max(sent, FEWEST_SLOTS),
        _narrow=_wiring(entries[1], 1),
        _wide=_wiring(entries[2], 2),
        _fixed=fixed.reshape(-1),
    )


def _last_slot(hung: Fixture, kind: FixtureType) -> int:
    return hung.address.slot + kind.width_slots - 1


def _patched(show: Show) -> Iterator[PatchedFixture]:
    types = types_of(show)
    column = 0
    for name, hung in show.rig.items():
        kind = types.get(hung.type)
        if kind is None or _last_slot(hung, kind) > FULL_UNIVERSE:
            continue
        attributes = [channel.attribute for channel in kind.channels if channel.attribute is not None]
        if "intensity" not in attributes:
            attributes.insert(0, "intensity")
        yield PatchedFixture(name, hung, kind, {attribute: column + n for n, attribute in enumerate(attributes)})
        column += len(attributes)


def _default(kind: FixtureType, attribute: Attribute) -> float:
    if attribute == "intensity":
        return 0.0
    if attribute == "colour temperature" and kind.colour_temperature is not None:
        return position_on_colour_range(kind.colour_temperature, DEFAULT_WHITE_K)
    return 1.0


def _wiring(entries: list[tuple[int, int, int]], width_slots: int) -> _Wiring:
    columns, scaled_by, places = np.array(entries, dtype=np.intp).reshape(-1, 3).T
    return _Wiring(columns, scaled_by, places, width_slots)


def check_patch(loaded: LoadedShow) -> list[Problem]:
    """Return the problems of the patch: unknown types, addresses that overlap or run past the end."""
    return [*_unknown_types(loaded), *_past_the_end(loaded), *_overlaps(loaded)]


def _unknown_types(loaded: LoadedShow) -> Iterator[Problem]:
    known = list(types_of(loaded.show)) + loaded.source.names("types")
    for name, hung in loaded.show.rig.items():
        if hung.type not in known and not loaded.source.may_hold("types", hung.type):
            yield Problem(
                loaded.source.place_of_value(("rig", name, "type")),
                f"'{name}' is of type '{shorten(hung.type)}', which is neither built in nor under types",
                choice_of(hung.type, dict.fromkeys(known)),
            )


def _past_the_end(loaded: LoadedShow) -> Iterator[Problem]:
    show, source = loaded.show, loaded.source
    for name, hung in show.rig.items():
        kind = types_of(show).get(hung.type)
        if kind is None:
            continue
        last = _last_slot(hung, kind)
        place = source.place_of_value(("rig", name, "address"))
        if last > FULL_UNIVERSE:
            yield Problem(
                place,
                f"'{name}' takes {counted(kind.width_slots, 'slot')} and would run to {last},"
                f" past the end at {FULL_UNIVERSE}",
                f"write an address up to {hung.address.universe}.{FULL_UNIVERSE - kind.width_slots + 1}",
            )
        elif isinstance(show.slots, int) and last > show.slots:
            yield Problem(
                place,
                f"'{name}' listens up to slot {last}, and only {show.slots} slots are sent",
                f"write 'slots: {last}' or more at the top of the show, or 'slots: patched'",
            )


def _overlaps(loaded: LoadedShow) -> Iterator[Problem]:
    taken: dict[tuple[int, int], str] = {}
    for fixture in _patched(loaded.show):
        address = fixture.hung.address
        own = [(address.universe, address.slot + n) for n in range(fixture.type.width_slots)]
        clash = next((slot for slot in own if slot in taken), None)
        if clash is not None:
            other = taken[clash]
            yield Problem(
                loaded.source.place_of_value(("rig", fixture.name, "address")),
                f"'{fixture.name}' and '{other}' both listen to slot {clash[0]}.{clash[1]}",
                f"move one of them: '{fixture.name}' takes {counted(fixture.type.width_slots, 'slot')} from {address}",
            )
        for slot in own:
            taken.setdefault(slot, fixture.name)
