"""What can be wrong with the limits of lights: in the rig, and where looks ask for what will not come."""

from __future__ import annotations

from collections.abc import Iterator

from cuedeck.rig.dimmer import dimmer_of
from cuedeck.rig.limits import limits_of, steps_of_intensity
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch
from cuedeck.rig.types import types_of
from cuedeck.show.channels import Channel
from cuedeck.show.fixtures import Fixture, FixtureType
from cuedeck.show.load import LoadedShow
from cuedeck.show.model import EVERYTHING, Look, Setting
from cuedeck.show.problems import Problem, Severity, first_of
from cuedeck.show.units import Level

NEVER_ABOVE = "never above"
NEVER_BELOW = "never below"

_ROUNDING = 1e-9
"""How far a control value may be past a limit and still be that limit, written in another unit."""


def check_limits(loaded: LoadedShow, patch: Patch) -> list[Problem]:
    """Return the first problems with limits: of the rig, and of the looks that ask for more than they allow."""
    return first_of([_of_rig(loaded), _of_looks(loaded, patch)])


def _of_rig(loaded: LoadedShow) -> Iterator[Problem]:
    types = types_of(loaded.show)
    for name, hung in loaded.show.rig.items():
        kind = types.get(hung.type)
        channels = None if kind is None else kind.channels_in(hung.mode)
        if kind is None or channels is None or (hung.never_above is None and hung.never_below is None):
            continue
        if steps_of_intensity(channels):
            yield from _contradictions(loaded, name, hung, kind, channels)
        elif not any(loaded.source.is_incomplete("types", hung.type, part) for part in ("channels", "modes")):
            yield from _without_light(loaded, name, hung)


def _without_light(loaded: LoadedShow, name: str, hung: Fixture) -> Iterator[Problem]:
    for key, level in ((NEVER_ABOVE, hung.never_above), (NEVER_BELOW, hung.never_below)):
        if level is not None:
            place = loaded.source.place_of_key(("rig", name, key))
            yield Problem(place, f"'{name}' gives no light, so there is no level to limit", "take it out")


def _contradictions(
    loaded: LoadedShow, name: str, hung: Fixture, kind: FixtureType, channels: list[Channel]
) -> Iterator[Problem]:
    limits = limits_of(hung, dimmer_of(kind.dimmer))
    if limits is None or hung.never_above is None or hung.never_below is None:
        return
    if loaded.source.is_incomplete("types", hung.type, "dimmer"):
        return  # what a stop is on this light is not known
    place = loaded.source.place_of_value(("rig", name, NEVER_BELOW))
    lowest, highest = limits.values(steps_of_intensity(channels))
    if limits.lowest > limits.highest + _ROUNDING:
        what = f"'{name}' is never below {hung.never_below}, and that is above its '{NEVER_ABOVE}', {hung.never_above}"
        yield Problem(place, what, f"write {hung.never_above} or less, or raise '{NEVER_ABOVE}'")
    elif lowest > highest:
        what = f"no value that can be sent to '{name}' lies between {hung.never_below} and {hung.never_above}"
        yield Problem(place, what, f"write less here, or more at '{NEVER_ABOVE}'")


def _of_looks(loaded: LoadedShow, patch: Patch) -> Iterator[Problem]:
    """Yield a warning for each look and light where the level that the look itself writes is not reached.

    What a look takes over from one that it is like is told there.
    """
    limited = [fixture for fixture in patch.lights if fixture.limits is not None]
    for look_name, look in loaded.show.looks.items():
        for fixture in limited:
            written = _level_written(loaded, look, fixture)
            if written is not None:
                name, level = written
                yield from _not_reached(loaded, fixture, look_name, name, level)


def _level_written(loaded: LoadedShow, look: Look, fixture: PatchedFixture) -> tuple[str, Level] | None:
    found = None
    for name, setting in _settings(loaded, look, fixture.name):
        if setting.level is not None:
            found = name, setting.level
    return found


def _settings(loaded: LoadedShow, look: Look, light: str) -> Iterator[tuple[str, Setting]]:
    if look.everything is not None:
        yield EVERYTHING, look.everything
    for name, setting in look.fixtures.items():
        if name not in loaded.show.rig and light in loaded.show.groups.get(name, ()):
            yield name, setting
    if light in look.fixtures:
        yield light, look.fixtures[light]


def _not_reached(loaded: LoadedShow, fixture: PatchedFixture, look: str, name: str, level: Level) -> Iterator[Problem]:
    limits, hung = fixture.limits, fixture.hung
    asked = fixture.dimmer.control_of(level)
    if limits is None:
        return
    place = loaded.source.place_of_value(("looks", look, name, "level"))
    what = f"look '{look}' asks {level} of '{fixture.name}', which is never"
    if asked > limits.highest + _ROUNDING:
        cure = f"write {hung.never_above}, or raise '{NEVER_ABOVE}' of '{fixture.name}'"
        yield Problem(place, f"{what} above {hung.never_above}", cure, Severity.WARNING)
    elif 0 < asked < limits.lowest - _ROUNDING:
        cure = f"write {hung.never_below}, or 'out' for as dark as it may be"
        yield Problem(place, f"{what} below {hung.never_below}", cure, Severity.WARNING)
