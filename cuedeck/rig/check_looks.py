"""What can be wrong between looks and the rig: channels and colours that a light does not have."""

from __future__ import annotations

from collections.abc import Iterator

from cuedeck.light.white import white_from_xy
from cuedeck.rig.mixing import Mixture, solve
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch
from cuedeck.show.channels import EMITTERS, SETTING_KEYS
from cuedeck.show.colours import Colour, White
from cuedeck.show.load import LoadedShow
from cuedeck.show.model import EVERYTHING, Setting
from cuedeck.show.problems import Place, Problem, Severity, choice_of
from cuedeck.show.units import ColourTemperature, Percent, shorten

Path = tuple[str, ...]


def check_looks(loaded: LoadedShow, patch: Patch) -> list[Problem]:
    """Return the problems with what looks ask of fixtures."""
    fixtures = {fixture.name: fixture for fixture in patch.fixtures}
    problems = list(_never_lit(loaded, patch))
    for look_name, look in loaded.show.looks.items():
        for name, setting in look.fixtures.items():
            path = ("looks", look_name, name)
            if name in fixtures:
                problems += _Check(loaded, path, [fixtures[name]], fixtures[name].name).problems(setting)
            elif name in loaded.show.groups:
                members = [fixtures[member] for member in loaded.show.groups[name] if member in fixtures]
                problems += _Check(loaded, path, members, name).problems(setting)
        if look.everything is not None:
            path = ("looks", look_name, EVERYTHING)
            problems += _Check(loaded, path, list(patch.fixtures), EVERYTHING).problems(look.everything)
    return problems


def _never_lit(loaded: LoadedShow, patch: Patch) -> Iterator[Problem]:
    """Yield a warning for each light that looks give a colour, and none a level: it stays dark."""
    looks = loaded.show.looks
    lit = {
        name
        for look in looks.values()
        for named, setting in [*look.fixtures.items(), (EVERYTHING, look.everything)]
        if setting is not None and _lights(setting)
        for name in loaded.show.groups.get(named, [named])
    }
    if EVERYTHING in lit:
        return
    for fixture in patch.fixtures:
        named = [name for name, look in looks.items() if fixture.name in look.fixtures]
        # A level that was written wrong and taken out is no missing level.
        written = any(not loaded.source.reads_as_nothing("looks", name, fixture.name, "level") for name in named)
        settings = [looks[name].fixtures[fixture.name] for name in named]
        coloured = any(setting.colour is not None or set(EMITTERS) & setting.channels.keys() for setting in settings)
        starts_lit = any(one.default > 0 for one in fixture.parameters() if one.attribute == "intensity")
        if coloured and not written and not starts_lit and fixture.name not in lit:
            yield Problem(
                loaded.source.place_of_key(("looks", named[0], fixture.name)),
                f"'{fixture.name}' is given a colour, and no look gives it a level: it stays dark",
                "add a level, such as {level: full, ...}",
                Severity.WARNING,
            )


def _lights(setting: Setting) -> bool:
    return setting.level not in (None, Percent.of(0)) or "intensity" in setting.channels


class _Check:
    """Checks what a look says of one light, or of several together: at least one of them must understand it."""

    def __init__(self, loaded: LoadedShow, path: Path, members: list[PatchedFixture], name: str) -> None:
        self._loaded = loaded
        self._path = path
        self._members = members
        self._name = name

    def problems(self, setting: Setting) -> Iterator[Problem]:
        """Yield what is wrong with a setting."""
        if not self._members:
            return
        if setting.level is not None and not any(one.gives_light for one in self._members):
            cure = "set its channels by name, such as {fan: 45 %}, or take it out"
            yield Problem(self._place("level"), f"'{self._name}' gives no light, so it has no level", cure)
        for attribute, asked in setting.channels.items():
            having = [one.by_attribute[attribute] for one in self._members if attribute in one.by_attribute]
            if not having:
                yield self._no_channel(attribute)
            elif asked.range_name is not None and not any(asked.range_name in channel.ranges for channel in having):
                yield self._no_range(
                    attribute, asked.range_name, list(dict.fromkeys(n for c in having for n in c.ranges))
                )
        if setting.colour is not None:
            yield from self._colour(setting.colour)

    def _place(self, key: str) -> Place:
        return self._loaded.source.place_of_value((*self._path, key))

    def _no_channel(self, attribute: str) -> Problem:
        place = self._loaded.source.place_of_key((*self._path, attribute))
        one = self._members[0]
        wanted = f"{attribute} emitter" if attribute in EMITTERS else f"channel '{shorten(attribute)}'"
        what = f"'{one.name}' is of type '{shorten(one.hung.type)}' and has no {wanted}"
        if len(self._members) > 1:
            what = f"no light of '{self._name}' has a {wanted}"
        names = [name for member in self._members for name in member.by_attribute if name != "intensity"]
        alike = [name for name in names if name in EMITTERS]
        known = alike if attribute in EMITTERS else [*SETTING_KEYS, *names]
        return Problem(place, what, choice_of(attribute, dict.fromkeys(known), none="take it out"))

    def _no_range(self, attribute: str, range_name: str, known: list[str]) -> Problem:
        what = f"the channel '{attribute}' of '{self._name}' has no range '{shorten(range_name)}'"
        cure = choice_of(range_name, known, none="write a percentage such as 45 %, or 'value 0' to 'value 255'")
        return Problem(self._place(attribute), what, cure)

    def _colour(self, colour: Colour) -> Iterator[Problem]:
        mixtures = [(one, solve(one.mixers, colour)) for one in self._members]
        if all(mixture is None for _, mixture in mixtures):
            yield self._no_colour()
            return
        for one, mixture in mixtures:
            if mixture is not None and not mixture.is_reached:
                yield self._out_of_reach(one, colour, mixture)

    def _no_colour(self) -> Problem:
        place = self._loaded.source.place_of_key((*self._path, "colour"))
        one = self._members[0]
        if len(self._members) > 1:
            return Problem(place, f"no light of '{self._name}' can be set to a colour", "take it out")
        if one.emitters:
            drives = ", ".join(f"{name}: 100 %" for name in one.emitters)
            return Problem(
                place,
                f"which colours the emitters of '{one.name}' have is not known",
                f"set them instead ({drives}), or give its type 'emitters:' with x, y and luminance of each",
            )
        return Problem(place, f"'{one.name}' is of type '{shorten(one.hung.type)}' and has no colour", "take it out")

    def _out_of_reach(self, one: PatchedFixture, colour: Colour, mixture: Mixture) -> Problem:
        reached = _words_of(mixture)
        if one.white is not None and isinstance(colour, White) and not colour.duv:
            ends = [ColourTemperature.of(round(k)) for k in (one.white.warmest_kelvin, one.white.coolest_kelvin)]
            what = f"'{one.name}' reaches {ends[0]} to {ends[1]}, not {colour}; it will give {reached}"
        else:
            what = f"'{one.name}' cannot give {colour}; the nearest it can is {reached}"
        cure = f"write {reached.partition(',')[0]}, or use another light"
        return Problem(self._place("colour"), what, cure, Severity.WARNING)


def _words_of(mixture: Mixture) -> str:
    """Return the colour that a mixture gives in the words of a show, with its tint where it is a white."""
    x, y = mixture.reached_xy
    white = white_from_xy(mixture.reached_xy)
    if white is not None and abs(white.duv) < 0.0005:
        return str(ColourTemperature.of(round(white.kelvin)))
    point = f"xy {x:.4f} {y:.4f}"
    return point if white is None else f"{point}, {white.kelvin:.0f} K Duv {white.duv:+.4f}"
