"""Addressing: first slots for the lights that have none, or that cannot keep theirs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from cuedeck.rig.types import types_of
from cuedeck.show.channels import width_of
from cuedeck.show.fixtures import Fixture
from cuedeck.show.model import Show
from cuedeck.show.units import FULL_UNIVERSE, Address

LAST_UNIVERSE = 63999


@dataclass(frozen=True)
class Proposal:
    """Where a light could listen."""

    name: str
    before: Address | None
    address: Address


def propose(show: Show, *, gap_slots: int = 0, every_slots: int = 1, everything: bool = False) -> list[Proposal]:
    """Return an address for each light that has none, overlaps one before it, or runs past the end.

    Lights are taken in the order of the rig, each at the first place that is free, with `gap_slots` spare
    before and behind it, on slots 1, 1 + every_slots and so on, from the lowest universe in use upwards.
    With `everything`, all lights are addressed anew. Lights of unknown type or mode are passed over.
    """
    last_slot = show.slots if isinstance(show.slots, int) else FULL_UNIVERSE
    widths = dict(_widths(show))
    taken = _Taken(last_slot)
    waiting = []
    for name, width in widths.items():
        address = show.rig[name].address
        if everything or address is None or not taken.is_free(address, width):
            waiting.append(name)
        else:
            taken.add(address, width)
    first_universe = min((address.universe for address in _addresses(show)), default=1)
    proposals = []
    for name in waiting:
        width = widths[name]
        address = taken.first_free(first_universe, width, gap_slots, every_slots)
        if address is not None:
            taken.add(address, width)
            proposals.append(Proposal(name, show.rig[name].address, address))
    return [proposal for proposal in proposals if proposal.before != proposal.address]


def _widths(show: Show) -> Iterator[tuple[str, int]]:
    types = types_of(show)
    for name, hung in show.rig.items():
        channels = types[hung.type].channels_in(hung.mode) if hung.type in types else None
        if channels is not None:
            yield name, width_of(channels)


def _addresses(show: Show) -> Iterator[Address]:
    fixtures: list[Fixture] = list(show.rig.values())
    for hung in fixtures:
        if hung.address is not None:
            yield hung.address


@dataclass
class _Taken:
    """Which slots are spoken for."""

    last_slot: int
    slots: dict[int, set[int]] = field(default_factory=dict)
    """Slots in use, by universe."""

    def is_free(self, address: Address, width: int, gap_slots: int = 0) -> bool:
        """Whether a light fits at an address with so many spare slots on both sides."""
        wanted = range(address.slot - gap_slots, address.slot + width + gap_slots)
        return address.slot + width - 1 <= self.last_slot and self.slots.get(address.universe, set()).isdisjoint(wanted)

    def add(self, address: Address, width: int) -> None:
        self.slots.setdefault(address.universe, set()).update(range(address.slot, address.slot + width))

    def first_free(self, universe: int, width: int, gap_slots: int, every_slots: int) -> Address | None:
        """Return the first place for a light; None where it is wider than what is sent of a universe."""
        while width <= self.last_slot and universe <= LAST_UNIVERSE:
            for slot in range(1, self.last_slot - width + 2, every_slots):
                address = Address(universe, slot)
                if self.is_free(address, width, gap_slots):
                    return address
            universe += 1
        return None
