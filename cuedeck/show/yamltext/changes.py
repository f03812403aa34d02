"""What can be changed in a show file, and what each change makes of the data.

Nothing here knows the text of a file: this is the meaning that an edited text is checked against.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from cuedeck.show.source import Data, Path
from cuedeck.show.spelling import as_one


@dataclass(frozen=True)
class SetValue:
    """Put a value at a path. A key that is not there is added at the end, with the mappings that lead to it."""

    path: Path
    value: Data


@dataclass(frozen=True)
class Remove:
    """Take a key with its value, or an item of a list, out."""

    path: Path


@dataclass(frozen=True)
class Rename:
    """Give a key another name, in its place."""

    path: Path
    new_key: str


@dataclass(frozen=True)
class Append:
    """Add an item at the end of the list at a path, or start one where nothing is written there."""

    path: Path
    value: Data


@dataclass(frozen=True)
class Insert:
    """Add an item to a list, whose path ends with the index that it then has; or a key, at a place in its mapping."""

    path: Path
    value: Data
    place: int | None = None
    """The index that a key then has among those of its mapping."""


Change = SetValue | Remove | Rename | Append | Insert


def change_data(data: Data, change: Change) -> Data:
    """Return the data with a change made. The path must lead where the change can be made."""
    match change:
        case SetValue(path, value):
            return _changed_at(data, path, lambda _: value)
        case Append(path, value):
            return _changed_at(data, path, lambda old: [*_items(old), value])
        case Insert((*way, key), value, int(place)):
            return _changed_at(data, tuple(way), lambda old: _with_key(old, place, str(key), value))
        case Insert((*way, index), value) if isinstance(index, int):
            return _changed_at(data, tuple(way), lambda old: [*_items(old)[:index], value, *_items(old)[index:]])
        case Remove((*way, last)):
            return _changed_at(data, tuple(way), lambda old: _without(old, last))
        case Rename((*way, last), new_key):
            return _changed_at(data, tuple(way), lambda old: _renamed(old, last, new_key))
    raise ValueError(f"a change without a place: {change}")


def change_all(data: Data, changes: Iterable[Change]) -> Data:
    """Return the data with changes made, one after the other."""
    for change in changes:
        data = change_data(data, change)
    return data


def is_same(data: Data, other: Data) -> bool:
    """Whether two pieces of data are equal, the order of their keys too, in whatever Unicode form."""
    if data is other:
        return True
    if isinstance(data, dict) and isinstance(other, dict):
        are_keys_same = list(map(as_one, data)) == list(map(as_one, other))
        return are_keys_same and all(map(is_same, data.values(), other.values()))
    if isinstance(data, str) and isinstance(other, str):
        return as_one(data) == as_one(other)
    if isinstance(data, list) and isinstance(other, list):
        return len(data) == len(other) and all(map(is_same, data, other))
    return data == other


def value_at(data: Data, path: Path) -> Data:
    """Return what stands under the keys of a path; None where that is nothing."""
    for step in path:
        data = data.get(str(step)) if isinstance(data, dict) else None
    return data


def differences(path: Path, old: Data, new: Data) -> list[Change]:
    """Return the changes that turn one list or mapping into another, additions before removals."""
    if isinstance(old, dict) and isinstance(new, dict):
        return _differences_of_mappings(path, old, new)
    changes: list[Change] = []
    if isinstance(old, list) and isinstance(new, list):
        shared = min(len(old), len(new))
        changes += [
            SetValue((*path, index), new[index]) for index in range(shared) if not is_same(old[index], new[index])
        ]
        changes += [Append(path, value) for value in new[shared:]]
        changes += [Remove((*path, index)) for index in reversed(range(shared, len(old)))]
    return changes


def _differences_of_mappings(path: Path, old: dict[str, Data], new: dict[str, Data]) -> list[Change]:
    kept = [key for key in new if key in old]
    if [key for key in old if key in new] != kept:
        # A mapping in another order is another text: it is written anew.
        return [SetValue(path, new)]
    changes: list[Change] = []
    keys, coming = list(old), list(kept)
    for key, value in new.items():
        if key in old:
            coming.pop(0)
            if is_same(old[key], value):
                continue
        if key in old or not coming:
            changes.append(SetValue((*path, key), value))
        else:
            place = keys.index(coming[0])
            keys.insert(place, key)
            changes.append(Insert((*path, key), value, place))
    return [*changes, *(Remove((*path, key)) for key in old if key not in new)]


def require_plain(change: Change) -> None:
    """Raise ValueError for a value that is no plain data: texts, None, lists and dicts."""
    if isinstance(change, SetValue) and not change.path and not isinstance(change.value, dict):
        raise ValueError("a show is a mapping")
    if isinstance(change, Rename):
        _require_data(change.new_key)
    elif not isinstance(change, Remove):
        _require_data(change.value)


def _require_data(value: object) -> None:
    if isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str):
                raise ValueError(f"a key is a text, not {key!r}")
            _require_data(item)
    elif isinstance(value, list):
        for item in value:
            _require_data(item)
    elif value is not None and not isinstance(value, str):
        raise ValueError(f"a value is a text, None, a list or a dict, not {value!r}")


def _changed_at(data: Data, path: Path, change: Callable[[Data], Data]) -> Data:
    if not path:
        return change(data)
    step, rest = path[0], path[1:]
    if isinstance(data, list):
        return [_changed_at(item, rest, change) if index == step else item for index, item in enumerate(data)]
    mapping = data if isinstance(data, dict) else {}
    return {**mapping, str(step): _changed_at(mapping.get(str(step)), rest, change)}


def _items(data: Data) -> list[Data]:
    return data if isinstance(data, list) else []


def _with_key(data: Data, place: int, key: str, value: Data) -> Data:
    entries = list(data.items()) if isinstance(data, dict) else []
    return dict([*entries[:place], (key, value), *entries[place:]])


def _without(data: Data, last: str | int) -> Data:
    if isinstance(data, list):
        return [item for index, item in enumerate(data) if index != last]
    return {key: value for key, value in data.items() if key != last} if isinstance(data, dict) else data


def _renamed(data: Data, last: str | int, new_key: str) -> Data:
    return {new_key if k == last else k: v for k, v in data.items()} if isinstance(data, dict) else data
