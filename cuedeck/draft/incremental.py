"""Edits of the show in memory: only what an edit touches is read again.

The invariant owned here: the result is the show that would be read from the changed file. Places and problems stay
those of the file as it was last read. The file itself is written and read elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from cuedeck.arrays import Values
from cuedeck.draft.nudges import looks_like
from cuedeck.errors import Refusal
from cuedeck.rig.looks import resolve_look
from cuedeck.rig.patch import Patch, build_patch
from cuedeck.show.camera import Context, context_of
from cuedeck.show.fixtures import Fixture, FixtureType
from cuedeck.show.load import message_of, show_of
from cuedeck.show.model import Cue, Look, Shot, Show
from cuedeck.show.source import Data
from cuedeck.show.yamltext.changes import Change, change_all
from cuedeck.timeline.opening import OpenedShow

Part = TypeVar("Part")
_READERS: Mapping[str, Callable[[Data], Any]] = {
    "types": FixtureType.model_validate,
    "rig": Fixture.model_validate,
    "groups": TypeAdapter(list[str]).validate_python,
    "looks": Look.model_validate,
}
"""How one entry of each section is read alone."""
_CUES = "cues"
_OF_PATCH = ("types", "rig", "slots", "cuedeck")


def changed(opened: OpenedShow, changes: Sequence[Change]) -> OpenedShow:
    """Return a show with changes made. Raises Refusal where a value cannot be read, and KeyError for a wrong path.

    What is tied together (a cue to its look) is not checked: the check of the whole show does that.
    """
    return read_as(opened, change_all(opened.source.data, changes))


def read_as(opened: OpenedShow, data: Data) -> OpenedShow:
    """Return the show read from other data, except for its moves. Raises Refusal where a value cannot be read."""
    assert isinstance(data, dict)  # noqa: S101 - for the type checker: a show is a mapping
    try:
        show = _read_again(opened.show, opened.source.data, data)
    except ValidationError as error:
        raise Refusal(message_of(error)) from error
    changed = _changed_sections(opened.source.data, data)
    patch = build_patch(show) if not changed.isdisjoint(_OF_PATCH) else opened.patch
    targets = _targets(opened, show, patch, changed)
    return replace(opened, show=show, source=replace(opened.source, data=data), patch=patch, targets=targets)


def _changed_sections(old: Mapping[str, Data], new: Mapping[str, Data]) -> set[str]:
    """Return the keys whose data is another object than before."""
    return {key for key in {*old, *new} if old.get(key) is not new.get(key)}


def _read_again(show: Show, old: Mapping[str, Data], new: Mapping[str, Data]) -> Show:
    """Return the show of new data; parts whose data is the same object as before are reused."""
    changed = _changed_sections(old, new)
    if any(key not in _READERS and key != "shots" for key in changed):
        return show_of(dict(new))
    sections: dict[str, Any] = {}
    context = context_of(show.camera)
    for key in changed:
        before: Mapping[str, Any] = getattr(show, key)
        read = _READERS.get(key)
        old_part, new_part = _mapping(old.get(key)), _mapping(new.get(key))
        if read is None:
            sections[key] = {
                name: _shot(before.get(name), old_part.get(name), part, context)
                for name, part in new_part.items()
                if name in before or part is not old_part.get(name)
            }
        else:
            sections[key] = {
                name: before[name] if name in before and part is old_part.get(name) else read(part)
                for name, part in new_part.items()
                if name in before or part is not old_part.get(name)  # what could not be read stays out
            }
    return show.model_copy(update=sections)


def _mapping(data: Data) -> Mapping[str, Data]:
    return data if isinstance(data, dict) else {}


def _shot(before: Shot | None, old: Data, new: Data, context: Context) -> Shot:
    if before is not None and new is old:
        return before
    old_items, new_items = _items(old), _items(new)
    if before is None or not isinstance(new, dict) or len(old_items) != len(before.cues):
        return Shot.model_validate(new, context=context)
    known = {id(item): cue for item, cue in zip(old_items, before.cues, strict=True)}
    cues = [known[id(item)] if id(item) in known else Cue.model_validate(item, context=context) for item in new_items]
    if _without_cues(old) != _without_cues(new):
        before = Shot.model_validate(_without_cues(new), context=context)
    return before.model_copy(update={_CUES: cues})


def _items(shot: Data) -> Sequence[Data]:
    cues = shot.get(_CUES) if isinstance(shot, dict) else None
    return cues if isinstance(cues, list) else []


def _without_cues(shot: Data) -> dict[str, Data]:
    return {key: part for key, part in _mapping(shot).items() if key != _CUES}


def _targets(opened: OpenedShow, show: Show, patch: Patch, changed: Iterable[str]) -> dict[str, Values]:
    """Return the targets of each look of a cue, worked out again only where they may have changed."""
    wanted = dict.fromkeys(cue.look for shot in show.shots.values() for cue in shot.cues)
    is_all_new = patch is not opened.patch or "groups" in changed
    before = opened.show.looks
    changed_looks = {name for name in {*before, *show.looks} if before.get(name) is not show.looks.get(name)}
    stale = set(looks_like(show, changed_looks))
    return {
        look: resolve_look(show, patch, look)
        if is_all_new or look in stale or look not in opened.targets
        else opened.targets[look]
        for look in wanted
    }
