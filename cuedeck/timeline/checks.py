"""Checks of moves, rates and starts of cues.

The limits of a move are common practice, no source: generous for a table-top slide, a turntable and a fast arm
alike. A move outside them most often has its unit mistaken for another.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from math import ceil

import numpy as np

from cuedeck.rig.patch import Patch
from cuedeck.show.frame_rates import TimecodeRate
from cuedeck.show.load import LoadedShow
from cuedeck.show.model import LIVE, Cue, MoveKeys
from cuedeck.show.problems import Place, Problem, Severity, choice_of
from cuedeck.show.source import Path, Source
from cuedeck.show.triggers import AfterCue, AtPosition, AtShare, AtTimecode, ByOperator
from cuedeck.show.units import FEWEST_SLOTS, FULL_UNIVERSE, Angle, Frequency, Length, UnitError, print_number
from cuedeck.timeline.plan import ShotPlan, refresh_of
from cuedeck.timing.line import LOWEST_REFRESH_HZ, allowed_refresh_hz, highest_refresh_hz, most_slots_at
from cuedeck.timing.moves import Axis, Move
from cuedeck.timing.survey import fastest, passes_close_together, usual_step_s

FASTEST = {"mm": 10_000.0, "deg": 7_200.0}
"""Per second: 10 m, 20 turns."""
FARTHEST = {"mm": 100_000.0, "deg": 360_000.0}
"""From zero: 100 m, 1,000 turns."""
LOWEST_RATE_HZ = 2.0
HIGHEST_RATE_HZ = 10_000.0
LONGEST_S = 3600.0
FEWEST_SAMPLES, LONGEST_BY_HAND_S = 50, 600.0
"""A table of fewer lines, in less time, may have been written by hand."""

_TIME_CURE = "look at its column of time: where that counts milliseconds call it 'time ms', where frames, 'frame'"


def check_moves(loaded: LoadedShow, moves: Mapping[str, Move]) -> Iterator[Problem]:
    """Yield a warning for each shot whose move is slower, faster, longer or farther than rigs are."""
    for shot, move in moves.items():
        place = loaded.source.place_of_value(("shots", shot, "move"))
        is_recorded = not isinstance(loaded.show.shots[shot].move, MoveKeys)
        for what, cure in _oddities(move, is_recorded=is_recorded):
            yield Problem(place, f"the move of shot {shot} {what}", cure, Severity.WARNING)


def _oddities(move: Move, *, is_recorded: bool) -> Iterator[tuple[str, str]]:
    """Yield what is odd about a move, and what to look at; what follows from odd times is not told again."""
    times_s = next(iter(move.axes.values())).times_s
    rate_hz = 1 / usual_step_s(times_s)
    is_by_hand = len(times_s) < FEWEST_SAMPLES and move.duration_s < LONGEST_BY_HAND_S
    lasts = f"lasts {float(move.duration_s):,.6g} s"
    if is_recorded and rate_hz < LOWEST_RATE_HZ and not is_by_hand:
        yield f"{lasts} with {rate_hz:.3g} positions a second, which is no recording of a rig", _TIME_CURE
    elif is_recorded and rate_hz > HIGHEST_RATE_HZ:
        cure = "look at its column of time: where that counts seconds call it 'time s', where frames, 'frame'"
        yield f"{lasts} with {rate_hz:,.6g} positions a second, which is no recording of a rig", cure
    else:
        if move.duration_s > LONGEST_S:
            cure = _TIME_CURE if is_recorded else "look at the times of its keys: 2 s, 500 ms, 1.5 min, 40 frames"
            yield f"{lasts}, more than an hour", cure
        for axis in move.axes.values():
            yield from _of_axis(axis, is_recorded=is_recorded)


def _of_axis(axis: Axis, *, is_recorded: bool) -> Iterator[tuple[str, str]]:
    unit, peak = axis.unit, fastest(axis)
    others = "'mm', 'cm' or 'm'" if unit == "mm" else "'deg'"
    where = f"the unit of its column '{axis.name}', {others}" if is_recorded else f"its keys of '{axis.name}'"
    farthest = float(abs(axis.positions).max())
    if farthest > FARTHEST[unit]:
        yield f"goes to {axis.name} {farthest:,.6g} {unit}, farther than any rig", f"look at {where}"
    elif peak.value > FASTEST[unit]:
        what = f"reaches {peak.value:,.6g} {unit}/s on {axis.name} at {peak.time_s:.4g} s, faster than any rig"
        yield what, f"look at what stands there, and at {where}"


MOST_EXACT = 10**9
"""Largest numerator and denominator of a refresh: a day of packet times still fits 64-bit whole numbers."""


def check_rates(loaded: LoadedShow, patch: Patch) -> list[Problem]:
    """Return the problems with the refresh and with the rate of the timecode."""
    return [*_refresh(loaded, patch), *_timecode_of_camera(loaded)]


def _refresh(loaded: LoadedShow, patch: Patch) -> Iterator[Problem]:
    written, place = loaded.show.refresh, loaded.source.place_of_value(("refresh",))
    slots, refresh_hz = patch.slots_sent, refresh_of(loaded.show, patch)
    highest, allowed = highest_refresh_hz(slots), allowed_refresh_hz(slots)
    if max(refresh_hz.as_integer_ratio()) > MOST_EXACT:
        shown = f"{print_number(refresh_hz)} Hz"
        yield Problem(
            place, f"{shown} is more exact than a clock can keep", "write it with fewer digits, such as 40 Hz"
        )
    elif isinstance(written, Frequency) and not LOWEST_REFRESH_HZ <= refresh_hz <= allowed:
        yield Problem(
            place,
            f"{written} is outside what ANSI E1.11 allows for {slots} slots",
            f"write {Frequency.of(LOWEST_REFRESH_HZ)} to {Frequency.of(highest)}, or send fewer slots with 'slots:'",
        )
    elif isinstance(written, Frequency) and refresh_hz > highest:
        yield Problem(
            place,
            f"a serial line with its breaks reaches {highest} Hz for {slots} slots, and misses packets at {written}",
            f"write 'refresh: {highest} Hz', or send fewer slots with 'slots:'",
            Severity.WARNING,
        )
    elif written is not None and refresh_hz < loaded.show.camera.fps_on_set and not isinstance(written, Frequency):
        yield _slower_than_camera(loaded, slots, refresh_hz)


def _slower_than_camera(loaded: LoadedShow, slots: int, refresh_hz: Fraction) -> Problem:
    fps, highest = loaded.show.camera.fps_on_set, highest_refresh_hz(slots)
    enough = most_slots_at(fps, FULL_UNIVERSE, FEWEST_SLOTS)
    what = (
        f"the camera takes {_rate(fps)} frames a second, and a line carries {highest} packets a second of"
        f" {slots} slots: one packet goes out every {ceil(fps / highest)} frames, at {_rate(refresh_hz)} Hz"
    )
    cure = f"send at most {enough} slots for a packet to each frame: 'slots: {enough}'"
    if enough is None:
        cure = f"no number of slots is fast enough; write 'refresh: {highest} Hz' where frames may see uneven numbers"
    return Problem(loaded.source.place_of_value(("refresh",)), what, cure, Severity.WARNING)


def _rate(rate: Fraction) -> str:
    return f"{float(rate):.6g}"


def _timecode_of_camera(loaded: LoadedShow) -> Iterator[Problem]:
    camera = loaded.show.camera
    rate = camera.timecode
    if rate is None or rate.frames_per_second == camera.fps:
        return
    own = TimecodeRate.counting(camera.fps)
    yield Problem(
        loaded.source.place_of_value(("camera", "timecode")),
        f"timecode {rate} does not count the frames of a camera at {own} frames a second",
        f"write 'fps: {str(rate).removesuffix('df')}'" + (f", or 'timecode: {own}'" if own.is_standard else ""),
    )


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
                yield from _timecode_of_cue(plan, cue, label, place)
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


def _timecode_of_cue(plan: ShotPlan, cue: Cue, label: str, place: Place) -> Iterator[Problem]:
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
