"""Which shots a problem keeps from running: its own, those that go to its look, or all.

A shot runs only where nothing is wrong with what its light is made of. The rig, the camera and what is included
belong to every shot; so does all where not everything that is wrong is known.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from cuedeck.rig.looks import ancestry
from cuedeck.show.model import Show
from cuedeck.show.problems import MOST_PROBLEMS, Problem
from cuedeck.show.source import Path, Source


def errors_of_shot(show: Show, source: Source, shot: str, problems: Collection[Problem]) -> tuple[Problem, ...]:
    """Return the errors that keep a shot from running."""
    looks = set(_looks_of(show, shot))
    groups = {name for look in looks for name in source.names("looks", look)}
    own = {"shots": {shot}, "looks": looks, "groups": groups}
    return _errors(source, problems, own)


def errors_of_all(source: Source, problems: Collection[Problem]) -> tuple[Problem, ...]:
    """Return the errors that keep every shot from running."""
    return _errors(source, problems, {"shots": (), "looks": (), "groups": ()})


def _errors(source: Source, problems: Collection[Problem], own: Mapping[str, Collection[str]]) -> tuple[Problem, ...]:
    errors = tuple(problem for problem in problems if problem.is_error)
    if source.unread_files or len(problems) >= MOST_PROBLEMS:
        return errors  # what else is wrong was not read, or not told
    own_errors = tuple(problem for problem in errors if _belongs(problem.place.path, own))
    is_hurt = any(_belongs(path, own) for path in source.rejected)
    return own_errors if own_errors or not is_hurt else errors


def _belongs(path: Path, own: Mapping[str, Collection[str]]) -> bool:
    return len(path) < 2 or path[0] not in own or str(path[1]) in own[str(path[0])]


def _looks_of(show: Show, shot: str) -> Iterator[str]:
    """Yield the looks that a shot goes to, and those that they are like, known or not."""
    named = {cue.look for cue in show.shots[shot].cues} if shot in show.shots else set()
    for name in named:
        yield name
        for look in ancestry(show, name):
            if look.like is not None:
                yield look.like
