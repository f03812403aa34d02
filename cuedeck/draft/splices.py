"""Text that took the place of other text: how an edit of a file is remembered, undone and done again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher

WORTH_SPLITTING = 200
"""How many characters a stretch has at least that is looked through for lines that stayed."""

Texts = Mapping[str, str]
"""Files by their names in the show folder, each a text with its byte order mark and its line ends."""


@dataclass(frozen=True)
class Splice:
    """What one stretch of a file became."""

    file: str
    at: int
    """Where the stretch begins, in characters."""
    old: str
    new: str

    @property
    def inverse(self) -> Splice:
        return Splice(self.file, self.at, self.new, self.old)


def splice_between(file: str, old: str, new: str) -> Splice:
    """Return the shortest stretch that makes one text of another."""
    shorter = min(len(old), len(new))
    start = _alike(old, new, shorter)
    end = _alike(old[::-1], new[::-1], shorter - start)
    return Splice(file, start, old[start : len(old) - end], new[start : len(new) - end])


def splices_between(file: str, old: str, new: str) -> tuple[Splice, ...]:
    """Return what makes one text of another, from the last to the first: far apart, changes are stretches apart."""
    whole = splice_between(file, old, new)
    if min(len(whole.old), len(whole.new)) < WORTH_SPLITTING:
        return (whole,)
    was, now = whole.old.splitlines(keepends=True), whole.new.splitlines(keepends=True)
    found, at = [], whole.at
    for tag, was_from, was_to, now_from, now_to in SequenceMatcher(None, was, now).get_opcodes():
        gone, come = "".join(was[was_from:was_to]), "".join(now[now_from:now_to])
        if tag != "equal":
            stretch = splice_between(file, gone, come)
            found.append(Splice(file, at + stretch.at, stretch.old, stretch.new))
        at += len(gone)
    return tuple(reversed(found))


def _alike(one: str, other: str, most: int) -> int:
    """Return how many characters two texts begin with in common, at most so many."""
    low, high = 0, most
    while low < high:
        middle = (low + high + 1) // 2
        if one[low:middle] == other[low:middle]:
            low = middle
        else:
            high = middle - 1
    return low


def spliced(texts: Texts, splices: Iterable[Splice]) -> dict[str, str]:
    """Return texts with splices made, one after the other. Raises ValueError where a text is not as it was."""
    changed = dict(texts)
    for splice in splices:
        text = changed.get(splice.file, "")
        end = splice.at + len(splice.old)
        if text[splice.at : end] != splice.old:
            raise ValueError(f"{splice.file} does not hold what was written there")
        changed[splice.file] = text[: splice.at] + splice.new + text[end:]
    return changed


def inverse(splices: Iterable[Splice]) -> tuple[Splice, ...]:
    return tuple(splice.inverse for splice in reversed(tuple(splices)))
