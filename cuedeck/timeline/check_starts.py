"""What is said about the starts of cues: those that never come, and those that noise decides."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from cuedeck.show.model import LIVE, Cue, MoveKeys
from cuedeck.show.problems import Place, Problem, Severity, choice_of
from cuedeck.show.source import Path, Source
from cuedeck.show.triggers import AfterCue, AtPosition, AtShare, AtTimecode, ByOperator
from cuedeck.show.units import Angle, Length, UnitError
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timing.moves import Axis, Move
from cuedeck.timing.survey import passes_close_together, usual_step_s

FARTHEST_WITHOUT_START_S = 3600
"""A timecode so far into a shot that starts at none is rather one of a picture that starts later than 0."""


def check_starts(source: Source, plan: ShotPlan, paths: Mapping[str, Path], has_broken_move: bool) -> Iterator[Problem]:
    """Yield the problems with the starts of a shot's cues; those of a move that could not be read are left out."""
    has_start = True
    try:
        _ = plan.labels.first
    except UnitError as error:
        has_start = False
        yield Problem(source.place_of_value(("shots", plan.name, "starts at")), error.what, error.cure)
    unfired = _unfired(plan)
    for cue in plan.shot.cues:
        place = source.place_of_value((*paths.get(cue.cue, ("shots", plan.name)), "at"))
        match cue.trigger:
            case AtTimecode(label) if has_start:
                yield from _timecode(plan, cue, label, place)
            case AtShare() | AtPosition() as trigger if not has_broken_move:
                yield from _on_move(plan, cue, trigger, place)
            case AfterCue(other) if other in unfired and not cue.skip:
                what = (
                    f"cue {cue.cue} never happens: cue {other}, which it waits for, is left out and is fired by nobody"
                )
                yield Problem(
                    place, what, f"take cue {other} in again, or give cue {cue.cue} another start", Severity.WARNING
                )


def _unfired(plan: ShotPlan) -> set[str]:
    """Return the cues that are left out and have no time of their own, since somebody would have had to fire them."""
    fired = (ByOperator, AtPosition) if plan.shot.move == LIVE else (ByOperator,)
    skipped = [cue for cue in plan.shot.cues if cue.skip]
    found = {cue.cue for cue in skipped if isinstance(cue.trigger, fired)}
    for _ in skipped:
        found |= {cue.cue for cue in skipped if isinstance(cue.trigger, AfterCue) and cue.trigger.cue in found}
    return found


def _timecode(plan: ShotPlan, cue: Cue, label: str, place: Place) -> Iterator[Problem]:
    try:
        frame = plan.labels.frame_of(label)
    except UnitError as error:
        yield Problem(place, f"cue {cue.cue} never happens: {error.what}", error.cure)
        return
    if plan.shot.starts_at is None and frame / plan.show.camera.fps >= FARTHEST_WITHOUT_START_S:
        what = f"cue {cue.cue} starts an hour or more into shot {plan.name}, which starts at no timecode of its own"
        cure = f"say which timecode its first frame has: 'starts at: {label[:-9]}:00:00:00'"
        yield Problem(place, what, cure, Severity.WARNING)


def _on_move(plan: ShotPlan, cue: Cue, trigger: AtShare | AtPosition, place: Place) -> Iterator[Problem]:
    move = plan.move
    if plan.shot.move == LIVE:
        if isinstance(trigger, AtShare):
            what = f"cue {cue.cue} never happens: how long a live move takes, nobody knows before"
            yield Problem(place, what, "write a position such as 'at: slide 60 mm', or a time such as 'at: 2 s'")
    elif move is None:
        what = f"cue {cue.cue} never happens: shot {plan.name} has no move"
        cure = "add 'move: moves/FILE.csv' to the shot, or 'move: live' if the rig tells; or write 'at: 2 s'"
        yield Problem(place, what, cure)
    elif isinstance(trigger, AtPosition):
        wrong = [found for axis, at in trigger.places if (found := _wrong_axis(move, axis, at)) is not None]
        yield from (Problem(place, f"cue {cue.cue} never happens: {what}", cure) for what, cure in wrong)
        if not wrong:
            yield from _passes(plan, move, cue, trigger, place)


def _wrong_axis(move: Move, name: str, position: Length | Angle) -> tuple[str, str] | None:
    axis = move.axes.get(name)
    if axis is None:
        return f"the move has no axis '{name}'", choice_of(name, move.axes)
    if type(position) is not axis.kind:
        middle = f"{float(axis.positions.mean()):.0f} {axis.unit}"
        return f"axis '{name}' is counted in {axis.unit}", f"write a position such as {name} {middle}"
    return None


def _passes(plan: ShotPlan, move: Move, cue: Cue, trigger: AtPosition, place: Place) -> Iterator[Problem]:
    axis, position = move.axes[trigger.axis], float(trigger.position)
    passes_s = list(move.passes(axis.name, position, trigger.direction, trigger.while_))
    if len(passes_s) < trigger.crossing:
        yield Problem(place, *_never(move, axis, cue, trigger))
        return
    if plan.shot.move is None or isinstance(plan.shot.move, MoveKeys):
        return
    close = passes_close_together(axis, passes_s, trigger.crossing)
    if close is not None:
        apart_s = close[1] - close[0]
        samples = max(round(apart_s / usual_step_s(axis.times_s)), 1)
        what = (
            f"cue {cue.cue}: the axis passes '{replace(trigger, crossing=1)}' at {close[0]:.3f} s and again"
            f" {apart_s:.3g} s later, {samples} of its samples: noise decides which pass counts"
        )
        cure = f"choose a position where {axis.name} moves faster, or smooth the recording"
        yield Problem(place, what, cure, Severity.WARNING)


def _never(move: Move, axis: Axis, cue: Cue, trigger: AtPosition) -> tuple[str, str]:
    what = f"cue {cue.cue} never happens: the axis does not pass '{trigger}'"
    passes_s = list(axis.passes(float(trigger.position)))
    if not passes_s:
        return what, f"write a position within its travel, {axis.reach()}"
    times = "once" if len(passes_s) == 1 else f"{len(passes_s)} times"
    if trigger.while_ is None:
        return what, f"it passes {trigger.position} {times}: write '{axis.name} {trigger.position}'"
    other = move.axes[trigger.while_.axis]
    first = float(other.at(np.array(passes_s[:1]))[0])
    where = f"{other.name} is at {first:.4g} {other.unit} at the first" if len(passes_s) > 1 else ""
    where = where or f"{other.name} is at {first:.4g} {other.unit} then"
    return what, f"it passes {trigger.position} {times}, and {where}: ask for another limit"
