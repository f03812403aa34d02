"""What can be wrong between a rig and its types: modes, addresses, readings."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from itertools import pairwise

from cuedeck.rig.dimmer import check_readings
from cuedeck.rig.mixing import COLOUR_ATTRIBUTES
from cuedeck.rig.parameters import patched_fixtures
from cuedeck.rig.types import types_of
from cuedeck.show.channels import Channel, width_of
from cuedeck.show.fixtures import ColourRange, Fixture, FixtureType
from cuedeck.show.load import LoadedShow
from cuedeck.show.problems import Place, Problem, Severity, choice_of, counted, first_of
from cuedeck.show.units import FULL_UNIVERSE, Address, Percent, UnitError, shorten


def check_rig(loaded: LoadedShow) -> list[Problem]:
    """Return the problems of the rig: unknown types and modes, readings that will not do, addresses that clash."""
    return first_of([_types(loaded), _fixtures(loaded), _overlaps(loaded)])


def _types(loaded: LoadedShow) -> Iterator[Problem]:
    for name, kind in loaded.show.types.items():
        path = ("types", name)
        if not isinstance(kind.dimmer, str):
            pairs = [(float(control), float(reading)) for control, reading in kind.dimmer.items()]
            for index, what, cure in check_readings(pairs):
                control = None if index is None else list(kind.dimmer)[index]
                yield Problem(_place_of_control(loaded, (*path, "dimmer"), control), what, cure)
        if kind.colour_temperature is not None and not isinstance(kind.colour_temperature, ColourRange):
            yield from _white_readings(loaded, name, kind)
        yield from _not_used(loaded, name, kind)


def _not_used(loaded: LoadedShow, name: str, kind: FixtureType) -> Iterator[Problem]:
    """Yield a warning for what a type says and nothing comes of."""
    cure = "leave it for later, or take it out"
    for key, value in (("lumens", kind.lumens), ("size", kind.size)):
        if value is not None:
            what = f"'{key}' of '{shorten(name)}' is kept, and nothing is worked out from it yet"
            yield Problem(loaded.source.place_of_key(("types", name, key)), what, cure, Severity.WARNING)
    attributes = {channel.attribute for _, channels in kind.variants() for channel in channels}
    if kind.white is not None and attributes & set(COLOUR_ATTRIBUTES):
        what = f"'white' of '{shorten(name)}' is not used: a channel sets its colour"
        yield Problem(loaded.source.place_of_key(("types", name, "white")), what, cure, Severity.WARNING)


def _place_of_control(loaded: LoadedShow, path: tuple[str, ...], control: Percent | None) -> Place:
    for key in loaded.source.names(*path):
        with suppress(UnitError):
            if Percent.parse(key) == control:
                return loaded.source.place_of_key((*path, key))
    return loaded.source.place_of_value(path)


def _white_readings(loaded: LoadedShow, name: str, kind: FixtureType) -> Iterator[Problem]:
    """Yield a problem where whites measured along the channel do not all go one way."""
    assert isinstance(kind.colour_temperature, dict)  # noqa: S101 - for the type checker
    pairs = sorted(kind.colour_temperature.items())
    rising = pairs[-1][1] > pairs[0][1]
    for before, after in pairwise(pairs):
        if before[1] == after[1] or (after[1] > before[1]) != rising:
            yield Problem(
                _place_of_control(loaded, ("types", name, "colour temperature"), after[0]),
                f"{before[0]} gives {before[1]} and {after[0]} gives {after[1]}: the white does not keep to one way",
                "measure both again, or take one of them out",
            )


def _fixtures(loaded: LoadedShow) -> Iterator[Problem]:
    types = types_of(loaded.show)
    known = list(dict.fromkeys([*types, *loaded.source.names("types")]))
    for name, hung in loaded.show.rig.items():
        kind = types.get(hung.type)
        if kind is not None:
            yield from _mode(loaded, name, hung, kind)
            channels = kind.channels_in(hung.mode)
            yield from _address(loaded, name, hung, channels)
        elif hung.type not in known and not loaded.source.may_contain("types", hung.type):
            yield Problem(
                loaded.source.place_of_value(("rig", name, "type")),
                f"'{name}' is of type '{shorten(hung.type)}', which is neither built in nor under types",
                choice_of(hung.type, known),
            )


def _mode(loaded: LoadedShow, name: str, hung: Fixture, kind: FixtureType) -> Iterator[Problem]:
    if kind.channels_in(hung.mode) is not None or _is_mode_lost(loaded, name, hung):
        return
    if hung.mode is None:
        place = loaded.source.place_of_value(("rig", name, "type"))
        what = f"'{name}' is of type '{shorten(hung.type)}', which has {len(kind.modes)} modes"
        yield Problem(place, what, f"add the one it is set to: {_modes(kind)}")
    else:
        place = loaded.source.place_of_value(("rig", name, "mode"))
        what = f"the type '{shorten(hung.type)}' of '{name}' has no mode '{shorten(hung.mode)}'"
        yield Problem(place, what, choice_of(hung.mode, kind.modes, none="take it out: this type has one mode only"))


def _is_mode_lost(loaded: LoadedShow, name: str, hung: Fixture) -> bool:
    """Whether the mode of a light is written, and only could not be read: here, or in the type."""
    path = ("rig", name, "mode") if hung.mode is None else ("types", hung.type, "modes", hung.mode)
    return path in loaded.source.keys or loaded.source.is_rejected(*path)


def _modes(kind: FixtureType) -> str:
    return " or ".join(f"'mode: {shorten(mode)}'" for mode in list(kind.modes)[:12])


def _address(loaded: LoadedShow, name: str, hung: Fixture, channels: list[Channel] | None) -> Iterator[Problem]:
    show, source = loaded.show, loaded.source
    if hung.address is None:
        # An address that was written wrong and taken out is no missing address.
        if not source.is_rejected("rig", name, "address"):
            yield Problem(
                source.place_of_key(("rig", name)),
                f"'{name}' has no address",
                "add one such as 'address: 1.1', or let 'cuedeck patch SHOW --auto' propose it",
            )
        return
    if channels is None:
        return
    place = source.place_of_value(("rig", name, "address"))
    width = width_of(channels)
    last = hung.address.slot + width - 1
    if last > FULL_UNIVERSE:
        yield Problem(
            place,
            f"'{name}' takes {counted(width, 'slot')} and would run to {last}, past the end at {FULL_UNIVERSE}",
            f"write an address up to {Address(hung.address.universe, FULL_UNIVERSE - width + 1)}",
        )
    elif isinstance(show.slots, int) and last > show.slots:
        yield Problem(
            place,
            f"'{name}' listens up to slot {last}, and only {show.slots} slots are sent",
            f"write 'slots: {last}' or more at the top of the show, or 'slots: patched'",
        )


def _overlaps(loaded: LoadedShow) -> Iterator[Problem]:
    taken: dict[tuple[int, int], str] = {}
    for fixture in patched_fixtures(loaded.show):
        address = fixture.address
        own = [(address.universe, slot) for slot in range(address.slot, fixture.last_slot + 1)]
        clash = next((slot for slot in own if slot in taken), None)
        if clash is not None:
            other = taken[clash]
            yield Problem(
                loaded.source.place_of_value(("rig", fixture.name, "address")),
                f"'{fixture.name}' and '{other}' both listen to slot {clash[0]}.{clash[1]}",
                f"move one of them: '{fixture.name}' takes {counted(len(own), 'slot')} from {address};"
                " or let 'cuedeck patch SHOW --auto' find a free one",
            )
        for slot in own:
            taken.setdefault(slot, fixture.name)
