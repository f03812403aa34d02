"""What can be wrong between looks and the rig: channels and colours that a light does not have."""

from __future__ import annotations

from collections.abc import Iterator

from cuedeck.light.white import white_from_xy
from cuedeck.rig.mixing import Mixture, solve
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch
from cuedeck.show.channels import EMITTERS, SETTING_KEYS
from cuedeck.show.colours import Colour, WhiteColour
from cuedeck.show.load import LoadedShow
from cuedeck.show.model import EVERYTHING, Look, Setting, Show
from cuedeck.show.problems import Place, Problem, Severity, choice_of, first_of
from cuedeck.show.units import ColourTemperature, Percent, shorten

Path = tuple[str, ...]


def check_looks(loaded: LoadedShow, patch: Patch) -> list[Problem]:
    """Return the first problems with what looks ask of fixtures."""
    return first_of([_never_lit(loaded, patch), _unmeasured_emitters(loaded, patch), _settings_asked(loaded, patch)])


def _settings_asked(loaded: LoadedShow, patch: Patch) -> Iterator[Problem]:
    show, fixtures = loaded.show, {fixture.name: fixture for fixture in patch.fixtures}
    for look_name, look in show.looks.items():
        for name, setting in _settings(look):
            names = _fixtures_named(show, name)
            members = [fixtures[member] for member in names if member in fixtures]
            is_whole = len(members) == len(names) and not loaded.source.is_rejected("groups", name)
            yield from _Check(loaded, ("looks", look_name, name), members, name, is_whole=is_whole).problems(setting)


def _settings(look: Look) -> Iterator[tuple[str, Setting]]:
    yield from look.fixtures.items()
    if look.everything is not None:
        yield EVERYTHING, look.everything


def _fixtures_named(show: Show, name: str) -> list[str]:
    if name == EVERYTHING:
        return list(show.rig)
    return [name] if name in show.rig else show.groups.get(name, [])


def _never_lit(loaded: LoadedShow, patch: Patch) -> Iterator[Problem]:
    """Yield a warning for each light that looks give a colour, and none a level: it stays dark."""
    looks, source = loaded.show.looks, loaded.source
    settings = [one for look in looks.values() for one in _settings(look)]
    lit = {name for named, setting in settings if _lights(setting) for name in _fixtures_named(loaded.show, named)}
    for fixture in patch.lights:
        coloured = [name for name, look in looks.items() if fixture.name in look.fixtures and _colours(look, fixture)]
        starts_lit = any(one.default > 0 for one in fixture.parameters() if one.attribute == "intensity")
        if coloured and not starts_lit and fixture.name not in lit and not _may_be_lit(loaded, fixture):
            yield Problem(
                source.place_of_key(("looks", coloured[0], fixture.name)),
                f"'{fixture.name}' is given a colour, and no look gives it a level: it stays dark",
                "add a level, such as {level: full, ...}",
                Severity.WARNING,
            )


def _lights(setting: Setting) -> bool:
    return setting.level not in (None, Percent.of(0)) or "intensity" in setting.channels


def _colours(look: Look, fixture: PatchedFixture) -> bool:
    setting = look.fixtures[fixture.name]
    return setting.colour is not None or bool(set(EMITTERS) & setting.channels.keys())


def _may_be_lit(loaded: LoadedShow, fixture: PatchedFixture) -> bool:
    """Whether a level of a light may stand in what could not be read."""
    source = loaded.source
    groups = [name for name, members in loaded.show.groups.items() if fixture.name in members]
    return (
        bool(source.unread_files)
        or source.is_incomplete("groups")
        or any(
            source.is_incomplete("looks", look, name, "level")
            for look in source.names("looks")
            for name in (fixture.name, EVERYTHING, *groups)
        )
    )


class _Check:
    """Checks what a look says of one light, or of several together: at least one of them must understand it.

    What a light could do by a part of its type that could not be read is not held against it.
    """

    def __init__(
        self, loaded: LoadedShow, path: Path, members: list[PatchedFixture], name: str, *, is_whole: bool
    ) -> None:
        self._loaded = loaded
        self._path = path
        self._members = members
        self._name = name
        self._knows_channels = is_whole and not self._any_incomplete(members, "channels", "modes")
        lacks_colours = self._any_incomplete(members, "emitters", "colour temperature")
        self._knows_colours = self._knows_channels and not lacks_colours

    def _any_incomplete(self, members: list[PatchedFixture], *parts: str) -> bool:
        """Whether one of these parts of a type of the lights could not be read whole."""
        types = {one.hung.type for one in members}
        return any(self._loaded.source.is_incomplete("types", name, part) for name in types for part in parts)

    def problems(self, setting: Setting) -> Iterator[Problem]:
        if not self._members:
            return
        if self._knows_channels:
            yield from self._channels(setting)
        if setting.colour is not None:
            yield from self._colour(setting.colour)

    def _channels(self, setting: Setting) -> Iterator[Problem]:
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
        if self._knows_colours and all(mixture is None for _, mixture in mixtures):
            yield self._no_colour()
        for one, mixture in mixtures:
            is_incomplete = self._any_incomplete([one], "channels", "modes", "emitters", "colour temperature")
            if mixture is not None and not mixture.is_reached and not is_incomplete:
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
        reached = _mixture_text(mixture)
        if one.white is not None and isinstance(colour, WhiteColour) and not colour.duv:
            ends = [ColourTemperature.of(round(k)) for k in (one.white.warmest_kelvin, one.white.coolest_kelvin)]
            what = f"'{one.name}' reaches {ends[0]} to {ends[1]}, not {colour}; it will give {reached}"
        else:
            what = f"'{one.name}' cannot give {colour}; the nearest it can is {reached}"
        cure = f"write {reached.partition(',')[0]}, or use another light"
        return Problem(self._place("colour"), what, cure, Severity.WARNING)


def _mixture_text(mixture: Mixture) -> str:
    """Return the colour that a mixture gives in the words of a show, with its tint where it is a white."""
    x, y = mixture.reached_xy
    white = white_from_xy(mixture.reached_xy)
    if white is not None and abs(white.duv) < 0.0005:
        return str(ColourTemperature.of(round(white.kelvin)))
    point = f"xy {x:.4f} {y:.4f}"
    return point if white is None else f"{point}, {white.kelvin:.0f} K Duv {white.duv:+.4f}"


def _unmeasured_emitters(loaded: LoadedShow, patch: Patch) -> Iterator[Problem]:
    """Yield a warning for each emitter that a light must leave out of its colours: the others of it are measured."""
    looks = list(loaded.show.looks.values())
    named = {name for look in looks for name, setting in look.fixtures.items() if setting.colour is not None}
    asked = {light for name in named for light in loaded.show.groups.get(name, [name])}
    if any(look.everything is not None and look.everything.colour is not None for look in looks):
        asked.update(fixture.name for fixture in patch.fixtures)
    using = [fixture for fixture in patch.fixtures if fixture.name in asked and fixture.type.emitters]
    left_out = [(one.hung.type, name) for one in using for name in one.emitters if name not in one.type.emitters]
    for kind, emitter in dict.fromkeys(left_out):
        # An entry that was written wrong and taken out is no missing entry.
        if not loaded.source.is_incomplete("types", kind, "emitters", emitter):
            what = f"'{emitter}' of '{shorten(kind)}' has no entry in emitters: colours leave it out"
            cure = "add x, y and luminance of it"
            yield Problem(loaded.source.place_of_key(("types", kind)), what, cure, Severity.WARNING)
