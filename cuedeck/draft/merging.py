"""Merging two changes of one file: ours, which is not saved, and that of another program.

Both are taken as changes of the data from what both began with. Cues are known by their names, whatever their
place in the list: where one side moved them, values that the other changed go along. Where both changed the same
value, or both added, removed or moved cues of one shot, there is no telling who is right, and nothing is put
together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from typing import Literal, NamedTuple

from cuedeck.errors import Refusal
from cuedeck.show.source import Data, Path, read_source
from cuedeck.show.yamltext.changes import Append, Change, Insert, Remove, SetValue, change_all, is_same, value_at
from cuedeck.show.yamltext.edit import apply_changes

_CUES = "cues"
_NAME = "cue"
_ORDER = 0
"""Stands in a path for which cues there are, in which order: no name of a cue is a number."""


class Difference(NamedTuple):
    """A place where something has changed."""

    path: Path
    value: Data
    """The new value."""
    is_gone: bool = False


class MergeRefused(Refusal):
    """Ours and theirs contradict each other. The message says where."""

    def __init__(self, paths: Sequence[Path]) -> None:
        self.paths = tuple(paths)
        places = ", ".join(place_in_words(path) for path in paths[:4]) + (", ..." if len(paths) > 4 else "")
        super().__init__(f"changed both here and by another program: {places}")


Preference = Literal["neither", "ours", "theirs"]
"""Which side wins where both changed the same."""


def merged(file: str, base: bytes, ours: bytes, theirs: bytes, prefer: Preference = "neither") -> bytes:
    """Return their text with our changes made in it. Raises MergeRefused, EditRefused and ProblemsFound."""
    if theirs in (base, ours):
        return ours
    if ours == base:
        return theirs
    old, mine, other = (read_source(file, raw).data for raw in (base, ours, theirs))
    own, foreign = (list(_differences((), _by_name(old), _by_name(new))) for new in (mine, other))
    contested = [one.path for one in own if any(_clash(one, another) for another in foreign)]
    if contested and prefer == "neither":
        raise MergeRefused(contested)
    if prefer == "theirs":
        own = [one for one in own if one.path not in contested and not _is_of_order(one.path, contested)]
    return apply_changes(file, theirs, _changes(own, old, mine, other))


def _is_of_order(path: Path, contested: Sequence[Path]) -> bool:
    """Whether a cue was added or taken out where the order of the cues is contested."""
    return len(path) == 4 and _are_cues(path[:3]) and (*path[:3], _ORDER) in contested


def place_in_words(path: Path) -> str:
    """Return a place of a show as a person says it: look edges, rim left; shot 1, cue 3, fade."""
    words = [step for step in path if step is not _ORDER]
    named = {"shots": "shot", "looks": "look", "groups": "group", "types": "type"}
    texts = [f"{named[str(words[0])]} {words[1]}", *map(str, words[2:])] if words[0] in named and len(words) > 1 else []
    return ", ".join(texts or map(str, words)).replace("cues, ", "cue ")


def _by_name(data: Data) -> Data:
    """Return data with the cues of each shot as a mapping by name."""
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


def _differences(path: Path, old: Data, new: Data) -> Iterator[Difference]:
    if is_same(old, new):
        return
    if not (isinstance(old, dict) and isinstance(new, dict)):
        yield Difference(path, new)
        return
    if _are_cues(path) and list(old) != list(new):
        yield Difference((*path, _ORDER), list(new))
    for key in {**old, **new}:
        if key not in new:
            yield Difference((*path, key), None, is_gone=True)
        elif key not in old:
            yield Difference((*path, key), new[key])
        else:
            yield from _differences((*path, key), old[key], new[key])


def _are_cues(path: Path) -> bool:
    return len(path) == 3 and path[0] == "shots" and path[2] == _CUES


def _clash(one: Difference, other: Difference) -> bool:
    """Whether two changes cannot both be made: one lies in the other, unless both say the same."""
    shared = min(len(one.path), len(other.path))
    if one.path[:shared] != other.path[:shared]:
        return False
    return not (one.path == other.path and one.is_gone == other.is_gone and is_same(one.value, other.value))


def _changes(own: Sequence[Difference], old: Data, mine: Data, other: Data) -> list[Change]:
    changes: list[Change] = []
    reordered: dict[Path, list[Difference]] = {}
    for one in own:
        path, value, is_gone = one
        shot = path[:2] if len(path) >= 4 and _are_cues(path[:3]) and _is_list_of_cues(other, path[:2]) else None
        names = _names_at(other, shot) if shot else []
        if shot and (len(path) == 4 or path[3] not in names):
            reordered.setdefault(shot, []).append(one)
            continue
        place = (*path[:3], names.index(str(path[3])), *path[4:]) if shot else path
        changes.append(Remove(place) if is_gone else SetValue(place, value))
    other = change_all(other, changes)
    for shot, differences in reordered.items():
        changes += _reordered(shot, differences, old, mine, other)
    return changes


def _reordered(shot: Path, own: Sequence[Difference], old: Data, mine: Data, other: Data) -> Iterator[Change]:
    """Yield the changes that turn their cues into the merged ones, in order; moved cues keep their values."""
    names = _names_at(other, shot)
    wanted = _wanted(own, _names_at(old, shot), _names_at(mine, shot), names)
    cues = {str(cue[_NAME]): cue for data in (mine, other) for cue in _cues_at(data, shot)}
    where = (*shot, _CUES)
    for _, begin, end, wanted_begin, wanted_end in reversed(SequenceMatcher(None, names, wanted).get_opcodes()):
        if names[begin:end] == wanted[wanted_begin:wanted_end]:
            continue
        for index, name in enumerate(wanted[wanted_begin:wanted_end], end):
            yield Append(where, cues[name]) if index >= len(names) else Insert((*where, index), cues[name])
            names.insert(index, name)
        for index in reversed(range(begin, end)):
            yield Remove((*where, index))
            del names[index]


def _wanted(own: Sequence[Difference], before: Sequence[str], ours: Sequence[str], theirs: Sequence[str]) -> list[str]:
    """Return the names of the merged cues, in our order if we changed the order."""
    gone = {one.path[3] for one in own if one.is_gone and len(one.path) == 4}
    touched = {one.path[3] for one in own} - gone
    is_ours = _ORDER in touched
    there = {name for name in theirs if name not in gone}
    there |= {name for name in ours if name in touched or (is_ours and name in before)}
    first, second = (ours, theirs) if is_ours else (theirs, ours)
    wanted = [name for name in first if name in there]
    for index, name in enumerate(second):
        if name in there and name not in wanted:
            earlier = [one for one in second[:index] if one in wanted]
            wanted.insert(wanted.index(earlier[-1]) + 1 if earlier else 0, name)
    return wanted


def _is_list_of_cues(data: Data, shot: Path) -> bool:
    return isinstance(value_at(data, (*shot, _CUES)), list)


def _cues_at(data: Data, shot: Path) -> list[dict[str, Data]]:
    cues = value_at(data, (*shot, _CUES))
    return [cue for cue in cues if isinstance(cue, dict)] if isinstance(cues, list) else []


def _names_at(data: Data, shot: Path) -> list[str]:
    return [str(cue.get(_NAME)) for cue in _cues_at(data, shot)]
