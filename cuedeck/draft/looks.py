"""Edits of looks: keeping what was nudged, and naming, copying and taking out looks."""

from __future__ import annotations

from collections.abc import Iterator

from cuedeck.draft.nudges import Nudges, Parts
from cuedeck.draft.settings import LEVEL, setting_text
from cuedeck.draft.steps import Edit
from cuedeck.errors import Refusal
from cuedeck.show.model import LIKE
from cuedeck.show.source import Data
from cuedeck.show.yamltext.changes import Change, Insert, Remove, Rename, SetValue, change_all, value_at
from cuedeck.timeline.opening import OpenedShow

LONGEST_NAME = 80


def where_used(opened: OpenedShow, look: str) -> list[tuple[str, str]]:
    return [(name, cue.cue) for name, shot in opened.show.shots.items() for cue in shot.cues if cue.look == look]


def keep_in_look(opened: OpenedShow, nudges: Nudges, look: str) -> Edit:
    """Return the edit that writes what is nudged in a look into it."""
    lights = nudges.of(look)
    changes = [change for light, parts in lights.items() for change in _changes(opened, look, light, parts)]
    said = ", ".join(f"{light} {setting_text(parts)}" for light, parts in list(lights.items())[:3])
    return Edit(f"keep {said}{' ...' if len(lights) > 3 else ''} in look {look}", tuple(changes))


def _changes(opened: OpenedShow, look: str, light: str, parts: Parts) -> Iterator[Change]:
    """Yield the smallest changes that make a look say something of a light."""
    path = ("looks", look, light)
    now = opened.source.node(path)
    if isinstance(now, dict):
        yield from (SetValue((*path, key), text) for key, text in parts.items())
    elif set(parts) == {LEVEL}:
        yield SetValue(path, parts[LEVEL])
    else:
        level: dict[str, Data] = {LEVEL: now} if isinstance(now, str) else {}
        yield SetValue(path, {**level, **parts})


def keep_in_new_look(opened: OpenedShow, nudges: Nudges, look: str, name: str, shot: str, cue: str) -> Edit:
    """Return the edit that makes a new look of one with what is nudged, and sends a cue, alone, to it."""
    data = opened.source.node(("looks",))
    looks: dict[str, Data] = data if isinstance(data, dict) else {}
    _require_new(opened, name)
    kept = change_all(opened.source.data, keep_in_look(opened, nudges, look).changes)
    value = value_at(kept, ("looks", look))
    index = next((at for at, one in enumerate(opened.show.shots[shot].cues) if one.cue == cue), None)
    if index is None:
        raise Refusal(f"shot {shot} has no cue {cue} any more")
    changes = (
        Insert(("looks", name), value, list(looks).index(look) + 1),
        SetValue(("shots", shot, "cues", index, "look"), name),
    )
    return Edit(f"new look {name} for cue {cue}", changes)


def new_look_name(opened: OpenedShow, look: str) -> str:
    """Return a name for a look that comes of another: its name with the next number that is free."""
    head, _, tail = look.rpartition(" ")
    stem = head if head and tail.isdigit() else look
    return next(name for number in range(2, 10**6) if (name := f"{stem} {number}") not in opened.show.looks)


def _require_new(opened: OpenedShow, name: str) -> None:
    if not name:
        raise Refusal("a look needs a name")
    if len(name) > LONGEST_NAME or not name.isprintable():
        raise Refusal(f"a name is at most {LONGEST_NAME} characters that print")
    if name in opened.show.looks:
        raise Refusal(f"there is a look '{name}' already: choose another name, or keep it in the look with k")


def rename(opened: OpenedShow, look: str, name: str) -> Edit:
    """Return the edit that gives a look another name, wherever it is used."""
    name = name.strip()
    _require_new(opened, name)
    changes: list[Change] = [Rename(("looks", look), name)]
    changes += [
        SetValue(("looks", name if other == look else other, LIKE), name)
        for other, one in opened.show.looks.items()
        if one.like == look
    ]
    changes += [
        SetValue(("shots", shot, "cues", at, "look"), name)
        for shot, one in opened.show.shots.items()
        for at, cue in enumerate(one.cues)
        if cue.look == look
    ]
    return Edit(f"look {look} is now {name}", tuple(changes))


def delete(opened: OpenedShow, look: str) -> Edit:
    """Return the edit that takes out a look that nothing uses. Raises Refusal."""
    used = [f"cue {cue} of shot {shot}" for shot, cue in where_used(opened, look)]
    used += [f"look {name}, which is like it" for name, one in opened.show.looks.items() if one.like == look]
    if used:
        raise Refusal(
            f"look {look} is used by {', '.join(used[:4])}: give {'it' if len(used) == 1 else 'them'} another"
        )
    return Edit(f"look {look} is out", (Remove(("looks", look)),))
