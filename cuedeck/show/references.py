"""Checks of references between the parts of a show: names that lead nowhere or in a circle.

What may stand in a part that could not be read is not missed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from cuedeck.show.colours import ScreenColour
from cuedeck.show.fixtures import Fixture
from cuedeck.show.floor import FloorAction, FloorActionKind
from cuedeck.show.load import LoadedShow
from cuedeck.show.model import EVERYTHING, LIKE, MOST_LIKE, Cue, Look, Shot, Show
from cuedeck.show.problems import Place, Problem, Severity, choice_of, first_of
from cuedeck.show.source import Path, Source
from cuedeck.show.spelling import nearest
from cuedeck.show.triggers import AtPosition, ByOperator
from cuedeck.show.typos import cure_of_missing_space, cure_of_split_number
from cuedeck.show.units import Angle, Length, shorten


def check_references(loaded: LoadedShow) -> list[Problem]:
    """Return the first problems with names that lead nowhere or in a circle."""
    source, show = loaded.source, loaded.show
    return first_of(
        [
            _reserved_names(source),
            *(_fixture(source, name, fixture) for name, fixture in show.rig.items()),
            *(_group(source, name, members) for name, members in show.groups.items()),
            *(_look(source, name, look) for name, look in show.looks.items()),
            *(_cues(source, name, shot.cues) for name, shot in show.shots.items()),
            _circles(source, show),
            _long_chains(source, show),
        ]
    )


def problems_of(loaded: LoadedShow) -> list[Problem]:
    """Return what is wrong with the values of a show and with its names.

    What is wrong under a name that is not known is not reported: most often the name is all that is wrong.
    """
    hidden = set(_places_under_unknown(loaded))
    return [*(problem for problem in loaded.problems if problem.place not in hidden), *check_references(loaded)]


def _places_under_unknown(loaded: LoadedShow) -> Iterator[Place]:
    source = loaded.source
    unknown = {("looks", look, name) for look in loaded.show.looks for name in _unknown_lights(source, look)}
    if unknown:
        yield from (place for path, place in source.values.items() if path[:3] in unknown)
        yield from (place for path, place in source.keys.items() if path[:3] in unknown and len(path) > 3)


def _reserved_names(source: Source) -> Iterator[Problem]:
    for section, what in (("rig", "a light"), ("groups", "a group")):
        for name in source.names(section):
            if name in (EVERYTHING, LIKE):
                yield Problem(
                    source.place_of_key((section, name)),
                    f"{what} cannot be called '{name}': looks use that word",
                    f"give {what.replace('a ', 'the ')} another name",
                )


def _group(source: Source, name: str, members: Sequence[str]) -> Iterator[Problem]:
    fixtures = source.names("rig")
    if name in fixtures:
        what = f"'{name}' is a light and a group: looks could not tell which is meant"
        yield Problem(source.place_of_key(("groups", name)), what, "give the group another name")
    for index, member in enumerate(members):
        if member not in fixtures and not source.may_contain("rig", member):
            group = f", and '{shorten(member)}' is a group" if member in source.names("groups") else ""
            yield Problem(
                source.place_of_value(("groups", name, index)),
                f"group '{name}' holds '{shorten(member)}', and no light of the rig is called that{group}",
                choice_of(member, fixtures, none="add the light under 'rig:'") if not group else "name its lights",
            )


def _fixture(source: Source, name: str, fixture: Fixture) -> Iterator[Problem]:
    circuits = source.names("mains", "circuits")
    if fixture.circuit is not None and not source.may_contain("mains", "circuits", fixture.circuit):
        yield Problem(
            source.place_of_value(("rig", name, "circuit")),
            f"'{name}' is on circuit '{shorten(fixture.circuit)}', which is not under mains",
            choice_of(fixture.circuit, circuits, none="add it as 'mains: {circuits: {NAME: 16 A}}'"),
        )


def _unknown_lights(source: Source, look: str) -> list[str]:
    """Return what a look names beside its own words that is neither a light nor a group."""
    return [
        name
        for name in source.names("looks", look)
        if name not in (LIKE, EVERYTHING)
        and not source.may_contain("rig", name)
        and not source.may_contain("groups", name)
    ]


def _look(source: Source, name: str, look: Look) -> Iterator[Problem]:
    fixtures, looks = [*source.names("rig"), *source.names("groups")], source.names("looks")
    kind = "light or group" if source.names("groups") else "light of the rig"
    for fixture in _unknown_lights(source, name):
        yield Problem(
            source.place_of_key(("looks", name, fixture)),
            f"look '{name}' names '{shorten(fixture)}', and no {kind} is called that",
            _cure_of_light(source, ("looks", name, fixture), fixtures),
        )
    yield from _dark_colours(source, name, look)
    if look.like is not None and not source.may_contain("looks", look.like):
        yield Problem(
            source.place_of_value(("looks", name, LIKE)),
            f"look '{name}' is like '{shorten(look.like)}', and no look is called that",
            choice_of(look.like, [other for other in looks if other != name]),
        )


def _dark_colours(source: Source, name: str, look: Look) -> Iterator[Problem]:
    """Yield a warning for each screen colour whose parts look like shares rather than like 0 to 255."""
    for light, setting in [*look.fixtures.items(), (EVERYTHING, look.everything)]:
        colour = setting.colour if setting is not None else None
        if isinstance(colour, ScreenColour) and (meant := colour.as_if_of_one) is not None:
            yield Problem(
                source.place_of_value(("looks", name, light, "colour")),
                f"'{colour}' looks like parts of 0 to 1, and sRGB counts from 0 to 255",
                f"write {meant}",
                Severity.WARNING,
            )


def _cure_of_light(source: Source, path: tuple[str, ...], fixtures: list[str]) -> str:
    name, known = path[-1], [*fixtures, LIKE, EVERYTHING]
    slip = cure_of_missing_space(name) if name.partition(":")[0] in known else cure_of_split_number(source, path)
    if slip is not None:
        return slip
    if nearest(name, known) is not None:
        return choice_of(name, known)
    return choice_of(name, fixtures, none="add the light under 'rig:'")


def _cues(source: Source, shot: str, cues: Sequence[Cue]) -> Iterator[Problem]:
    paths: dict[str, list[Path]] = {}
    nodes = _cue_nodes(source, shot)
    for name, path in nodes:
        if name in paths:
            yield Problem(
                source.place_of_value((*path, "cue")),
                f"shot {shot} has two cues called '{shorten(name)}'",
                "give one of them another number",
            )
        paths.setdefault(name, []).append(path)
    names = list(paths)
    all_named = len(nodes) == len(source.node(("shots", shot, "cues")) or [])
    for cue in cues:
        # Cues of the same name stand in the order of the file, as the nodes do.
        own = paths.get(cue.cue, [])
        where = own.pop(0) if len(own) > 1 else own[0] if own else ("shots", shot, "cues")
        if not source.may_contain("looks", cue.look):
            yield Problem(
                source.place_of_value((*where, "look")),
                f"cue {cue.cue} goes to look '{shorten(cue.look)}', and no look is called that",
                choice_of(cue.look, source.names("looks"), none="add the look under 'looks:'"),
            )
        for key, other in (("after", cue.after), ("with", cue.with_)):
            if other is not None and other not in paths and all_named:
                yield Problem(
                    source.place_of_value((*where, key)),
                    f"cue {cue.cue} waits for cue '{shorten(other)}', and this shot has no such cue",
                    choice_of(other, [name for name in names if name != cue.cue], none="write 'at: 2 s'"),
                )


def _cue_nodes(source: Source, shot: str) -> list[tuple[str, Path]]:
    cues = source.node(("shots", shot, "cues"))
    found: list[tuple[str, Path]] = []
    for index, cue in enumerate(cues if isinstance(cues, list) else []):
        name = cue.get("cue") if isinstance(cue, dict) else None
        if isinstance(name, str):
            found.append((name, ("shots", shot, "cues", index)))
    return found


def places_of_cues(source: Source, shot: str) -> dict[str, Path]:
    """Return the path in the file of each cue of a shot, the first of a name."""
    return dict(reversed(_cue_nodes(source, shot)))


def _long_chains(source: Source, show: Show) -> Iterator[Problem]:
    """Yield a problem where a look is like another that is like another, further than anyone could follow."""
    lengths: dict[str, int] = {}
    for name in show.looks:
        chain: list[str] = []
        step: str | None = name
        while step is not None and step in show.looks and step not in lengths:
            lengths[step] = 0  # a circle ends here; it is reported for itself
            chain.append(step)
            step = show.looks[step].like
        length = lengths.get(step or "", 0)
        for link in reversed(chain):
            length += 1
            lengths[link] = length
        if lengths[name] > MOST_LIKE:
            what = f"look '{name}' is like another by way of more than {MOST_LIKE} looks"
            yield Problem(source.place_of_value(("looks", name, LIKE)), what, "write its levels out instead")


def _circles(source: Source, show: Show) -> Iterator[Problem]:
    for name in _in_circles({name: look.like for name, look in show.looks.items()}):
        what = f"look '{name}' is like itself, directly or by way of another"
        yield Problem(source.place_of_value(("looks", name, LIKE)), what, "write its levels out instead")
    for shot_name, shot in show.shots.items():
        waits = {cue.cue: cue.after or cue.with_ for cue in shot.cues}
        nodes = _cue_nodes(source, shot_name)
        paths, counts = dict(nodes), Counter(name for name, _ in nodes)
        keys = {cue.cue: "after" if cue.after else "with" for cue in shot.cues}
        for name in _in_circles(waits):
            if counts[name] > 1:
                continue  # which of the cues of that name is meant, only the user knows
            place = source.place_of_value((*paths.get(name, ("shots", shot_name)), keys[name]))
            what = f"cue {name} never happens: it waits for itself"
            yield Problem(place, what, "give one of the cues in the circle a start of its own, such as 'at: 2 s'")


def _in_circles(follows: dict[str, str | None]) -> list[str]:
    """Return the names from which following leads back to themselves."""
    found: list[str] = []
    done: set[str] = set()
    for name in follows:
        walk: dict[str, None] = {}
        step: str | None = name
        while step is not None and step not in walk and step not in done:
            walk[step] = None
            step = follows.get(step)
        if step in walk:
            steps = list(walk)
            found += steps[steps.index(step) :]
        done.update(walk)
    return found


def check_floor(loaded: LoadedShow) -> Iterator[Problem]:
    """Yield the problems with contacts that would fire a missing cue, and with speeds of axes that no cue uses."""
    for name, shot in loaded.show.shots.items():
        for index, trigger in enumerate(shot.trigger):
            fault = _contact_fault(name, shot, trigger.does)
            if fault is not None:
                yield Problem(loaded.source.place_of_value(_path_of_contact(loaded.source, name, index)), *fault)
        for axis, speed in shot.top_speed.items():
            fault = _speed_fault(name, shot, axis, type(speed))
            if fault is not None:
                yield Problem(loaded.source.place_of_value(("shots", name, "top speed", axis)), *fault)


def _speed_fault(name: str, shot: Shot, axis: str, kind: type[Length | Angle]) -> tuple[str, str] | None:
    kinds = {cue.trigger.axis: type(cue.trigger.position) for cue in shot.cues if isinstance(cue.trigger, AtPosition)}
    if axis not in kinds:
        none = "take it out, or write a cue such as 'at: slide 60 mm'"
        return f"no cue of shot {name} is tied to an axis '{axis}'", choice_of(axis, kinds, none=none)
    if kinds[axis] is not kind:
        example = "300 mm/s" if kinds[axis] is Length else "60 deg/s"
        return f"the cues of shot {name} count axis '{axis}' otherwise", f"write a speed such as {example}"
    return None


def _contact_fault(name: str, shot: Shot, action: FloorAction) -> tuple[str, str] | None:
    operated = [cue.cue for cue in shot.cues if isinstance(cue.trigger, ByOperator)]
    none = "give a cue 'at: operator', or write 'does: start'"
    if action.kind is FloorActionKind.NEXT_CUE and not operated:
        return f"the contact would fire the next cue, and shot {name} has no cue for the operator", none
    if action.kind is FloorActionKind.CUE and action.cue not in operated:
        return (
            f"the contact would fire cue {action.cue}, which is no operator cue of shot {name}",
            choice_of(action.cue, operated, none=none),
        )
    return None


def _path_of_contact(source: Source, shot: str, index: int) -> Path:
    """Return the path of what a contact does; it has no index where the contact is not in a list."""
    listed: Path = ("shots", shot, "trigger", index, "does")
    return listed if listed in source.values else ("shots", shot, "trigger", "does")
