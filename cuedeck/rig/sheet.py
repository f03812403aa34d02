"""The patch sheet: what to set on each light, and how full each universe is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch
from cuedeck.show.units import FULL_UNIVERSE

SWITCHES = 9
"""DIP switches that carry an address; switch n counts 2^(n - 1) (common practice, no source)."""


@dataclass(frozen=True)
class Use:
    """How full one universe is."""

    universe: int
    used_slots: int
    spare: tuple[tuple[int, int], ...]
    """The ranges of slots that no light listens to, first and last."""

    @property
    def spare_slots(self) -> int:
        """How many slots no light listens to."""
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


def uses(patch: Patch) -> Iterator[Use]:
    """Yield how full each universe is."""
    for universe in patch.universes:
        taken = {
            slot
            for fixture in patch.fixtures
            if fixture.address.universe == universe
            for slot in range(fixture.address.slot, fixture.last_slot + 1)
        }
        yield Use(universe, len(taken), tuple(_free_ranges(taken)))


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
