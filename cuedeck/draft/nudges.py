"""Nudges: changes to the light of a look that are not written into it yet.

A nudge belongs to a look and a light, and holds what would be written there. The invariant owned here: the light
with nudges is the light that the show has once they are kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

import numpy as np
from pydantic import ValidationError

from cuedeck.arrays import Values
from cuedeck.draft.settings import ColourStep, LevelStep, LightState, setting_text, stepped_parts, typed_parts
from cuedeck.errors import Refusal
from cuedeck.rig.looks import resolve_look, settings_in
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch
from cuedeck.rig.state import FixtureState
from cuedeck.show.model import Look, Setting, Show
from cuedeck.timeline.opening import OpenedShow
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timeline.timeline import Timeline

Key = tuple[str, str]
"""A look and a light."""
Parts = Mapping[str, str]
"""What is written of a light: its level, its colour and other channels, each by its key with its text."""


@dataclass(frozen=True)
class Nudges:
    """All that is nudged."""

    parts: Mapping[Key, Parts] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.parts)

    @property
    def looks(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(look for look, _ in self.parts))

    def of(self, look: str) -> dict[str, Parts]:
        return {light: parts for (where, light), parts in self.parts.items() if where == look}

    def text_of(self, look: str, light: str) -> str:
        return setting_text(self.parts.get((look, light), {}))

    def with_parts(self, look: str, light: str, parts: Parts) -> Nudges:
        """Return the nudges with a light nudged, or nudged further: parts that are not named stay."""
        key = (look, light)
        return replace(self, parts={**self.parts, key: {**self.parts.get(key, {}), **parts}})

    def without_look(self, look: str) -> Nudges:
        return Nudges({key: parts for key, parts in self.parts.items() if key[0] != look})

    def plain(self) -> list[list[Any]]:
        return [[look, light, dict(parts)] for (look, light), parts in self.parts.items()]

    @classmethod
    def of_plain(cls, data: Any) -> Nudges:
        """Return what plain data stands for; what is no nudge is left out."""
        rows = data if isinstance(data, list) else []
        return cls({(row[0], row[1]): dict(row[2]) for row in rows if _is_row(row)})

    def renamed(self, look: str, name: str) -> Nudges:
        return Nudges(
            {(name if where == look else where, light): parts for (where, light), parts in self.parts.items()}
        )


def _is_row(row: Any) -> bool:
    if not (isinstance(row, list) and len(row) == 3 and isinstance(row[2], dict)):
        return False
    if not all(isinstance(text, str) for text in (*row[:2], *row[2], *row[2].values())):
        return False
    try:
        Setting.model_validate(row[2])
    except ValidationError:
        return False
    return True


def nudged_show(show: Show, nudges: Nudges) -> Show:
    nudged = {look: _nudged_look(show.looks[look], nudges.of(look)) for look in nudges.looks if look in show.looks}
    return show.model_copy(update={"looks": {**show.looks, **nudged}})


def _nudged_look(look: Look, lights: Mapping[str, Parts]) -> Look:
    fixtures = dict(look.fixtures)
    for light, parts in lights.items():
        new = Setting.model_validate(dict(parts))
        fixtures[light] = combined(fixtures.get(light), new)
    return look.model_copy(update={"fixtures": fixtures})


def combined(setting: Setting | None, over: Setting) -> Setting:
    """Return a setting overridden by another."""
    if setting is None:
        return over
    return setting.model_copy(
        update={
            "level": setting.level if over.level is None else over.level,
            "colour": setting.colour if over.colour is None else over.colour,
            "channels": {**setting.channels, **over.channels},
        }
    )


def nudged_targets(show: Show, patch: Patch, targets: Mapping[str, Values], nudges: Nudges) -> dict[str, Values]:
    """Return the targets of looks with the nudges in them; those without nudges keep their arrays."""
    other = nudged_show(show, nudges)
    touched = set(looks_like(show, nudges.looks))
    return {look: resolve_look(other, patch, look) if look in touched else values for look, values in targets.items()}


def looks_like(show: Show, names: Iterable[str]) -> Iterator[str]:
    """Yield looks, and those that are like them, directly or through others."""
    found = set(names)
    yield from found
    added = found
    while added:
        added = {name for name, look in show.looks.items() if look.like in added} - found
        found |= added
        yield from added


def only_lit(patch: Patch, levels: Values, names: Iterable[str]) -> Values:
    """Return levels, shape (n, parameters), with every light out but those named."""
    alone = set(names)
    others = [fixture.columns["intensity"] for fixture in patch.lights if fixture.name not in alone]
    lit = levels.copy()
    lit[:, others] = 0.0
    return lit


def found_levels(patch: Patch, name: str) -> Values:
    """Return levels, shape (parameters,), with one light full and in its own white, and all others out."""
    levels = patch.defaults
    for fixture in patch.lights:
        levels[fixture.columns["intensity"]] = 1.0 if fixture.name == name else 0.0
        if fixture.name == name and not fixture.has_own_dimmer:
            levels[[fixture.columns[emitter] for emitter in fixture.emitters]] = 1.0
    return levels


def cue_of_light(plan: ShotPlan, timeline: Timeline, light: str, at_s: Fraction) -> tuple[str, str] | None:
    """Return the cue that moved a light last at a time, and its look; None where none has."""
    fixture = next((one for one in plan.patch.lights if one.name == light), None)
    columns = [] if fixture is None else list(fixture.columns.values())
    for cue in reversed(timeline.cues):
        target = plan.targets.get(cue.look)
        if cue.start_s <= at_s and target is not None and not np.isnan(target[columns]).all():
            return cue.name, cue.look
    return None


def light_states(states: Sequence[FixtureState]) -> dict[str, LightState]:
    """Return the output of lights by name: a step begins there where no look sets the light."""
    return {state.name: LightState(state.level, state.kelvin) for state in states}


def nudge_by_step(
    opened: OpenedShow,
    nudges: Nudges,
    look: str,
    lights: Sequence[str],
    step: LevelStep | ColourStep,
    states: Mapping[str, LightState],
) -> Nudges:
    """Return nudges with some lights moved by a step in a look. Raises Refusal where none of them can be moved."""
    show = nudged_show(opened.show, nudges)

    def parts_of(fixture: PatchedFixture) -> dict[str, str]:
        return stepped_parts(fixture, list(settings_in(show, look, fixture)), step, states[fixture.name])

    return _nudge_each(opened.patch, nudges, look, lights, parts_of)


def nudge_as_typed(opened: OpenedShow, nudges: Nudges, look: str, lights: Sequence[str], text: str) -> Nudges:
    """Return nudges with lights set to what was typed, where they can take it. Raises Refusal where none can."""
    return _nudge_each(opened.patch, nudges, look, lights, lambda fixture: typed_parts(fixture, text))


def _nudge_each(
    patch: Patch, nudges: Nudges, look: str, lights: Sequence[str], parts_of: Callable[[PatchedFixture], dict[str, str]]
) -> Nudges:
    """Nudge each light that can be nudged; where none can, raise the refusal of the last."""
    refused: Refusal | None = None
    moved = nudges
    for fixture in (one for one in patch.fixtures if one.name in lights):
        try:
            parts = parts_of(fixture)
        except Refusal as error:
            refused = error
        else:
            moved = moved.with_parts(look, fixture.name, parts)
    if moved is nudges and refused is not None:
        raise refused
    return moved
