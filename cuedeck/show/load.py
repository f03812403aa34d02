"""From the text of a show to the Show, with every problem at its place.

One bad value must not hide the next: what is wrong is reported, taken out, and the rest is read again,
so that the checks between values see all that can still be seen.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

from pydantic import BaseModel, Tag, ValidationError

from cuedeck.show import SHOW_FILE
from cuedeck.show.camera import Camera, context_of
from cuedeck.show.include import with_included
from cuedeck.show.model import Show
from cuedeck.show.problems import MOST_PROBLEMS, Problem, ProblemsFound, choice_of
from cuedeck.show.source import MOST_DEPTH, VERSION, Data, Path, PathRefused, ReadFile, Source, read_source
from cuedeck.show.spelling import nearest
from cuedeck.show.typos import EMPTY_CURE, cure_of_empty, cure_of_missing_space, cure_of_split_number
from cuedeck.show.units import shorten
from cuedeck.show.versions import refuse_newer, upgraded

MOST_MISSPELT = 1000
"""How many unknown keys are compared with the known ones."""


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
    rest = _ReadableData(source)
    problems = list(found)
    rejected: set[Path] = set()
    for _ in range(MOST_DEPTH):
        try:
            show = show_of(rest.data())
        except ValidationError as error:
            details = error.errors(include_url=False, include_input=False)
            misspelt = _misspelt(details[:MOST_MISSPELT])
            told = (
                detail
                for detail in details
                if not rest.is_follow_up(detail) and not (detail["type"] == "missing" and detail["loc"] in misspelt)
            )
            problems += [_problem(rest, detail) for detail in islice(told, MOST_PROBLEMS)]
            rejected.update((*rest.path_in_file(location[:-1]), location[-1]) for location in misspelt)
            out = [rest.path_in_file(detail["loc"]) for detail in details]
            rejected.update(path for path in out if path)
            rest.take_out(out)
        else:
            each = {(problem, problem.place.path): problem for problem in problems}
            return LoadedShow(show, replace(source, rejected=frozenset(rejected)), tuple(each.values()))
    raise ProblemsFound(tuple(dict.fromkeys(problems)))


def show_of(data: Data) -> Show:
    """Return the show that some data says. Raises ValidationError."""
    written = data.get("camera") if isinstance(data, dict) else None
    try:
        camera = Camera.model_validate(written or {})
    except ValidationError:
        camera = Camera()  # it is reported with the rest, and then no shot runs
    return Show.model_validate(data, context=context_of(camera))


def message_of(error: ValidationError) -> str:
    """Return what is wrong with a value that was read alone, and its cure."""
    detail = error.errors(include_url=False, include_input=False)[0]
    location = [step for step in detail["loc"] if step != "[key]"]
    what, cure = _what_and_cure(detail["type"], shorten(str(location[-1])) if location else "", detail)
    return f"{what}: {cure}"


class _ReadableData:
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
        """Return the path in the file of a path in the data; steps that only the model knows are left out."""
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
    """Return the keys that the file has under a similar name: they are not reported as missing too."""
    unknown = [detail["loc"] for detail in details if detail["type"] == "extra_forbidden"]
    close = [
        (location, nearest(_word_of(location[-1]), _keys_at(location[:-1]), are_keys=True)) for location in unknown
    ]
    return {(*location[:-1], key) for location, key in close if key is not None}


def _word_of(step: str | int) -> str:
    """Return the word of a key, without a value that follows its colon without a space."""
    return str(step).partition(":")[0]


def _problem(rest: _ReadableData, detail: Any) -> Problem:
    source, location = rest.source, detail["loc"]
    path = rest.path_in_file(location)
    kind: str = detail["type"]
    name = shorten(str(location[-1])) if location else ""
    if kind == "extra_forbidden":
        known = list(_keys_at(location[:-1]))
        slip = cure_of_missing_space(name) if _word_of(name) in known else cure_of_split_number(source, path)
        cure = slip or choice_of(_word_of(name), known, are_keys=True)
        if slip is None and nearest(_word_of(name), known, are_keys=True) is None:
            cure = f"take it out, or {cure}"
        return Problem(source.place_of_key(path), f"unknown key '{name}'", cure)
    if kind == "missing":
        place = source.place_of_value(path)
        value = VERSION if name == "cuedeck" else "..."
        return Problem(place, f"the key '{name}' is missing", f"add '{name}: {value}' here")
    if location and location[-1] == "[key]":
        name = shorten(str(location[-2]))
        return Problem(source.place_of_key(path), *_what_and_cure(kind, name, detail))
    name = shorten(str(path[-1])) if path else ""
    what, cure = _what_and_cure(kind, name, detail)
    if path and isinstance(path[-1], str) and source.node(path) is None and kind not in _COLLECTIONS:
        what, cure = f"'{name}' is empty", cure_of_empty(source, path) or cure
    return Problem(source.place_of_value(path), what, cure)


def _what_and_cure(kind: str, name: str, detail: Any) -> tuple[str, str]:
    context = detail.get("ctx", {})
    if "cure" in context:
        return context["what"], context["cure"]
    return _BY_KIND.get(kind, _other)(name, detail)


def _other(name: str, detail: Any) -> tuple[str, str]:
    return f"'{name}': {detail['msg'].lower()}", "see the README for what can stand here"


def _mapping(name: str, _: Any) -> tuple[str, str]:
    return f"'{name}' is not a mapping of keys to values", f"write '{name}:' with indented 'key: value' lines under it"


_COLLECTIONS = ("model_type", "dict_type", "list_type")
_BY_KIND: dict[str, Callable[[str, Any], tuple[str, str]]] = {
    "empty": lambda name, _: (f"'{name}' is empty", EMPTY_CURE),
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
