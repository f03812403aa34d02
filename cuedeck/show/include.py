"""The files that a show includes: their types, looks and groups stand in the show as if it had written them.

What cannot be read is reported at its place and left out; the rest of the show is still read. The limits
on bytes and values hold for all files of a show together.
"""

from __future__ import annotations

from collections.abc import Iterator

from cuedeck.show.problems import Place, Problem, ProblemsFound, choice_of, why_unread
from cuedeck.show.source import (
    INCLUDE,
    MOST_BYTES,
    MOST_NODES,
    SECTIONS_OF_INCLUDED,
    Data,
    Path,
    PathRefused,
    ReadFile,
    Source,
    read_source,
)
from cuedeck.show.spelling import nearest
from cuedeck.show.units import shorten

MOST_INCLUDED = 100
MOST_PATH_CHARACTERS = 500

_START = "start it with 'types:', 'looks:' or 'groups:', or take it out of 'include'"
_INSIDE = "write the path of a YAML file in the show folder, such as looks/common.yaml"
_ONE = {"types": "type", "looks": "look", "groups": "group"}


def with_included(main: Source, read_file: ReadFile) -> tuple[Source, tuple[Problem, ...]]:
    """Return a show with the entries of the files that it includes, and what is wrong with those files."""
    if INCLUDE not in main.data:
        return main, ()
    joining = _Joining(main, read_file)
    for place, written in _paths(main):
        joining.add(place, written)
    return joining.source(), tuple(joining.problems)


def _paths(main: Source) -> Iterator[tuple[Place, str]]:
    """Yield the included paths and where they are named. What is no path at all, the model of the show reports."""
    node = main.data.get(INCLUDE)
    items: list[Data] = node if isinstance(node, list) else [node]
    for index, item in enumerate(items[:MOST_INCLUDED]):
        if isinstance(item, str) and item.isprintable() and len(item) <= MOST_PATH_CHARACTERS:
            yield main.place_of_value((INCLUDE, index)), item


def plain_path(written: str) -> str:
    """Return a path in the show folder without '.' and '..'. Raises PathRefused where it is absolute or leaves it."""
    if "\\" in written:
        raise PathRefused(f"'{shorten(written)}' has a backslash in it", "write '/' between folders")
    if written.startswith(("/", "~")) or written[1:2] == ":":
        raise PathRefused(f"'{shorten(written)}' does not start in the show folder", _INSIDE)
    steps: list[str] = []
    for step in written.split("/"):
        if step == ".." and not steps:
            raise PathRefused(f"'{shorten(written)}' leads out of the show folder", _INSIDE)
        if step == "..":
            steps.pop()
        elif step not in ("", "."):
            steps.append(step)
    if not steps:
        raise PathRefused(f"'{shorten(written)}' is no file", _INSIDE)
    return "/".join(steps)


class _Joining:
    """A show, and what has been added to it so far."""

    def __init__(self, main: Source, read_file: ReadFile) -> None:
        self._main = main
        self._read_file = read_file
        self._data = dict(main.data)
        self._values = dict(main.values)
        self._keys = dict(main.keys)
        self._files = dict(main.files)
        self._unread: list[str] = []
        self._named: dict[str, Place] = {}
        self.problems: list[Problem] = []

    def source(self) -> Source:
        unread = tuple(dict.fromkeys(self._unread))
        return Source(self._main.file, self._data, self._values, self._keys, self._files, unread)

    def add(self, place: Place, written: str) -> None:
        """Read an included file, named at a place, and add its entries."""
        try:
            name = self._new_name(place, written)
            if name is not None:
                self._join(self._read(name))
        except PathRefused as refused:
            self._leave_out(written, Problem(place, refused.what, refused.cure))
        except OSError as error:
            why, cure = why_unread(error, _INSIDE)
            self._leave_out(written, Problem(place, f"'{shorten(written)}' cannot be read: {why}", cure))
        except ProblemsFound as found:
            self._leave_out(written, *found.problems)

    def _leave_out(self, name: str, *problems: Problem) -> None:
        self.problems += problems
        self._unread.append(name)

    def _new_name(self, place: Place, written: str) -> str | None:
        """Return the plain path of a file; None, with a problem, where it is in the show already."""
        name = plain_path(written)
        if name == self._main.file:
            self.problems.append(Problem(place, "the show includes itself", f"take '{shorten(written)}' out"))
            return None
        if name in self._named:
            what = f"'{shorten(name)}' is included twice, first in line {self._named[name].line}"
            self.problems.append(Problem(place, what, "take one of them out"))
            return None
        self._named[name] = place
        return name

    def _read(self, name: str) -> Source:
        try:
            raw = self._read_file(name)
        except PathRefused as refused:
            together = f"; all files of a show keep to {MOST_BYTES // 1_000_000} MB together"
            raise PathRefused(refused.what, _INSIDE + together) from refused
        size = len(raw) + sum(len(other) for other in self._files.values())
        if size > MOST_BYTES:
            what = f"with '{shorten(name)}' the show has {size:,} bytes, the limit is {MOST_BYTES:,}"
            raise PathRefused(what, "take out what is not needed")
        self._files[name] = raw
        return read_source(name, raw, MOST_NODES - len(self._values), _START)

    def _join(self, part: Source) -> None:
        new: set[Path] = set()
        for section, entries in part.data.items():
            if (problem := _misplaced(part, section, entries)) is not None:
                self._leave_out(part.file, problem)
            elif isinstance(entries, dict):
                new.add((section,))
                new.update(self._new_entries(part, section, entries))
        for places, of_part in ((self._values, part.values), (self._keys, part.keys)):
            for path, place in of_part.items():
                if path[:2] in new:
                    places.setdefault(path, place)

    def _new_entries(self, part: Source, section: str, entries: dict[str, Data]) -> list[Path]:
        """Add the entries of one section, and return where they stand in the data."""
        own = self._data.get(section, {})
        if not isinstance(own, dict):
            return []  # the model of the show reports it
        for name in entries:
            if name in own:
                self.problems.append(_twice(section, name, self._keys[section, name], part.keys[section, name]))
        self._data[section] = {**entries, **own}
        return [(section, name) for name in entries if name not in own]


def _twice(section: str, name: str, first: Place, second: Place) -> Problem:
    places = f"{first.file}:{first.line} and {second.file}:{second.line}"
    what = f"the {_ONE[section]} '{shorten(name)}' stands in two files, {places}"
    return Problem(second, what, "take one of them out, or give it another name")


def _misplaced(part: Source, section: str, entries: Data) -> Problem | None:
    place = part.place_of_key((section,))
    if section in SECTIONS_OF_INCLUDED:
        if isinstance(entries, dict):
            return None
        cure = f"write '{section}:' with indented 'key: value' lines under it"
        return Problem(part.place_of_value((section,)), f"'{section}' is not a mapping of keys to values", cure)
    if section == INCLUDE:
        cure = "name that file in the show itself: 'include: [a.yaml, b.yaml]'"
        return Problem(place, "an included file includes no other", cure)
    what = f"the key '{shorten(section)}' does not belong into an included file"
    if nearest(section, SECTIONS_OF_INCLUDED, are_keys=True) is not None:
        return Problem(place, what, choice_of(section, SECTIONS_OF_INCLUDED, are_keys=True))
    return Problem(place, what, "move it into the show itself; here stand 'types:', 'looks:' and 'groups:' alone")
