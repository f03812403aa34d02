"""Nudging lights in a look: by steps, each relative to itself, or to what is typed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from cuedeck.draft.nudges import Nudges, nudged_show
from cuedeck.draft.settings import ColourStep, LevelStep, StageState, stepped_parts, typed_parts
from cuedeck.errors import Refusal
from cuedeck.rig.looks import settings_in
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch
from cuedeck.rig.state import FixtureState
from cuedeck.timeline.opening import OpenedShow

__all__ = ["ColourStep", "LevelStep", "StageState", "standing_of", "stepped", "typed"]


def standing_of(states: Sequence[FixtureState]) -> dict[str, StageState]:
    """Return what lights do on stage, as steps begin from it where no look says anything."""
    return {state.name: StageState(state.level, state.kelvin) for state in states}


def stepped(
    opened: OpenedShow,
    nudges: Nudges,
    look: str,
    lights: Sequence[str],
    step: LevelStep | ColourStep,
    standing: Mapping[str, StageState],
) -> Nudges:
    """Return nudges with each of some lights moved by a step in a look. Raises Refusal where none can be moved."""
    show = nudged_show(opened.show, nudges)

    def parts_of(fixture: PatchedFixture) -> dict[str, str]:
        return stepped_parts(fixture, list(settings_in(show, look, fixture)), step, standing[fixture.name])

    return _each(opened.patch, nudges, look, lights, parts_of)


def typed(opened: OpenedShow, nudges: Nudges, look: str, lights: Sequence[str], text: str) -> Nudges:
    """Return nudges with those of some lights set that can take what was typed. Raises Refusal where none can."""
    return _each(opened.patch, nudges, look, lights, lambda fixture: typed_parts(fixture, text))


def _each(
    patch: Patch, nudges: Nudges, look: str, lights: Sequence[str], parts_of: Callable[[PatchedFixture], dict[str, str]]
) -> Nudges:
    """Return nudges with each light nudged that can be; raises what the last of them refused where none can."""
    refused: Refusal | None = None
    moved = nudges
    for fixture in _fixtures(patch, lights):
        try:
            parts = parts_of(fixture)
        except Refusal as error:
            refused = error
        else:
            moved = moved.with_parts(look, fixture.name, parts)
    if moved is nudges and refused is not None:
        raise refused
    return moved


def _fixtures(patch: Patch, lights: Sequence[str]) -> Iterator[PatchedFixture]:
    return (fixture for fixture in patch.fixtures if fixture.name in lights)
