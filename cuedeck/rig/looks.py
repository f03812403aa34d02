"""The value that a look gives to each parameter of the rig."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from cuedeck.arrays import Values
from cuedeck.rig.mixing import solve
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch
from cuedeck.show.model import MOST_LIKE, Look, Setting, Show


def resolve_look(show: Show, patch: Patch, name: str) -> Values:
    """Return the value each parameter goes to, shape (parameters,); NaN where the look leaves it as it is.

    In a look, `everything` comes first, then the groups in their order, then the lights named. Names that
    lead nowhere and circles of `like` are passed over: the checks of the show report them.
    """
    targets = np.full(len(patch.parameters), np.nan)
    look_settings = _look_settings(show, name)
    for fixture in patch.fixtures:
        for setting in _settings(look_settings, fixture):
            for column, value in values_of(fixture, setting):
                targets[column] = value
    return targets


def settings_in(show: Show, name: str, fixture: PatchedFixture) -> Iterator[Setting]:
    """Yield the settings of a fixture in a look and in those it is like; later ones win."""
    return _settings(_look_settings(show, name), fixture)


class _LookSettings(NamedTuple):
    """The settings of one look: for everything, for groups with their lights, and for single lights."""

    everything: Setting | None
    of_groups: Sequence[tuple[frozenset[str], Setting]]
    fixtures: Mapping[str, Setting]


def _look_settings(show: Show, name: str) -> list[_LookSettings]:
    """Return the settings of a look and of those it is like, the furthest first."""
    return [
        _LookSettings(look.everything, _settings_of_groups(show, look), look.fixtures)
        for look in reversed(list(ancestry(show, name)))
    ]


def ancestry(show: Show, name: str | None) -> Iterator[Look]:
    """Yield a look, then the one it is like, and so on."""
    seen: set[str] = set()
    while name is not None and name in show.looks and name not in seen and len(seen) < MOST_LIKE:
        seen.add(name)
        yield show.looks[name]
        name = show.looks[name].like


def _settings_of_groups(show: Show, look: Look) -> list[tuple[frozenset[str], Setting]]:
    named = [(name, setting) for name, setting in look.fixtures.items() if name not in show.rig]
    return [(frozenset(show.groups[name]), setting) for name, setting in named if name in show.groups]


def _settings(look_settings: Sequence[_LookSettings], fixture: PatchedFixture) -> Iterator[Setting]:
    for look in look_settings:
        if look.everything is not None:
            yield look.everything
        for members, setting in look.of_groups:
            if fixture.name in members:
                yield setting
        if fixture.name in look.fixtures:
            yield look.fixtures[fixture.name]


def values_of(fixture: PatchedFixture, setting: Setting) -> Iterator[tuple[int, float]]:
    """Yield the columns that a setting moves and their values; what a fixture has no channel for is passed over."""
    if setting.level is not None and fixture.gives_light:
        yield fixture.columns["intensity"], fixture.dimmer.control_of(setting.level)
    if setting.colour is not None:
        mixture = solve(fixture.mixers, setting.colour)
        values: Mapping[str, float] = {} if mixture is None else mixture.values
        for attribute, value in values.items():
            yield fixture.columns[attribute], value
    for attribute, asked in setting.channels.items():
        channel = fixture.by_attribute.get(attribute)
        if channel is not None and (asked.range_name is None or asked.range_name in channel.ranges):
            yield fixture.columns[attribute], channel.position(asked)
