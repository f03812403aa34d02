"""Parameters: what a look can set on each fixture of a rig, each a number from 0 to 1 in a column of its own.

A fixture of emitters without a dimmer of its own has an intensity all the same: it scales the emitters.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from cuedeck.rig.dimmer import DIMMERS, Dimmer, dimmer_of
from cuedeck.rig.limits import Limits, limits_of
from cuedeck.rig.mixing import Mixer, mixers_of
from cuedeck.rig.types import types_of
from cuedeck.rig.white import WhiteScale, white_scale
from cuedeck.show.channels import EMITTERS, Channel, width_of
from cuedeck.show.fixtures import Fixture, FixtureType
from cuedeck.show.model import Show
from cuedeck.show.units import FULL_UNIVERSE, Address

DEFAULT_WHITE_K = 5600.0
"""What a light of variable white gives until a look says otherwise, or the nearest it can."""


@dataclass(frozen=True)
class Parameter:
    """One thing that a look can set on one fixture."""

    fixture: str
    attribute: str
    default: float
    """Its value, 0 to 1, before any cue."""


@dataclass(frozen=True)
class PatchedFixture:
    """A fixture with its type, its place on the line, and the columns of its parameters."""

    name: str
    hung: Fixture
    address: Address
    type: FixtureType
    channels: Sequence[Channel]
    """Its channels in the mode it is set to."""
    columns: Mapping[str, int]

    @cached_property
    def by_attribute(self) -> Mapping[str, Channel]:
        """Its channels by what they set."""
        return {channel.attribute: channel for channel in self.channels if channel.attribute is not None}

    @cached_property
    def colour_columns(self) -> list[int]:
        """The columns of all that it can be set to but its intensity."""
        return [column for attribute, column in self.columns.items() if attribute != "intensity"]

    @property
    def gives_light(self) -> bool:
        """Whether it is a light at all, rather than something else that listens, such as a fan."""
        return "intensity" in self.columns

    @property
    def has_own_dimmer(self) -> bool:
        """Whether a channel carries its intensity, rather than all its emitters together."""
        return "intensity" in self.by_attribute

    @property
    def last_slot(self) -> int:
        return self.address.slot + width_of(list(self.channels)) - 1

    @cached_property
    def emitters(self) -> tuple[str, ...]:
        return tuple(name for name in self.by_attribute if name in EMITTERS)

    @cached_property
    def dimmer(self) -> Dimmer:
        """How light follows its control: of its intensity, or of each emitter where it has no dimmer of its own."""
        return dimmer_of(self.type.dimmer)

    @cached_property
    def limits(self) -> Limits | None:
        """How far its intensity may go, its own or the one that its emitters share; None where nothing binds it."""
        return limits_of(self.hung, self.dimmer) if self.gives_light else None

    @property
    def stays_lit(self) -> bool:
        """Whether it is never dark, whatever is asked of it."""
        return self.limits is not None and self.limits.lowest > 0

    @cached_property
    def white(self) -> WhiteScale | None:
        """The scale of its colour temperature channel, where it has one."""
        if "colour temperature" not in self.columns or self.type.colour_temperature is None:
            return None
        return white_scale(self.type.colour_temperature)

    @cached_property
    def mixers(self) -> tuple[Mixer, ...]:
        emitter_dimmer = DIMMERS["linear"] if self.has_own_dimmer else self.dimmer
        return mixers_of(tuple(self.columns), self.white, self.type.emitters, emitter_dimmer)

    def parameters(self) -> Iterator[Parameter]:
        for attribute in self.columns:
            yield Parameter(self.name, attribute, self._default(attribute))

    def _default(self, attribute: str) -> float:
        channel = self.by_attribute.get(attribute)
        if channel is not None and channel.default is not None:
            return channel.position(channel.default)
        if attribute == "colour temperature" and self.white is not None:
            return self.white.position_of(DEFAULT_WHITE_K)
        if attribute in ("x", "y"):
            return 1 / 3  # equal-energy white
        return 1.0 if attribute in EMITTERS and self.white is None else 0.0


def patched_fixtures(show: Show) -> Iterator[PatchedFixture]:
    """Yield the fixtures that can be wired: of a known type and mode, with an address, inside their universe."""
    types = types_of(show)
    column = 0
    for name, hung in show.rig.items():
        kind = types.get(hung.type)
        channels = None if kind is None else kind.channels_in(hung.mode)
        if kind is None or channels is None or hung.address is None:
            continue
        if hung.address.slot + width_of(channels) - 1 > FULL_UNIVERSE:
            continue
        attributes = [channel.attribute for channel in channels if channel.attribute is not None]
        if "intensity" not in attributes and set(EMITTERS) & set(attributes):
            attributes.insert(0, "intensity")
        columns = {attribute: column + n for n, attribute in enumerate(attributes)}
        yield PatchedFixture(name, hung, hung.address, kind, channels, columns)
        column += len(attributes)
