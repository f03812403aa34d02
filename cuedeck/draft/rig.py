"""Edits of addresses in the rig, and checks of an address while it is being typed."""

from __future__ import annotations

from dataclasses import dataclass

from cuedeck.draft.steps import Edit
from cuedeck.errors import Refusal
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.sheet import slot_names, switches
from cuedeck.rig.types import types_of
from cuedeck.show.channels import width_of
from cuedeck.show.units import FULL_UNIVERSE, Address, UnitError
from cuedeck.show.yamltext.changes import Change, Remove, SetValue
from cuedeck.timeline.opening import OpenedShow


@dataclass(frozen=True)
class AddressCheck:
    """The note on an address that is being typed."""

    text: str
    is_free: bool
    """Whether a light can listen there, alone."""


def typed_address(opened: OpenedShow, light: str, text: str) -> Address:
    """Return the address that was typed: universe.slot, or a slot of the light's own universe. Raises Refusal."""
    cleaned = text.strip()
    hung = opened.show.rig[light]
    if cleaned.isascii() and cleaned.isdigit():
        universe = hung.address.universe if hung.address else opened.patch.universes[0]
        cleaned = f"{universe}.{cleaned}"
    try:
        return Address.parse(cleaned)
    except UnitError as error:
        raise Refusal(f"{error.what}: {error.cure}") from error


def check_address(opened: OpenedShow, light: str, text: str) -> AddressCheck:
    """Return what an address means for a light: its slots and switches, or with what it collides."""
    if not text.strip():
        return AddressCheck("no address: the light listens nowhere", is_free=True)
    try:
        address = typed_address(opened, light, text)
    except Refusal as refused:
        return AddressCheck(str(refused), is_free=False)
    width = _width(opened, light)
    last = address.slot + width - 1
    most = opened.show.slots if isinstance(opened.show.slots, int) else FULL_UNIVERSE
    if last > most:
        latest = most - width + 1
        what = f"{address} runs to slot {last}, and {most} are sent: the last that fits is {address.universe}.{latest}"
        return AddressCheck(what, is_free=False)
    taken = [one for one in opened.patch.fixtures if one.name != light and _overlaps(one, address, last)]
    if taken:
        with_whom = ", ".join(f"'{one.name}' ({one.address}-{one.last_slot})" for one in taken[:3])
        return AddressCheck(f"{address}-{last} collides with {with_whom}", is_free=False)
    kind = types_of(opened.show).get(opened.show.rig[light].type)
    dials = switches(address.slot, None if kind is None else kind.tenth_switch)
    also = f"; switches {dials}" if dials else ""
    return AddressCheck(f"free: slots {address.slot} to {last} of universe {address.universe}{also}", is_free=True)


def _width(opened: OpenedShow, light: str) -> int:
    hung = opened.show.rig[light]
    kind = types_of(opened.show).get(hung.type)
    channels = None if kind is None else kind.channels_in(hung.mode)
    return width_of(channels) if channels else 1


def _overlaps(fixture: PatchedFixture, address: Address, last: int) -> bool:
    is_same = fixture.address.universe == address.universe
    return is_same and fixture.address.slot <= last and address.slot <= fixture.last_slot


def set_address(opened: OpenedShow, light: str, text: str) -> Edit:
    """Return the edit that lets a light listen somewhere else. Raises Refusal where it would collide."""
    check = check_address(opened, light, text)
    if not check.is_free:
        raise Refusal(check.text)
    path = ("rig", light, "address")
    if not text.strip():
        has_one = opened.show.rig[light].address is not None
        gone: tuple[Change, ...] = (Remove(path),) if has_one else ()
        return Edit(f"{light} listens nowhere", gone)
    address = typed_address(opened, light, text)
    is_same = address == opened.show.rig[light].address
    return Edit(f"{light} listens at {address}", () if is_same else (SetValue(path, str(address)),))


def slot_carrier(opened: OpenedShow, universe: int, slot: int) -> str:
    """Return what a slot carries, in words; nothing where no light listens."""
    for fixture in opened.patch.fixtures:
        if fixture.address.universe == universe and fixture.address.slot <= slot <= fixture.last_slot:
            return f"{fixture.name}, {dict(slot_names(fixture)).get(slot, '')}"
    return ""
