"""The difference between two pieces of plain data, by which either can be made of the other.

Mappings and lists are compared as rows of entries. Equal entries are not kept, so the difference stays small.
The order of keys comes back too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any

from cuedeck.show.yamltext.changes import is_same

Entry = tuple[Any, Any]
"""A key and its value; in a list, the key is None."""


@dataclass(frozen=True, slots=True)
class Replaced:
    """One value that took the place of another."""

    old: Any
    new: Any


@dataclass(frozen=True, slots=True)
class ChangedEntries:
    """Entries that took the place of others."""

    at: int
    """Where they begin, among the old entries."""
    old: tuple[Entry, ...]
    new: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class ChangedEntry:
    """An entry in which something differs."""

    at: int
    """Where it stands among the old entries."""
    delta: Delta


Delta = Replaced | tuple[ChangedEntries | ChangedEntry, ...]


def delta_between(old: Any, new: Any) -> Delta | None:
    """Return what makes one of the other; None where they are alike."""
    if old is new:
        return None
    if isinstance(old, dict) and isinstance(new, dict):
        return tuple(_parts(list(old.items()), list(new.items()))) or None
    if isinstance(old, list) and isinstance(new, list):
        return tuple(_parts([(None, one) for one in old], [(None, one) for one in new])) or None
    return None if is_same(old, new) else Replaced(old, new)


def apply_delta(data: Any, delta: Delta | None, *, back: bool) -> Any:
    """Return the new data of the old, or the old of the new; equal parts stay the same object."""
    if delta is None:
        return data
    if isinstance(delta, Replaced):
        return delta.old if back else delta.new
    is_mapping = isinstance(data, dict)
    entries: list[Entry] = list(data.items()) if is_mapping else [(None, one) for one in data]
    for part in delta if back else reversed(delta):  # so that places among the old entries hold
        if isinstance(part, ChangedEntry):
            key, value = entries[part.at]
            entries[part.at] = key, apply_delta(value, part.delta, back=back)
        else:
            was, becomes = (part.new, part.old) if back else (part.old, part.new)
            entries[part.at : part.at + len(was)] = becomes
    return dict(entries) if is_mapping else [value for _, value in entries]


def _parts(old: Sequence[Entry], new: Sequence[Entry]) -> Iterator[ChangedEntries | ChangedEntry]:
    """Yield what differs between two rows of entries, from the first to the last."""
    shorter = min(len(old), len(new))
    start = next((at for at in range(shorter) if not _is_alike(old[at], new[at])), shorter)
    rest = shorter - start
    end = next((at for at in range(rest) if not _is_alike(old[-1 - at], new[-1 - at])), rest)
    ranges = _differing_ranges(old[start : len(old) - end], new[start : len(new) - end])
    for old_from, old_to, new_from, new_to in ranges:
        removed, added = old[start + old_from : start + old_to], new[start + new_from : start + new_to]
        if [key for key, _ in removed] != [key for key, _ in added]:
            yield ChangedEntries(start + old_from, tuple(removed), tuple(added))
            continue
        for at, ((_, before), (_, after)) in enumerate(zip(removed, added, strict=True), start + old_from):
            delta = delta_between(before, after)
            if delta is not None:
                yield ChangedEntry(at, delta)


def _differing_ranges(old: Sequence[Entry], new: Sequence[Entry]) -> Iterator[tuple[int, int, int, int]]:
    if min(len(old), len(new)) < 2:
        if old or new:
            yield 0, len(old), 0, len(new)
        return
    matcher = SequenceMatcher(None, [repr(one) for one in old], [repr(one) for one in new])
    yield from (tuple(places) for tag, *places in matcher.get_opcodes() if tag != "equal")  # type: ignore[misc]


def _is_alike(one: Entry, other: Entry) -> bool:
    return one[0] == other[0] and is_same(one[1], other[1])
