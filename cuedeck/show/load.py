"""From the text of a show to the Show, with every problem at its place.

One bad value must not hide the next: what is wrong is reported, taken out, and the rest is read again,
so that the checks between values see all that can still be seen.
"""

from __future__ import annotations

import types
import typing
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from pydantic import BaseModel, Tag, ValidationError

from cuedeck.show.fixtures import Fixture
from cuedeck.show.include import with_included
from cuedeck.show.model import EVERYTHING, LIKE, Cue, Look, Show
from cuedeck.show.problems import Problem, ProblemsFound, choice_of, nearest
from cuedeck.show.source import MOST_DEPTH, VERSION, Data, Path, PathRefused, ReadFile, Source, read_source
from cuedeck.show.units import shorten
from cuedeck.show.versions import refuse_newer, upgraded

SHOW_FILE = "show.yaml"


@dataclass(frozen=True)
class LoadedShow:
    """A show as far as it could be read, where its parts stand, and what is wrong with them."""

    show: Show
    source: Source
    problems: tuple[Problem, ...]


def _no_folder(_: str) -> bytes:
    raise PathRefused("there is no show folder to read this from", "write what it holds into the show itself")


def load_show(raw: bytes, read_file: ReadFile = _no_folder, file: str = SHOW_FILE) -> LoadedShow:
    """Read a show from the bytes of its file, and what it includes through `read_file`.

    Raises ProblemsFound where there is no YAML, nothing that can be called a show, or a show of a
    version that is not known yet.
    """
    main = read_source(file, raw)
    refuse_newer(main)
    source, found = with_included(main, read_file)
    source = replace(source, data=upgraded(source.data))
    rest = _Rest(source)
    problems = list(found)
    for _ in range(MOST_DEPTH):
        try:
            show = Show.model_validate(rest.data())
        except ValidationError as error:
            details = error.errors(include_url=False, include_input=False)
            misspelt = _misspelt(details)
            problems += [
                _problem(rest, detail)
                for detail in details
                if not rest.is_follow_up(detail) and not (detail["type"] == "missing" and detail["loc"] in misspelt)
            ]
            rest.take_out(rest.path_in_file(detail["loc"]) for detail in details)
        else:
            return LoadedShow(show, source, tuple(dict.fromkeys(problems)))
    raise ProblemsFound(tuple(dict.fromkeys(problems)))


class _Rest:
    """What is left of a file's data after the parts with problems have been taken out."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self._out: set[Path] = set()
        self._above_out: set[Path] = set()
        self._kept: dict[Path, list[int]] = {}

    def data(self) -> Data:
        """Return the data that is left; the version is taken for granted once its absence was reported."""
        left = self._left(self.source.data, ())
        if self._out and isinstance(left, dict):
            left.setdefault("cuedeck", VERSION)
        return left

    def path_in_file(self, location: Sequence[str | int]) -> Path:
        """Return where in the file something of the data stands; steps that only the model knows are left out."""
        found: Path = ()
        for step in location:
            kept = self._kept.get(found)
            if kept is not None and isinstance(step, int):
                step = kept[step]  # noqa: PLW2901 - the step in the file is what is meant from here on
            if (*found, step) in self.source.values and (*found, step) not in self._out:
                found = (*found, step)
        return found

    def take_out(self, paths: Iterable[Path]) -> None:
        """Take nodes out of the data."""
        for path in paths:
            self._out.add(path)
            self._above_out.update(path[:length] for length in range(len(path)))

    def is_follow_up(self, detail: Any) -> bool:
        """Whether a problem only says that something which was taken out is missing now."""
        return self.path_in_file(detail["loc"]) in self._above_out

    def _left(self, node: Data, path: Path) -> Data:
        if isinstance(node, dict):
            return {
                key: self._left(value, (*path, key)) for key, value in node.items() if (*path, key) not in self._out
            }
        if isinstance(node, list):
            kept = [index for index in range(len(node)) if (*path, index) not in self._out]
            self._kept[path] = kept
            return [self._left(node[index], (*path, index)) for index in kept]
        return node


def _misspelt(details: Sequence[Any]) -> set[Path]:
    """Return the keys that stand in the file under a name much like theirs: they are not missing as well."""
    unknown = [detail["loc"] for detail in details if detail["type"] == "extra_forbidden"]
    close = [(location, nearest(str(location[-1]), _keys_at(location[:-1]))) for location in unknown]
    return {(*location[:-1], key) for location, key in close if key is not None}


def _problem(rest: _Rest, detail: Any) -> Problem:
    source, location = rest.source, detail["loc"]
    path = rest.path_in_file(location)
    kind: str = detail["type"]
    name = shorten(str(location[-1])) if location else ""
    if kind == "extra_forbidden":
        known = list(_keys_at(location[:-1]))
        cure = choice_of(name, known)
        if nearest(name, known) is None:
            cure = f"take it out, or {cure}"
        return Problem(source.place_of_key(path), f"unknown key '{name}'", cure)
    if kind == "missing":
        place = source.place_of_value(path)
        value = VERSION if name == "cuedeck" else "..."
        return Problem(place, f"the key '{name}' is missing", f"add '{name}: {value}' here")
    if location and location[-1] == "[key]":
        place, name = source.place_of_key(path), shorten(str(location[-2]))
    else:
        place = source.place_of_value(path)
        name = shorten(str(path[-1])) if path else ""
    context = detail.get("ctx", {})
    if "cure" in context:
        return Problem(place, context["what"], context["cure"])
    return Problem(place, *_BY_KIND.get(kind, _other)(name, detail))


def _other(name: str, detail: Any) -> tuple[str, str]:
    return f"'{name}': {detail['msg'].lower()}", "see the README for what can stand here"


def _mapping(name: str, _: Any) -> tuple[str, str]:
    return f"'{name}' is not a mapping of keys to values", f"write '{name}:' with indented 'key: value' lines under it"


_BY_KIND: dict[str, Callable[[str, Any], tuple[str, str]]] = {
    "model_type": _mapping,
    "dict_type": _mapping,
    "union_tag_invalid": _mapping,
    "list_type": lambda name, _: (f"'{name}' is not a list", f"write '{name}:' with lines '- ...' under it"),
    "string_type": lambda name, _: (f"'{name}' is not a text", "write a plain text here"),
    "literal_error": lambda name, detail: (
        f"'{name}' does not know this word",
        f"write {detail['ctx']['expected']}",
    ),
    "string_too_short": lambda _, __: ("a name is empty", "write a name"),
    "string_too_long": lambda name, detail: (
        f"'{name}' is too long",
        f"keep it to {detail['ctx']['max_length']} characters",
    ),
    "too_short": lambda name, detail: (
        f"'{name}' has too few entries",
        f"write at least {detail['ctx']['min_length']}",
    ),
    "too_long": lambda name, detail: (
        f"'{name}' has too many entries",
        f"keep it to {detail['ctx']['max_length']}",
    ),
}


_WRAPPERS = (typing.Annotated, typing.Union, types.UnionType)


def _keys_at(path: Sequence[str | int]) -> Iterator[str]:
    """Yield the keys that the model at a path knows, as the file writes them."""
    kind: Any = Show
    for step in path:
        kind = _step(kind, step)
    kind = _bare(kind)
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        for name, model_field in kind.model_fields.items():
            yield model_field.alias or name


def _step(kind: Any, step: str | int) -> Any:
    tagged = next((branch for branch in _branches(kind) if Tag(str(step)) in branch.__metadata__), None)
    if tagged is not None:
        return tagged
    kind = _bare(kind)
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        for name, model_field in kind.model_fields.items():
            if step in (name, model_field.alias):
                return model_field.annotation
        return kind  # a step that names a branch of a union, not a key of the file
    arguments = typing.get_args(kind)
    if typing.get_origin(kind) in (dict, list):
        return arguments[-1]
    return kind


def _branches(kind: Any) -> Iterator[Any]:
    """Yield the annotated branches of a union, those of unions in it too."""
    for argument in typing.get_args(kind):
        if typing.get_origin(argument) is typing.Annotated:
            yield argument
        yield from _branches(argument) if typing.get_origin(argument) in _WRAPPERS else ()


def _bare(kind: Any) -> Any:
    """Return an annotation without Annotated and None, and the model of a union that has one."""
    while typing.get_origin(kind) in _WRAPPERS:
        arguments = typing.get_args(kind)
        if typing.get_origin(kind) is typing.Annotated:
            kind = arguments[0]
        else:
            candidates = [_bare(argument) for argument in arguments if argument is not type(None)]
            models = [one for one in candidates if isinstance(one, type) and issubclass(one, BaseModel)]
            kind = (models or candidates)[0]
    return kind


def check_references(loaded: LoadedShow) -> list[Problem]:
    """Return the problems with names that lead nowhere or in a circle."""
    source, show = loaded.source, loaded.show
    return [
        *_reserved_names(source),
        *(problem for name, fixture in show.rig.items() for problem in _fixture(source, name, fixture)),
        *(problem for name, members in show.groups.items() for problem in _group(source, name, members)),
        *(problem for name, look in show.looks.items() for problem in _look(source, name, look)),
        *(problem for name, shot in show.shots.items() for problem in _cues(source, name, shot.cues)),
        *_circles(source, show),
    ]


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
        if member not in fixtures:
            group = f", and '{shorten(member)}' is a group" if member in source.names("groups") else ""
            yield Problem(
                source.place_of_value(("groups", name, index)),
                f"group '{name}' holds '{shorten(member)}', and no light of the rig is called that{group}",
                choice_of(member, fixtures, none="add the light under 'rig:'") if not group else "name its lights",
            )


def _fixture(source: Source, name: str, fixture: Fixture) -> Iterator[Problem]:
    circuits = source.names("mains", "circuits")
    if fixture.circuit is not None and fixture.circuit not in circuits:
        yield Problem(
            source.place_of_value(("rig", name, "circuit")),
            f"'{name}' is on circuit '{shorten(fixture.circuit)}', which is not under mains",
            choice_of(fixture.circuit, circuits, none="add it as 'mains: {circuits: {NAME: 16 A}}'"),
        )


def _look(source: Source, name: str, look: Look) -> Iterator[Problem]:
    fixtures, looks = [*source.names("rig"), *source.names("groups")], source.names("looks")
    known = set(fixtures)
    kind = "light or group" if source.names("groups") else "light of the rig"
    for fixture in look.fixtures:
        if fixture not in known and not source.may_hold("groups", fixture):
            yield Problem(
                source.place_of_key(("looks", name, fixture)),
                f"look '{name}' names '{shorten(fixture)}', and no {kind} is called that",
                choice_of(fixture, fixtures, none="add the light under 'rig:'"),
            )
    if look.like is not None and not source.may_hold("looks", look.like):
        yield Problem(
            source.place_of_value(("looks", name, LIKE)),
            f"look '{name}' is like '{shorten(look.like)}', and no look is called that",
            choice_of(look.like, [other for other in looks if other != name]),
        )


def _cues(source: Source, shot: str, cues: Sequence[Cue]) -> Iterator[Problem]:
    paths: dict[str, list[Path]] = {}
    for name, path in _cue_nodes(source, shot):
        if name in paths:
            yield Problem(
                source.place_of_value((*path, "cue")),
                f"shot {shot} has two cues called '{shorten(name)}'",
                "give one of them another number",
            )
        paths.setdefault(name, []).append(path)
    names = list(paths)
    for cue in cues:
        # Cues of the same name stand in the order of the file, as the nodes do.
        own = paths.get(cue.cue, [])
        where = own.pop(0) if len(own) > 1 else own[0] if own else ("shots", shot, "cues")
        if not source.may_hold("looks", cue.look):
            yield Problem(
                source.place_of_value((*where, "look")),
                f"cue {cue.cue} goes to look '{shorten(cue.look)}', and no look is called that",
                choice_of(cue.look, source.names("looks"), none="add the look under 'looks:'"),
            )
        for key, other in (("after", cue.after), ("with", cue.with_)):
            if other is not None and other not in paths:
                yield Problem(
                    source.place_of_value((*where, key)),
                    f"cue {cue.cue} waits for cue '{shorten(other)}', and this shot has no such cue",
                    choice_of(other, [name for name in names if name != cue.cue], none="write 'at: 2 s'"),
                )


def _cue_nodes(source: Source, shot: str) -> list[tuple[str, Path]]:
    """Return the name and the path in the file of each cue of a shot."""
    shots = source.data.get("shots")
    node = shots.get(shot) if isinstance(shots, dict) else None
    cues = node.get("cues") if isinstance(node, dict) else None
    found: list[tuple[str, Path]] = []
    for index, cue in enumerate(cues if isinstance(cues, list) else []):
        name = cue.get("cue") if isinstance(cue, dict) else None
        if isinstance(name, str):
            found.append((name, ("shots", shot, "cues", index)))
    return found


def places_of_cues(source: Source, shot: str) -> dict[str, Path]:
    """Return the path in the file of each cue of a shot, the first of a name."""
    return dict(reversed(_cue_nodes(source, shot)))


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
