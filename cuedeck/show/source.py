"""A show file as text: plain data, and the place of every node in it.

Scalars stay the text that the user typed, whatever YAML would make of it: an address 1.10 is not the
number 1.1, 01:00:04:12 is not a count of minutes, and `no` is a word. What a text means is decided by
the model, in one place. Every text is in one Unicode form, so that a name is one name however its accents
were typed. Only plain mappings, lists and texts are read; tags, merges, duplicate keys, references to
oneself and files over the limits below are refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import yaml

from cuedeck.errors import Refusal
from cuedeck.show.colours import screen_colour_of_hex
from cuedeck.show.problems import Place, Problem, ProblemsFound
from cuedeck.show.spelling import as_one
from cuedeck.show.units import shorten

Data = str | None | list["Data"] | dict[str, "Data"]
Path = tuple[str | int, ...]
ReadFile = Callable[[str], bytes]
"""Returns the bytes of a file in the show folder. Raises OSError, or PathRefused."""

VERSION = "2"
"""The newest version of the show file, in which shows are written."""
MOST_BYTES = 1_000_000
MOST_NODES = 200_000
MOST_DEPTH = 30
INCLUDE = "include"
SECTIONS_OF_INCLUDED = ("types", "looks", "groups")
"""What an included file may hold."""

_START_OF_SHOW = f"start it with 'cuedeck: {VERSION}' and a 'shots:' section"
_OTHER_LINE_ENDS = re.compile("[\x85\u2028\u2029]")
EMPTY_TEXTS = ("", "~", "null", "Null", "NULL")
_COLOUR_AS_COMMENT = re.compile(r"[{\[,][^#]*:[ \t]+(?P<hex>#[0-9a-fA-F]{3,6})\b")
_MERGE_ALONE = {"<": yaml.CSafeLoader.yaml_implicit_resolvers["<"]}
_PLAIN_TAGS = re.compile(r"tag:yaml\.org,2002:(map|seq|str|int|float|bool|null|timestamp|value)")


class PathRefused(Refusal):
    """A path that a show may not name. The message says what is wrong with it."""

    def __init__(self, what: str, cure: str) -> None:
        super().__init__(what)
        self.what = what
        self.cure = cure


class _Loader(yaml.CSafeLoader):
    """Composes nodes without asking what kind of value each text might be: only the merge key is told apart."""

    yaml_implicit_resolvers = _MERGE_ALONE


@dataclass(frozen=True)
class Source:
    """A show file and those it includes, read: the data of all, and where each node of it stands."""

    file: str
    """The show file itself."""
    data: dict[str, Data]
    values: Mapping[Path, Place] = field(repr=False)
    keys: Mapping[Path, Place] = field(repr=False)
    files: Mapping[str, bytes] = field(repr=False)
    """Every file as it was loaded, the show file first."""
    unread_files: tuple[str, ...] = ()
    """Included files of which something could not be read."""
    rejected: frozenset[Path] = frozenset()
    """What was taken out of the data since it could not be read; a misspelt key, by the name that was meant."""

    def place_of_value(self, path: Sequence[str | int]) -> Place:
        """Return where a value stands; the nearest node around it where the path leads to none."""
        return self._place(self.resolve(path), self.values)

    def place_of_key(self, path: Sequence[str | int]) -> Place:
        """Return where a key stands, or the value where the path ends in a list."""
        resolved = self.resolve(path)
        return self.keys.get(resolved) or self._place(resolved, self.values)

    def resolve(self, path: Sequence[str | int]) -> Path:
        """Return the part of a path that is in the file, leaving out steps that only a model knows."""
        found: Path = ()
        for step in path:
            if (*found, step) in self.values:
                found = (*found, step)
        return found

    def names(self, *path: str) -> list[str]:
        """Return the keys of the mapping at a path, or nothing where there is no mapping."""
        node = self.node(path)
        return list(node) if isinstance(node, dict) else []

    def may_contain(self, *path: str) -> bool:
        """Whether there is a key at a path, or one could stand in what was not read."""
        included = path[0] in SECTIONS_OF_INCLUDED and (bool(self.unread_files) or self.is_incomplete(INCLUDE))
        return path in self.keys or included or self.is_rejected(*path)

    def is_rejected(self, *path: str) -> bool:
        """Whether what stands at a path could not be read."""
        return any(path[:length] in self.rejected for length in range(1, len(path) + 1))

    def is_incomplete(self, *path: str) -> bool:
        """Whether what stands at a path could not be read, or not all of it."""
        return self.is_rejected(*path) or path in self._incomplete

    def node(self, path: Sequence[str | int]) -> Data:
        """Return what stands at a path; None where that is nothing."""
        node: Data = self.data
        for step in path:
            if isinstance(node, dict) and isinstance(step, str):
                node = node.get(step)
            elif isinstance(node, list) and isinstance(step, int) and step < len(node):
                node = node[step]
            else:
                return None
        return node

    def line(self, place: Place) -> str:
        return self._lines[place.file][place.line - 1]

    @cached_property
    def _lines(self) -> Mapping[str, list[str]]:
        return {file: re.split("\r\n|\n|\r", raw.decode("utf-8-sig", "replace")) for file, raw in self.files.items()}

    @cached_property
    def _incomplete(self) -> set[Path]:
        return {path[:length] for path in self.rejected for length in range(1, len(path))}

    def _place(self, path: Path, places: Mapping[Path, Place]) -> Place:
        while path and path not in places:
            path = path[:-1]
        return places.get(path, Place(self.file, 1, 1))


def decode_text(file: str, raw: bytes, most_bytes: int = MOST_BYTES) -> str:
    """Return the text of a file in UTF-8, without a byte order mark. Raises ProblemsFound."""
    if len(raw) > most_bytes:
        what = f"the file has {len(raw):,} bytes, the limit is {most_bytes:,}"
        raise ProblemsFound([Problem(Place(file, 1, 1), what, "split it, or take out what is not needed")])
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8", "replace")
        place = place_of_index(file, before, len(before))
        what = f"byte 0x{raw[error.start]:02x} is not UTF-8 text"
        raise ProblemsFound([Problem(place, what, "save the file as UTF-8")]) from error


def place_of_index(file: str, text: str, index: int) -> Place:
    """Return the line and column of a character in a text."""
    before = text[:index].replace("\r\n", "\n").replace("\r", "\n")
    return Place(file, before.count("\n") + 1, len(before) - before.rfind("\n"))


def read_source(file: str, raw: bytes, most_nodes: int = MOST_NODES, start: str = _START_OF_SHOW) -> Source:
    """Read one file of a show, of at most so many values; `start` tells how such a file begins.

    Raises ProblemsFound where it is no YAML, or more than plain YAML.
    """
    text = decode_text(file, raw)
    if odd := _OTHER_LINE_ENDS.search(text):
        place = place_of_index(file, text, odd.start())
        what = f"the character U+{ord(odd[0]):04X} stands here, which YAML takes for the end of the line"
        raise ProblemsFound([Problem(place, what, "delete it, or start a new line in its place")])
    try:
        node = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        place = place_of_index(file, text, min(mark.index, len(text.rstrip()))) if mark else Place(file, 1, 1)
        if "nesting depth" in (error.problem or ""):
            raise ProblemsFound([_too_deep(place)]) from error
        if (swallowed := _swallowed(file, text, error, place)) is not None:
            raise ProblemsFound([swallowed]) from error
        raise ProblemsFound([Problem(place, f"not YAML: {error.problem}", _yaml_cure(error, place))]) from error
    except yaml.reader.ReaderError as error:
        # The C loader gives no place for a character that YAML forbids: find it.
        found = re.search(r"[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", text)
        place = place_of_index(file, text, found.start() if found else 0)
        what = "a control character stands here that YAML does not allow"
        raise ProblemsFound([Problem(place, what, "delete it")]) from error
    except RecursionError as error:
        raise ProblemsFound([_too_deep(Place(file, 1, 1))]) from error
    if node is None:
        raise ProblemsFound([Problem(Place(file, 1, 1), "the file is empty", start)])
    reader = _Reader(file, most_nodes)
    data = reader.data_of(node, start)
    return Source(file, data, reader.values, reader.keys, {file: raw})


def _swallowed(file: str, text: str, error: yaml.MarkedYAMLError, place: Place) -> Problem | None:
    """Return the problem of a colour such as #ff8000 that has swallowed the end of its braces, as a comment does."""
    lines = re.split("\r\n|\n|\r", text)[: place.line]
    first = min(error.context_mark.line, len(lines) - 1) if error.context_mark is not None else 0
    for number, line in enumerate(lines[first:], start=first + 1):
        found = _COLOUR_AS_COMMENT.search(line)
        if found is not None and (colour := screen_colour_of_hex(found["hex"])) is not None:
            what = "this # starts a comment, and the bracket is never closed"
            return Problem(Place(file, number, found.start("hex") + 1), what, f"write '{colour}' instead")
    return None


def _yaml_cure(error: yaml.MarkedYAMLError, place: Place) -> str:
    problem = error.problem or ""
    if "tab" in problem or "cannot start any token" in problem:
        return "indent with spaces, and put quotes around a text that starts with % @ ` or a tab"
    if "mapping values" in problem:
        return "check the indent, or put quotes around a text with a colon in it"
    if "could not find expected ':'" in problem:
        return "write a space after the colon of each key, here and in the line before: 'title: my bottle'"
    if "alias" in problem:
        return "define the anchor (&name) before it is used, or write the value out"
    if "another document" in problem:
        return "keep one show to a file: take out the line '---'"
    if error.context_mark is not None:
        # What is opened last of all has its mark behind the end of the file.
        line = min(error.context_mark.line + 1, place.line)
        return f"look at what was opened in line {line}: a bracket, a quote or an indent"
    return "check brackets, quotes and the indent just before this place"


def _too_deep(place: Place) -> Problem:
    return Problem(place, "the file is nested too deeply", f"keep to {MOST_DEPTH} levels")


class _Reader:
    """Turns composed nodes into plain data, noting places and refusing what is not plain."""

    def __init__(self, file: str, most_nodes: int) -> None:
        self.file = file
        self.most_nodes = most_nodes
        self.values: dict[Path, Place] = {}
        self.keys: dict[Path, Place] = {}
        self.problems: list[Problem] = []
        self.open_nodes: set[int] = set()

    def data_of(self, root: yaml.Node, start: str) -> dict[str, Data]:
        data = self._data(root, ())
        if not isinstance(data, dict):
            self.problems.append(Problem(self._place(root), "the file is not a mapping of keys to values", start))
        if self.problems:
            raise ProblemsFound(self.problems)
        assert isinstance(data, dict)  # noqa: S101 - for the type checker: the problem above was raised
        return data

    def _place(self, node: yaml.Node, path: Path = ()) -> Place:
        return Place(self.file, node.start_mark.line + 1, node.start_mark.column + 1, path)

    def _data(self, node: yaml.Node, path: Path) -> Data:
        self.values[path] = self._place(node, path)
        if len(self.values) > self.most_nodes:
            whole = "the file stands" if self.most_nodes == MOST_NODES else "with this file the show stands"
            what = f"{whole} for more than {MOST_NODES:,} values"
            cure = "use fewer references (*name) to large parts"
            raise ProblemsFound([Problem(self._place(node), what, cure)])
        if len(path) > MOST_DEPTH:
            raise ProblemsFound([_too_deep(self._place(node))])
        if id(node) in self.open_nodes:
            what, cure = "this reference contains itself", "write the value out instead of *name"
            raise ProblemsFound([Problem(self._place(node), what, cure)])
        if not _PLAIN_TAGS.fullmatch(node.tag):
            what = f"the tag '{shorten(node.tag)}' is not read"
            self.problems.append(Problem(self._place(node), what, "write the plain value without a tag"))
            return None
        if isinstance(node, yaml.ScalarNode):
            return None if node.style in (None, "") and node.value in EMPTY_TEXTS else as_one(str(node.value))
        self.open_nodes.add(id(node))
        data = self._list(node, path) if isinstance(node, yaml.SequenceNode) else self._mapping(node, path)
        self.open_nodes.discard(id(node))
        return data

    def _list(self, node: yaml.SequenceNode, path: Path) -> list[Data]:
        return [self._data(item, (*path, index)) for index, item in enumerate(node.value)]

    def _mapping(self, node: yaml.Node, path: Path) -> dict[str, Data]:
        data: dict[str, Data] = {}
        for key_node, value_node in node.value:
            place = self._place(key_node)
            if not isinstance(key_node, yaml.ScalarNode):
                self.problems.append(Problem(place, "a list or mapping cannot be a key", "write a plain name"))
                continue
            key = as_one(str(key_node.value))
            if key_node.tag == "tag:yaml.org,2002:merge":
                cure = "in looks write 'like: NAME'; elsewhere write the values out"
                self.problems.append(Problem(place, "merging with '<<' is not read", cure))
            elif not _PLAIN_TAGS.fullmatch(key_node.tag):
                what = f"the tag '{shorten(key_node.tag)}' is not read"
                self.problems.append(Problem(place, what, "write the plain name without a tag"))
            elif key in data:
                first = self.keys[(*path, key)]
                what = f"'{shorten(key)}' stands here twice, first in line {first.line}"
                self.problems.append(Problem(place, what, "take one of them out, or give it another name"))
            else:
                self.keys[(*path, key)] = self._place(key_node, (*path, key))
                data[key] = self._data(value_node, (*path, key))
        return data


def path_at(source: Source, place: Place) -> Path:
    """Return the path of the last key or value that begins at a place or before it; empty where there is none."""
    known = {**source.values, **source.keys}
    before = [(where, path) for path, where in known.items() if where.file == place.file and where <= place]
    return max(before, key=lambda one: (one[0], len(one[1])), default=(place, ()))[1]
