"""Putting two changes of one file together: ours, which is not saved, and that of another program.

Both are taken as changes of the data from what both began with. Cues are known by their names, whatever their
place in the list. Where both changed the same value, or both added, removed or moved cues of one shot, there is
no telling who is right, and nothing is put together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from cuedeck.errors import Refusal
from cuedeck.show.changes import Append, Change, Insert, Remove, SetValue, is_same, value_at
from cuedeck.show.edit import apply_changes
from cuedeck.show.source import Data, Path, read_source

_CUES = "cues"
_NAME = "cue"


class Difference(NamedTuple):
    """A place that is another now."""

    path: Path
    value: Data
    """What stands there now."""
    is_gone: bool = False


class MergeRefused(Refusal):
    """Ours and theirs contradict each other. The message says where."""

    def __init__(self, paths: Sequence[Path]) -> None:
        self.paths = tuple(paths)
        places = ", ".join(place_in_words(path) for path in paths[:4]) + (", ..." if len(paths) > 4 else "")
        super().__init__(f"changed both here and by another program: {places}")


Preference = Literal["neither", "ours", "theirs"]
"""Who is right where both changed the same."""


def merged(file: str, base: bytes, ours: bytes, theirs: bytes, prefer: Preference = "neither") -> bytes:
    """Return their text with our changes made in it. Raises MergeRefused, EditRefused and ProblemsFound."""
    if theirs in (base, ours):
        return ours
    if ours == base:
        return theirs
    old, mine, other = (read_source(file, raw).data for raw in (base, ours, theirs))
    own, foreign = list(_differences(old, mine)), list(_differences(old, other))
    contested = [one.path for one in own if any(_clash(one, another) for another in foreign)]
    if contested and prefer == "neither":
        raise MergeRefused(contested)
    if prefer == "theirs":
        own = [one for one in own if one.path not in contested]
    return apply_changes(file, theirs, _changes(own, old, mine, other))


def place_in_words(path: Path) -> str:
    """Return a place of a show as a person says it: look edges, rim left; shot 1, cue 3, fade."""
    words = list(path)
    named = {"shots": "shot", "looks": "look", "groups": "group", "types": "type"}
    texts = [f"{named[str(words[0])]} {words[1]}", *map(str, words[2:])] if words[0] in named and len(words) > 1 else []
    return ", ".join(texts or map(str, words)).replace("cues, ", "cue ")


def _differences(old: Data, new: Data) -> Iterator[Difference]:
    """Yield the places that differ, cues by their names."""
    return _walk((), _by_name(old), _by_name(new))


def _by_name(data: Data) -> Data:
    """Return data in which the cues of each shot are a mapping by their names, and their order stands beside."""
    if not isinstance(data, dict) or not isinstance(data.get("shots"), dict):
        return data
    shots = {name: _shot_by_name(shot) for name, shot in data["shots"].items()}  # type: ignore[union-attr]
    return {**data, "shots": shots}


def _shot_by_name(shot: Data) -> Data:
    cues = shot.get(_CUES) if isinstance(shot, dict) else None
    if not isinstance(shot, dict) or not isinstance(cues, list):
        return shot
    names = [cue.get(_NAME) for cue in cues if isinstance(cue, dict)]
    if len(names) < len(cues) or len(set(map(str, names))) < len(names):
        return shot
    by_name: dict[str, Data] = {str(cue[_NAME]): cue for cue in cues if isinstance(cue, dict)}
    return {**shot, _CUES: by_name}


def _walk(path: Path, old: Data, new: Data) -> Iterator[Difference]:
    if is_same(old, new):
        return
    if not (isinstance(old, dict) and isinstance(new, dict)):
        yield Difference(path, new)
        return
    if _are_cues(path) and [key for key in old if key in new] != [key for key in new if key in old]:
        yield Difference(path, list(new.values()))  # cues that have changed places are another list
        return
    for key in {**old, **new}:
        if key not in new:
            yield Difference((*path, key), None, is_gone=True)
        elif key not in old:
            yield Difference((*path, key), new[key])
        else:
            yield from _walk((*path, key), old[key], new[key])


def _are_cues(path: Path) -> bool:
    return len(path) == 3 and path[0] == "shots" and path[2] == _CUES


def _clash(one: Difference, other: Difference) -> bool:
    """Whether two changes cannot both be made: one lies in the other, unless both say the same."""
    shared = min(len(one.path), len(other.path))
    if one.path[:shared] != other.path[:shared]:
        return False
    return not (one.path == other.path and one.is_gone == other.is_gone and is_same(one.value, other.value))


def _changes(own: Sequence[Difference], old: Data, mine: Data, other: Data) -> list[Change]:
    """Return our differences as changes of their data."""
    changes: list[Change] = []
    restructured: list[Path] = []
    for path, value, is_gone in own:
        shot = path[:2] if len(path) >= 4 and path[0] == "shots" and path[2] == _CUES else None
        if shot is None or not _is_list_of_cues(other, shot):
            changes.append(Remove(path) if is_gone else SetValue(path, value))
        elif len(path) == 4:
            if shot not in restructured:
                restructured.append(shot)
        else:
            index = _index(other, shot, str(path[3]))
            place: Path = (*shot, _CUES, index, *path[4:])
            changes.append(Remove(place) if is_gone else SetValue(place, value))
    for shot in restructured:
        changes += _restructured(shot, old, mine, other)
    return changes


def _restructured(shot: Path, old: Data, mine: Data, other: Data) -> Iterator[Change]:
    """Yield cues that we added and removed, where they did neither in this shot."""
    before, ours, theirs = (_cues_at(data, shot) for data in (old, mine, other))
    names = [str(cue[_NAME]) for cue in theirs]
    if names != [str(cue[_NAME]) for cue in before]:
        raise MergeRefused([(*shot, _CUES)])
    wanted = [str(cue[_NAME]) for cue in ours]
    for name in [name for name in names if name not in wanted]:
        yield Remove((*shot, _CUES, names.index(name)))
        names.remove(name)
    for index, cue in enumerate(ours):
        name = str(cue[_NAME])
        if name not in names:
            place = (*shot, _CUES, index)
            yield Append((*shot, _CUES), cue) if index >= len(names) else Insert(place, cue)
            names.insert(index, name)


def _is_list_of_cues(data: Data, shot: Path) -> bool:
    return isinstance(value_at(data, (*shot, _CUES)), list)


def _cues_at(data: Data, shot: Path) -> list[dict[str, Data]]:
    cues = value_at(data, (*shot, _CUES))
    return [cue for cue in cues if isinstance(cue, dict)] if isinstance(cues, list) else []


def _index(data: Data, shot: Path, name: str) -> int:
    names = [str(cue.get(_NAME)) for cue in _cues_at(data, shot)]
    if name not in names:
        raise MergeRefused([(*shot, _CUES, name)])
    return names.index(name)
