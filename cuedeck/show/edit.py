"""Changing a show file by changing only what changes: the file stays the user's own.

Comments, order, quotes, blank lines, anchors, indent, line ends and a byte order mark survive byte for
byte outside the values that change. The invariant owned here: what comes out reads back as the old data
with the changes applied, and as nothing else; where that cannot be had, the change is refused.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from cuedeck.errors import Refusal
from cuedeck.show.changes import (
    Append,
    Change,
    Insert,
    Remove,
    Rename,
    SetValue,
    change_data,
    differences,
    is_same,
    require_plain,
)
from cuedeck.show.nodes import Entry, Kind, Node
from cuedeck.show.problems import Place, Problem, ProblemsFound
from cuedeck.show.source import Data, Path, place_of_index, read_source
from cuedeck.show.splice import (
    Document,
    Splice,
    insert_entry,
    read_document,
    remove_entry,
    rename_key,
    replace_value,
    splice,
)
from cuedeck.show.units import shorten

__all__ = ["Append", "Change", "EditRefused", "Insert", "Remove", "Rename", "SetValue", "apply_changes"]

_MARK = "\ufeff"
_MOST_PLACES = 6


class EditRefused(Refusal):
    """A change that the file as it is written does not allow. Nothing was changed."""

    def __init__(self, place: Place, what: str, cure: str) -> None:
        self.problem = Problem(place, what, cure)
        super().__init__(str(self.problem))
        self.place, self.what, self.cure = place, self.problem.what, self.problem.cure


def apply_changes(file: str, raw: bytes, changes: Sequence[Change]) -> bytes:
    """Return the bytes of a show file with changes made, each to what the ones before it left.

    Raises ProblemsFound where the file cannot be read, EditRefused where it does not allow a change, and
    KeyError or ValueError for a path that leads nowhere or a value that is no plain data.
    """
    wanted: Data = read_source(file, raw).data
    text = raw.decode()
    body = text.lstrip(_MARK)
    mark = text[: len(text) - len(body)]
    for change in changes:
        require_plain(change)
        editor = _Editor(file, body)
        body = editor.apply(change)
        wanted = change_data(wanted, change)
    if mark + body == text:
        return raw
    return _checked(file, mark + body, wanted, Place(file, 1, 1) if len(changes) != 1 else editor.place)


def _checked(file: str, text: str, wanted: Data, place: Place) -> bytes:
    """Return the bytes of a changed file, after reading them back."""
    what = "this change cannot be written into the file as it stands"
    cure = "write it by hand, in a text editor"
    try:
        raw = text.encode()
        found = read_source(file, raw).data
    except UnicodeEncodeError as error:
        raise EditRefused(place, "a character of the new text cannot be saved", "type the text again") from error
    except ProblemsFound as error:
        raise EditRefused(place, f"{what}: it would not be read any more", cure) from error
    if not is_same(found, wanted):
        raise EditRefused(place, f"{what}: it would read as something else", cure)
    return raw


@dataclass
class _Editor:
    """One change to one text."""

    file: str
    text: str
    place: Place = field(init=False)
    document: Document = field(init=False)

    def __post_init__(self) -> None:
        self.place = Place(self.file, 1, 1)
        self.document = read_document(self.text)

    def apply(self, change: Change) -> str:
        match change:
            case SetValue(path, value):
                return self._set(path, value)
            case Remove(path):
                return splice(self.text, self._remove(path))
            case Rename(path, new_key):
                return splice(self.text, self._rename(path, new_key))
            case Append(path, value):
                return splice(self.text, self._append(path, value))
            case Insert(path, value):
                return splice(self.text, self._insert(path, value))

    def _set(self, path: Path, value: Data) -> str:
        chain, missing = self._find(path)
        if not missing:
            return self._set_found(path, chain, value)
        if not all(isinstance(step, str) for step in missing):
            raise KeyError(path)
        for step in reversed(missing[1:]):
            value = {str(step): value}
        holder = chain[-1].value
        self._require_own(path[: len(chain) - 1], chain)
        if holder.kind is Kind.MAPPING:
            new = insert_entry(self.document, chain[-1], len(holder.entries), str(missing[0]), value)
            return splice(self.text, new)
        if _reads_as_nothing(holder):
            parent = chain[-2].value if len(chain) > 1 else None
            return splice(self.text, replace_value(self.document, parent, chain[-1], {str(missing[0]): value}))
        if holder.kind is Kind.LIST:
            raise KeyError(path)
        what = f"'{shorten(holder.value)}' stands here, so '{shorten(str(missing[0]))}' cannot be added"
        raise EditRefused(self.place, what, "write {} in its place, then add to it")

    def _set_found(self, path: Path, chain: list[Entry], value: Data) -> str:
        entry = chain[-1]
        old = self._data_of(entry.value)
        if is_same(old, value):
            return self.text
        if entry.value.is_collection and value and type(value) is type(old):
            changes = differences(path, old, value)
            if SetValue(path, value) not in changes:
                return _apply_all(self.file, self.text, changes)
        self._require_own(path, chain, whole=True)
        parent = chain[-2].value if len(chain) > 1 else None
        return splice(self.text, replace_value(self.document, parent, entry, value))

    def _remove(self, path: Path) -> list[Splice]:
        chain = self._existing(path)
        self._require_own(path, chain, whole=True)
        index = chain[-2].value.index_of(path[-1])
        assert index is not None  # noqa: S101 - for the type checker: the chain led there
        grandparent = chain[-3].value if len(chain) > 2 else None
        return remove_entry(self.document, grandparent, chain[-2], index)

    def _rename(self, path: Path, new_key: str) -> list[Splice]:
        chain = self._existing(path)
        entry, parent = chain[-1], chain[-2].value
        if entry.key is None:
            raise ValueError("an item of a list has no name")
        if entry.name == new_key:
            return []
        taken = parent.index_of(new_key)
        if taken is not None:
            first = place_of_index(self.file, self.text, parent.entries[taken].start)
            what = f"'{shorten(new_key)}' stands here already, in line {first.line}"
            raise EditRefused(self.place, what, "choose another name")
        self._require_own(path[:-1], chain[:-1])
        self._require_unused([entry.key], path)
        return rename_key(parent, entry, new_key)

    def _append(self, path: Path, value: Data) -> list[Splice]:
        chain = self._existing(path, allow_root=True)
        holder = chain[-1].value
        self._require_own(path, chain)
        if holder.kind is Kind.LIST:
            return insert_entry(self.document, chain[-1], len(holder.entries), None, value)
        if _reads_as_nothing(holder) and len(chain) > 1:
            return replace_value(self.document, chain[-2].value, chain[-1], [value])
        raise KeyError(path)

    def _insert(self, path: Path, value: Data) -> list[Splice]:
        if not path or not isinstance(path[-1], int):
            raise ValueError("an item is inserted at an index")
        chain = self._existing(path[:-1], allow_root=True)
        holder = chain[-1].value
        self._require_own(path[:-1], chain)
        if holder.kind is not Kind.LIST or not 0 <= path[-1] <= len(holder.entries):
            raise KeyError(path)
        return insert_entry(self.document, chain[-1], path[-1], None, value)

    def _find(self, path: Path) -> tuple[list[Entry], Path]:
        """Return the entries that lead to a path, the root first, and the steps that lead no further."""
        chain = [self.document.root]
        for number, step in enumerate(path):
            node = chain[-1].value
            self.place = place_of_index(self.file, self.text, node.content)
            if node.kind is Kind.ALIAS:
                raise self._shared(path[:number], node.anchor or "")
            index = node.index_of(step)
            if index is None:
                return chain, path[number:]
            chain.append(node.entries[index])
        self.place = place_of_index(self.file, self.text, chain[-1].start)
        return chain, ()

    def _existing(self, path: Path, *, allow_root: bool = False) -> list[Entry]:
        chain, missing = self._find(path)
        if missing or not (path or allow_root):
            raise KeyError(path)
        return chain

    def _require_own(self, path: Path, chain: list[Entry], *, whole: bool = False) -> None:
        """Refuse a change that other places would share: inside a node, or to the node as a whole."""
        nodes = [entry.value for entry in chain]
        if nodes[-1].kind is Kind.ALIAS and not whole:
            raise self._shared(path, nodes[-1].anchor or "")
        self._require_unused([node for node in nodes[:-1] if node.kind is not Kind.ALIAS], path)
        inside = list(chain[-1].walk()) if whole else [nodes[-1]]
        self._require_unused([node for node in inside if node.kind is not Kind.ALIAS], path, inside)

    def _require_unused(self, nodes: list[Node], path: Path, inside: Sequence[Node] = ()) -> None:
        """Refuse where an alias outside of what is changed stands for one of the nodes."""
        kept = {node.start for node in inside}
        used = {node.anchor for node in self._aliases() if node.start not in kept}
        for node in nodes:
            if node.anchor is not None and node.anchor in used:
                raise self._shared(path, node.anchor)

    def _shared(self, path: Path, anchor: str) -> EditRefused:
        places = [place_of_index(self.file, self.text, node.start) for node in self._aliases(anchor)]
        names = ", ".join(str(place) for place in places[:_MOST_PLACES]) + (", ..." if places[_MOST_PLACES:] else "")
        where = next(node for node in self._nodes() if node.anchor == anchor and node.kind is not Kind.ALIAS)
        first = place_of_index(self.file, self.text, where.start)
        what = f"'{shorten(_words(path))}' is shared: '*{anchor}' stands for the value of '&{anchor}' at {names}"
        return EditRefused(first, what, f"write the values out in place of each '*{anchor}', then change it")

    def _nodes(self) -> Iterator[Node]:
        return self.document.root.walk()

    def _aliases(self, anchor: str | None = None) -> Iterator[Node]:
        return (node for node in self._nodes() if node.kind is Kind.ALIAS and anchor in (None, node.anchor))

    def _data_of(self, node: Node) -> Data:
        if node.kind is Kind.ALIAS:
            return self._data_of(next(n for n in self._nodes() if n.anchor == node.anchor and n.kind is not Kind.ALIAS))
        if node.kind is Kind.LIST:
            return [self._data_of(entry.value) for entry in node.entries]
        if node.kind is Kind.MAPPING:
            return {entry.name: self._data_of(entry.value) for entry in node.entries}
        return None if _reads_as_nothing(node) else node.value


def _apply_all(file: str, text: str, changes: Sequence[Change]) -> str:
    for change in changes:
        text = _Editor(file, text).apply(change)
    return text


def _reads_as_nothing(node: Node) -> bool:
    return node.kind is Kind.SCALAR and node.style is None and node.value in ("", "~", "null", "Null", "NULL")


def _words(path: Path) -> str:
    return " > ".join(str(step) for step in path) or "the show"
