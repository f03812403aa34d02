"""What a look asks of each parameter of the rig."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from cuedeck.light.scales import ratio_from_stops
from cuedeck.rig.dimmer import DIMMERS
from cuedeck.rig.patch import Patch, PatchedFixture, position_on_colour_range
from cuedeck.show.load import LoadedShow
from cuedeck.show.model import EVERYTHING, Attribute, Look, Setting, Show
from cuedeck.show.problems import Problem, Severity, choice_of
from cuedeck.show.units import Level, Percent

Values = npt.NDArray[np.float64]

_EMITTERS: tuple[Attribute, ...] = ("red", "green", "blue", "white")


def control_of_level(level: Level, fixture: PatchedFixture) -> float:
    """Return the control value, 0 to 1, of a level: percent are control, stops go through the dimmer."""
    if isinstance(level, Percent):
        return float(level)
    light = np.array([ratio_from_stops(float(level))])
    return float(DIMMERS[fixture.type.dimmer].control_from_light(light)[0])


def resolve_look(show: Show, patch: Patch, name: str) -> Values:
    """Return the value each parameter goes to, shape (parameters,); NaN where the look leaves it as it is.

    Names that lead nowhere and circles of `like` are passed over: the checks of the show report them.
    """
    targets = np.full(len(patch.parameters), np.nan)
    for look in reversed(list(_ancestry(show, name))):
        for fixture in patch.fixtures:
            if look.everything is not None:
                _apply(targets, fixture, look.everything)
        for fixture in patch.fixtures:
            if fixture.name in look.fixtures:
                _apply(targets, fixture, look.fixtures[fixture.name])
    return targets


def _ancestry(show: Show, name: str | None) -> Iterator[Look]:
    """Yield a look, then the one it is like, and so on."""
    seen: set[str] = set()
    while name is not None and name in show.looks and name not in seen:
        seen.add(name)
        yield show.looks[name]
        name = show.looks[name].like


def _apply(targets: Values, fixture: PatchedFixture, setting: Setting) -> None:
    if setting.level is not None:
        targets[fixture.columns["intensity"]] = control_of_level(setting.level, fixture)
    column = fixture.columns.get("colour temperature")
    ends = fixture.type.colour_temperature
    if setting.colour is not None and column is not None and ends is not None:
        targets[column] = position_on_colour_range(ends, float(setting.colour))
    for attribute in _EMITTERS:
        drive: Percent | None = getattr(setting, attribute)
        if drive is not None and attribute in fixture.columns:
            targets[fixture.columns[attribute]] = float(drive)


def check_looks(loaded: LoadedShow, patch: Patch) -> list[Problem]:
    """Return the problems with what looks ask of fixtures."""
    fixtures = {fixture.name: fixture for fixture in patch.fixtures}
    return [
        *_never_lit(loaded, patch),
        *(
            problem
            for look_name, look in loaded.show.looks.items()
            for name, setting in look.fixtures.items()
            if name in fixtures and name != EVERYTHING
            for problem in _setting(loaded, look_name, fixtures[name], setting)
        ),
    ]


def _never_lit(loaded: LoadedShow, patch: Patch) -> Iterator[Problem]:
    """Yield a warning for each light that looks give a colour, and none a level: it stays dark."""
    for fixture in patch.fixtures:
        named = [(name, look) for name, look in loaded.show.looks.items() if fixture.name in look.fixtures]
        settings = [look.fixtures[fixture.name] for _, look in named]
        settings += [look.everything for look in loaded.show.looks.values() if look.everything is not None]
        # A level that was written wrong and taken out is no missing level.
        written = any("level" in loaded.source.names("looks", name, fixture.name) for name, _ in named)
        if named and not written and not any(one.level is not None and one.level.base != 0 for one in settings):
            yield Problem(
                loaded.source.place_of_key(("looks", named[0][0], fixture.name)),
                f"'{fixture.name}' is given a colour, and no look gives it a level: it stays dark",
                "add a level, such as {level: full, ...}",
                Severity.WARNING,
            )


def _setting(loaded: LoadedShow, look: str, fixture: PatchedFixture, setting: Setting) -> Iterator[Problem]:
    def place(key: str) -> tuple[str, ...]:
        return ("looks", look, fixture.name, key)

    asked = {attribute: getattr(setting, attribute) for attribute in _EMITTERS}
    for attribute, drive in asked.items():
        if drive is not None and attribute not in fixture.columns:
            others = [name for name in fixture.columns if name in _EMITTERS]
            yield Problem(
                loaded.source.place_of_key(place(attribute)),
                f"'{fixture.name}' is of type '{fixture.hung.type}' and has no {attribute} emitter",
                choice_of(attribute, others, none="take it out"),
            )
    if setting.colour is None:
        return
    ends = fixture.type.colour_temperature
    if "colour temperature" not in fixture.columns or ends is None:
        emitters = [name for name in fixture.columns if name in _EMITTERS]
        drives = ", ".join(f"{name}: 100 %" for name in emitters)
        yield Problem(
            loaded.source.place_of_key(place("colour")),
            f"'{fixture.name}' is of type '{fixture.hung.type}' and has no colour temperature",
            f"set its emitters instead: {drives}" if emitters else "take it out",
        )
    elif not ends.low.base <= setting.colour.base <= ends.high.base:
        nearest = ends.low if setting.colour.base < ends.low.base else ends.high
        yield Problem(
            loaded.source.place_of_value(place("colour")),
            f"'{fixture.name}' reaches {ends.low} to {ends.high}, not {setting.colour}; it will give {nearest}",
            f"write {nearest}, or use another light",
            Severity.WARNING,
        )
