"""What can be changed in a show file, and what each change makes of the data.

Nothing here knows the text of a file: this is the meaning that an edited text is checked against.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass

from cuedeck.show.source import Data, Path


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
    """Add an item to a list. The path ends with the index that the item then has."""

    path: Path
    value: Data


Change = SetValue | Remove | Rename | Append | Insert


def change_data(data: Data, change: Change) -> Data:
    """Return the data with a change made. The path must lead where the change can be made."""
    match change:
        case SetValue(path, value):
            return _changed_at(data, path, lambda _: value)
        case Append(path, value):
            return _changed_at(data, path, lambda old: [*_items(old), value])
        case Insert((*way, index), value) if isinstance(index, int):
            return _changed_at(data, tuple(way), lambda old: [*_items(old)[:index], value, *_items(old)[index:]])
        case Remove((*way, last)):
            return _changed_at(data, tuple(way), lambda old: _without(old, last))
        case Rename((*way, last), new_key):
            return _changed_at(data, tuple(way), lambda old: _renamed(old, last, new_key))
    raise ValueError(f"a change without a place: {change}")


def is_same(data: Data, other: Data) -> bool:
    """Whether two pieces of data are equal, the order of their keys too."""
    return json.dumps(data) == json.dumps(other)


def differences(path: Path, old: Data, new: Data) -> list[Change]:
    """Return the changes that turn one list or mapping into another, additions before removals."""
    changes: list[Change] = []
    if isinstance(old, dict) and isinstance(new, dict):
        # A mapping in another order is another text: it is written anew.
        kept = [key for key in old if key in new]
        if [*kept, *(key for key in new if key not in old)] != list(new):
            return [SetValue(path, new)]
        changes += [
            SetValue((*path, key), value)
            for key, value in new.items()
            if key not in old or not is_same(old[key], value)
        ]
        changes += [Remove((*path, key)) for key in old if key not in new]
    elif isinstance(old, list) and isinstance(new, list):
        shared = min(len(old), len(new))
        changes += [
            SetValue((*path, index), new[index]) for index in range(shared) if not is_same(old[index], new[index])
        ]
        changes += [Append(path, value) for value in new[shared:]]
        changes += [Remove((*path, index)) for index in reversed(range(shared, len(old)))]
    return changes


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


def _without(data: Data, last: str | int) -> Data:
    if isinstance(data, list):
        return [item for index, item in enumerate(data) if index != last]
    return {key: value for key, value in data.items() if key != last} if isinstance(data, dict) else data


def _renamed(data: Data, last: str | int, new_key: str) -> Data:
    return {new_key if k == last else k: v for k, v in data.items()} if isinstance(data, dict) else data
