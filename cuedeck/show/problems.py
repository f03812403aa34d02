"""What is wrong in a show, in the form every front end prints: where, what, and what to write instead."""

from __future__ import annotations

import errno
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import chain, islice

from cuedeck.errors import Refusal
from cuedeck.show.spelling import nearest
from cuedeck.show.units import shorten

MOST_PROBLEMS = 200
"""How many problems of one kind are told at once."""
MOST_LISTED = 12
"""How many names are listed for one that is not known."""


_MAY_NOT_READ = "look at who may read the file and the folders it is in, and let yourself read it"


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


def why_unread(error: OSError, path_cure: str) -> tuple[str, str]:
    """Return why a file could not be read, and the cure that fits; `path_cure` is that of a path to nowhere."""
    cures = {
        errno.ENOENT: path_cure,
        errno.ENOTDIR: path_cure,
        errno.EISDIR: path_cure,
        errno.ENAMETOOLONG: path_cure,
        errno.ELOOP: "put the file itself there: this link leads back to itself",
        errno.EACCES: _MAY_NOT_READ,
        errno.EPERM: _MAY_NOT_READ,
    }
    reason = (error.strerror or "it will not open").lower()
    return reason, cures.get(error.errno or 0, "see whether another program can open it, or copy it there anew")


def counted(number: int, noun: str) -> str:
    """Return a number of things in words: 1 slot, 2 slots."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def first_of(checks: Iterable[Iterable[Problem]]) -> list[Problem]:
    """Return what checks find, up to MOST_PROBLEMS: nobody reads more, and a broken show may have thousands."""
    return list(islice(chain.from_iterable(checks), MOST_PROBLEMS))


def choice_of(
    word: str, known: Iterable[str], *, none: str = "define one first, or take it out", are_keys: bool = False
) -> str:
    """Return a cure for an unknown word: the known one that it is but for a slip, or the list of those there are."""
    names = [name for name in known if name.strip()]
    close = nearest(word, names, are_keys=are_keys)
    if close is not None:
        return f"write '{shorten(close)}'"
    if not names:
        return none
    shown = ", ".join(f"'{shorten(name)}'" for name in names[:MOST_LISTED])
    return f"write one of {shown}" + (", ..." if len(names) > MOST_LISTED else "")
