"""What a look asks of each parameter of the rig."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import numpy.typing as npt

from cuedeck.light.scales import ratio_from_stops
from cuedeck.rig.mixing import solve
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch
from cuedeck.show.model import Look, Setting, Show
from cuedeck.show.units import Level, Percent

Values = npt.NDArray[np.float64]


def control_of_level(level: Level, fixture: PatchedFixture) -> float:
    """Return the control value, 0 to 1, of a level: percent are control, stops go through the dimmer."""
    if isinstance(level, Percent):
        return float(level)
    light = np.array([ratio_from_stops(float(level))])
    return float(fixture.dimmer.control_from_light(light)[0])


def resolve_look(show: Show, patch: Patch, name: str) -> Values:
    """Return the value each parameter goes to, shape (parameters,); NaN where the look leaves it as it is.

    In a look, `everything` comes first, then the groups in their order, then the lights named. Names that
    lead nowhere and circles of `like` are passed over: the checks of the show report them.
    """
    targets = np.full(len(patch.parameters), np.nan)
    for fixture in patch.fixtures:
        for setting in settings_in(show, name, fixture):
            for column, value in _values(fixture, setting):
                targets[column] = value
    return targets


def settings_in(show: Show, name: str, fixture: PatchedFixture) -> Iterator[Setting]:
    """Yield what a look and those it is like say of a fixture, the later over the earlier."""
    for look in reversed(list(_ancestry(show, name))):
        yield from _settings(show, look, fixture)


def _ancestry(show: Show, name: str | None) -> Iterator[Look]:
    """Yield a look, then the one it is like, and so on."""
    seen: set[str] = set()
    while name is not None and name in show.looks and name not in seen:
        seen.add(name)
        yield show.looks[name]
        name = show.looks[name].like


def _settings(show: Show, look: Look, fixture: PatchedFixture) -> Iterator[Setting]:
    """Yield what a look says of a fixture, the later over the earlier."""
    if look.everything is not None:
        yield look.everything
    for name, setting in look.fixtures.items():
        if name not in show.rig and fixture.name in show.groups.get(name, ()):
            yield setting
    if fixture.name in look.fixtures:
        yield look.fixtures[fixture.name]


def _values(fixture: PatchedFixture, setting: Setting) -> Iterator[tuple[int, float]]:
    """Yield the columns that a setting moves and their values; what a fixture has no channel for is passed over."""
    if setting.level is not None:
        yield fixture.columns["intensity"], control_of_level(setting.level, fixture)
    if setting.colour is not None:
        mixture = solve(fixture.mixers, setting.colour)
        values: Mapping[str, float] = {} if mixture is None else mixture.values
        for attribute, value in values.items():
            yield fixture.columns[attribute], value
    for attribute, asked in setting.channels.items():
        channel = fixture.by_attribute.get(attribute)
        if channel is not None and (asked.range_name is None or asked.range_name in channel.ranges):
            yield fixture.columns[attribute], channel.position(asked)
