"""What is wrong in a show, in the form every front end prints: where, what, and what to write instead."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum
from functools import lru_cache

from cuedeck.errors import Refusal
from cuedeck.show.units import shorten


class Severity(StrEnum):
    """How bad a problem is: an error stops a take, a warning does not."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, order=True)
class Place:
    """A place in a file of the show. Lines and columns count from one."""

    file: str
    line: int
    column: int

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
        """Whether the show cannot be run until this is mended."""
        return self.severity is Severity.ERROR


class ProblemsFound(Refusal):
    """Reading stopped, because nothing sensible can be built from what is there."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = tuple(problems)


def counted(number: int, noun: str) -> str:
    """Return a number of things in words: 1 slot, 2 slots."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that looks most like `word`, or None where none is close."""
    return _nearest(word, tuple(known))


@lru_cache(maxsize=4096)
def _nearest(word: str, known: tuple[str, ...]) -> str | None:
    """Do what nearest does, once for a mistake that is made everywhere."""
    by_folded = {name.casefold(): name for name in known}
    found = get_close_matches(word.casefold(), by_folded, n=1, cutoff=0.6)
    return by_folded[found[0]] if found else None


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
