"""What is wrong in a show, in the form every front end prints: where, what, and what to write instead."""

from __future__ import annotations

from bisect import bisect
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from enum import StrEnum
from functools import lru_cache
from itertools import chain, islice

from cuedeck.errors import Refusal
from cuedeck.show.units import shorten

MOST_PROBLEMS = 200
"""How many problems of one kind are told at once."""
MOST_COMPARED = 200
"""How many names a misspelt one is compared with letter by letter."""


class Severity(StrEnum):
    """How bad a problem is: an error stops the takes of the shots that it is about, a warning does not."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, order=True)
class Place:
    """A place in a file of the show. Lines and columns count from one."""

    file: str
    line: int
    column: int
    path: tuple[str | int, ...] = field(default=(), compare=False, repr=False)
    """What stands there, as the way to it from the top of the show; nothing where that is the show as a whole."""

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, order=True)
class Problem:
    """One thing that is wrong, and its cure."""

    place: Place
    what: str
    cure: str
    severity: Severity = Severity.ERROR

    def __post_init__(self) -> None:
        """Keep a problem to one line a sentence, whatever stands in the names it quotes."""
        for name in ("what", "cure"):
            object.__setattr__(self, name, shorten(getattr(self, name), 400))

    def __str__(self) -> str:
        return f"{self.place}: {self.severity}: {self.what}\n    {self.cure}"

    @property
    def is_error(self) -> bool:
        """Whether what it is about cannot be run until this is mended."""
        return self.severity is Severity.ERROR

    def about(self, path: tuple[str | int, ...]) -> Problem:
        """Return it as a problem of what stands at a path of the show."""
        return replace(self, place=replace(self.place, path=path))


class ProblemsFound(Refusal):
    """Reading stopped, because nothing sensible can be built from what is there."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = tuple(problems)


def counted(number: int, noun: str) -> str:
    """Return a number of things in words: 1 slot, 2 slots."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def first_of(checks: Iterable[Iterable[Problem]]) -> list[Problem]:
    """Return what checks find, up to MOST_PROBLEMS: nobody reads more, and a broken show may have thousands."""
    return list(islice(chain.from_iterable(checks), MOST_PROBLEMS))


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that looks most like `word`, or None where none is close."""
    return _nearest(word, tuple(known))


@lru_cache(maxsize=4096)
def _nearest(word: str, known: tuple[str, ...]) -> str | None:
    """Do what nearest does, once for a mistake that is made everywhere."""
    folded = word.casefold()
    by_folded = _folded(known)
    near = by_folded if len(by_folded) <= MOST_COMPARED else _neighbours(folded, known)
    found = get_close_matches(folded, near, n=1, cutoff=0.6)
    return by_folded[found[0]] if found else None


@lru_cache(maxsize=64)
def _folded(known: tuple[str, ...]) -> dict[str, str]:
    return {name.casefold(): name for name in known}


@lru_cache(maxsize=64)
def _in_order(known: tuple[str, ...]) -> tuple[list[str], list[str]]:
    """Return the folded names by how they begin, and turned round by how they end."""
    names = _folded(known)
    return sorted(names), sorted(name[::-1] for name in names)


def _neighbours(folded: str, known: tuple[str, ...]) -> list[str]:
    """Return the few of very many names that begin or end most like a word."""
    by_start, by_end = _in_order(known)
    reach = MOST_COMPARED // 4
    start, end = bisect(by_start, folded), bisect(by_end, folded[::-1])
    alike = by_start[max(start - reach, 0) : start + reach]
    return alike + [name[::-1] for name in by_end[max(end - reach, 0) : end + reach]]


def choice_of(word: str, known: Iterable[str], *, none: str = "define one first, or take it out") -> str:
    """Return a cure for an unknown word: the nearest known one, or the list of those there are."""
    names = list(known)
    close = nearest(word, names)
    if close is not None:
        return f"write '{shorten(close)}'"
    if not names:
        return none
    shown = ", ".join(f"'{shorten(name)}'" for name in names[:12])
    return f"write one of {shown}" + (", ..." if len(names) > 12 else "")
