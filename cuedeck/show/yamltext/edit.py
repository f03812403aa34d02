"""Changing a show file by changing only what changes: the file stays the user's own.

Comments, order, quotes, blank lines, anchors, indent, line ends and a byte order mark survive byte for
byte outside the values that change. The invariant owned here: what comes out reads back as the old data
with the changes applied, and as nothing else; where that cannot be had, the change is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from cuedeck.errors import Refusal
from cuedeck.show.problems import Place, Problem, ProblemsFound
from cuedeck.show.source import Data, Path, place_of_index, read_source
from cuedeck.show.units import shorten
from cuedeck.show.yamltext.changes import (
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
from cuedeck.show.yamltext.document import Document, Splice, read_document, splice
from cuedeck.show.yamltext.nodes import Entry, Node, NodeKind, aliases, anchored, data_of, shared_anchor
from cuedeck.show.yamltext.splice import insert_entry, remove_entry, rename_key, replace_value

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
            case Insert(path, value, place):
                return splice(self.text, self._insert(path, value, place))

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
        if holder.kind is NodeKind.MAPPING:
            new = insert_entry(self.document, _around(chain), chain[-1], len(holder.entries), str(missing[0]), value)
            return splice(self.text, new)
        if holder.reads_as_nothing:
            return splice(self.text, replace_value(self.document, _around(chain), chain[-1], {str(missing[0]): value}))
        if holder.kind is NodeKind.LIST:
            raise KeyError(path)
        what = f"'{shorten(holder.value)}' stands here, so '{shorten(str(missing[0]))}' cannot be added"
        raise EditRefused(self.place, what, "write {} in its place, then add to it")

    def _set_found(self, path: Path, chain: list[Entry], value: Data) -> str:
        entry = chain[-1]
        old = data_of(self.document.root, entry.value)
        if is_same(old, value):
            return self.text
        if entry.value.is_collection and value and type(value) is type(old):
            changes = differences(path, old, value)
            if SetValue(path, value) not in changes:
                return _apply_all(self.file, self.text, changes)
        self._require_own(path, chain, list(entry.value.walk()))
        return splice(self.text, replace_value(self.document, _around(chain), entry, value))

    def _remove(self, path: Path) -> list[Splice]:
        chain = self._existing(path)
        self._require_own(path, chain, list(chain[-1].walk()))
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
            first = self._place(parent.entries[taken].start)
            what = f"'{shorten(new_key)}' stands here already, in line {first.line}"
            raise EditRefused(self.place, what, "choose another name")
        self._require_own(path[:-1], chain[:-1])
        self._require_own(path, chain, [entry.key])
        return rename_key(parent, entry, new_key)

    def _append(self, path: Path, value: Data) -> list[Splice]:
        chain = self._existing(path, allow_root=True)
        holder = chain[-1].value
        self._require_own(path, chain)
        if holder.kind is NodeKind.LIST:
            return insert_entry(self.document, _around(chain), chain[-1], len(holder.entries), None, value)
        if holder.reads_as_nothing and len(chain) > 1:
            return replace_value(self.document, _around(chain), chain[-1], [value])
        raise KeyError(path)

    def _insert(self, path: Path, value: Data, place: int | None) -> list[Splice]:
        index = path[-1] if path and place is None else place
        if not path or not isinstance(index, int):
            raise ValueError("an item is inserted at an index")
        chain = self._existing(path[:-1], allow_root=True)
        holder = chain[-1].value
        self._require_own(path[:-1], chain)
        name = None if place is None else str(path[-1])
        if holder.kind is not (NodeKind.LIST if name is None else NodeKind.MAPPING) or not 0 <= index <= len(
            holder.entries
        ):
            raise KeyError(path)
        return insert_entry(self.document, _around(chain), chain[-1], index, name, value)

    def _find(self, path: Path) -> tuple[list[Entry], Path]:
        """Return the entries that lead to a path, the root first, and the steps that lead no further."""
        chain = [self.document.root]
        for number, step in enumerate(path):
            node = chain[-1].value
            self.place = self._place(node.content)
            if node.kind is NodeKind.ALIAS:
                raise self._shared(path[:number], node.anchor or "")
            index = node.index_of(step)
            if index is None:
                return chain, path[number:]
            chain.append(node.entries[index])
        self.place = self._place(chain[-1].start)
        return chain, ()

    def _existing(self, path: Path, *, allow_root: bool = False) -> list[Entry]:
        chain, missing = self._find(path)
        if missing or not (path or allow_root):
            raise KeyError(path)
        return chain

    def _require_own(self, path: Path, chain: list[Entry], gone: Sequence[Node] = ()) -> None:
        """Refuse a change that other places share: inside the last node of a chain, or where nodes are gone."""
        last = chain[-1].value
        if last.kind is NodeKind.ALIAS and not gone:
            raise self._shared(path, last.anchor or "")
        around = [entry.value for entry in (chain[:-1] if gone else chain)]
        anchor = shared_anchor(self.document.root, around, gone)
        if anchor is not None:
            raise self._shared(path, anchor)

    def _shared(self, path: Path, anchor: str) -> EditRefused:
        root = self.document.root
        places = [str(self._place(node.start)) for node in aliases(root, anchor)]
        names = ", ".join(places[:_MOST_PLACES]) + (", ..." if places[_MOST_PLACES:] else "")
        words = " > ".join(str(step) for step in path)
        what = f"'{shorten(words)}' is shared: '*{anchor}' stands for the value of '&{anchor}' at {names}"
        cure = f"write the values out in place of each '*{anchor}', then change it"
        return EditRefused(self._place(anchored(root, anchor).start), what, cure)

    def _place(self, index: int) -> Place:
        return place_of_index(self.file, self.text, index)


def _around(chain: list[Entry]) -> Node | None:
    """Return the list or mapping in which the last entry of a chain stands; the root stands in none."""
    return chain[-2].value if len(chain) > 1 else None


def _apply_all(file: str, text: str, changes: Sequence[Change]) -> str:
    for change in changes:
        text = _Editor(file, text).apply(change)
    return text
