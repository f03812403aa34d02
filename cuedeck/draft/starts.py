"""The start of a cue, moved in time and written in its own terms: a place of an axis stays a place of that axis.

The invariant owned here: a cue that is moved to a camera frame starts in that frame. `place_s` reads a place that a
person typed to go there; a place that the shot does not have is refused with its range.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from math import ceil, floor

import numpy as np

from cuedeck.errors import Refusal
from cuedeck.show.camera import Camera, context_of, parse_time_in_shot
from cuedeck.show.model import Cue
from cuedeck.show.triggers import (
    AfterCue,
    AtFrame,
    AtPosition,
    AtShare,
    AtTime,
    AtTimecode,
    ByOperator,
    Direction,
    StartTrigger,
    parse_trigger,
)
from cuedeck.show.units import Duration, Percent, UnitError, plain, print_number
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timing.labels import frame_at, frame_count
from cuedeck.timing.moves import Axis

STARTS = ("at", "after", "with", "wait")
"""The keys of a cue that say when it starts."""
MOST_DIGITS = 4
_MS = Fraction(1, 1000)
_APART = r"(?P<cue>.+?)(?:\s*[;+]\s*|,\s+|\s+)(?:(?:and|then|plus)\s+)?"
_WITH_WAIT = re.compile(r"(?P<cue>.+?)(?:\s*[,;+]\s*|\s+)(?:(?:and|then)\s+)?waits?:?\s+(?P<wait>.+)")
_WITH_TIME = re.compile(rf"{_APART}(?P<wait>[+-]?\.?\d\S*\s+[^\W\d]+|[+-]?[\d.]+(?:s|ms|f))")

Start = dict[str, str]
"""What is written of a start, by key; the keys that are not named are not written."""


def start_keys(trigger: StartTrigger | AfterCue) -> Start:
    """Return a start as it is written."""
    if not isinstance(trigger, AfterCue):
        return {"at": str(trigger)}
    keys = {"with" if trigger.from_start else "after": trigger.cue}
    return {**keys, "wait": str(trigger.wait)} if trigger.wait.base else keys


def moved_start(plan: ShotPlan, cue: Cue, frame: int) -> Start:
    """Return the start of a cue that is moved to a camera frame, the first being 0. Raises Refusal."""
    if frame < 0:
        raise Refusal(f"cue {cue.cue} cannot start before the shot does: → moves it later")
    at_s = frame / plan.fps_on_set
    match cue.trigger:
        case ByOperator():
            raise Refusal(
                f"cue {cue.cue} waits for the operator: enter on 'starts' types a time or a place for it to have one"
            )
        case AfterCue() as after:
            return _moved_after(plan, cue, after, at_s)
        case AtTime(time):
            return {"at": _duration_text(at_s * plan.speed, time.unit)}
        case AtFrame():
            return {"at": str(AtFrame(frame))}
        case AtTimecode():
            return {"at": _checked_label(plan, frame)}
        case AtShare():
            return {"at": _share(plan, cue, frame)}
        case AtPosition() as place:
            return {"at": _place(plan, cue, place, frame)}


def _duration_text(base_s: Fraction, unit: str) -> str:
    """Return a time to the next millisecond, in a unit, as a person writes it."""
    whole_ms = ceil(base_s / _MS) * _MS
    return str(Duration(whole_ms * 1000, "ms")) if unit == "ms" else str(Duration(whole_ms, "s"))


def _moved_after(plan: ShotPlan, cue: Cue, trigger: AfterCue, at_s: Fraction) -> Start:
    without = replace(trigger, wait=Duration.of(0))
    base_s = start_of(plan, cue, without)
    other = f"cue {trigger.cue} {'starts' if trigger.from_start else 'has ended'}"
    if base_s is None:
        raise Refusal(
            f"cue {cue.cue} starts once {other}, and that waits for the operator: enter on 'starts' types another start"
        )
    if at_s < base_s and frame_at(at_s, plan.fps_on_set) < frame_at(base_s, plan.fps_on_set):
        if trigger.wait.base == 0:
            raise Refusal(
                f"cue {cue.cue} starts once {other}: for an earlier one, enter on 'starts' types a time or a place"
            )
        return start_keys(without)
    wait = (at_s - base_s) * plan.speed
    text = _duration_text(max(wait, Fraction(0)), trigger.wait.unit)
    return start_keys(replace(trigger, wait=Duration.parse(text)))


def start_of(plan: ShotPlan, cue: Cue, trigger: StartTrigger | AfterCue) -> Fraction | None:
    """Return when a cue would start with another trigger, in seconds on set; None where it would not."""
    if not isinstance(trigger, AfterCue):
        return plan.start_of(trigger)
    before_s = plan.start_times().get(trigger.cue)
    other = next((one for one in plan.shot.cues if one.cue == trigger.cue), None)
    if before_s is None or other is None or other is cue:
        return None
    return before_s + plan.delay_s(trigger, other)


def _checked_label(plan: ShotPlan, frame: int) -> str:
    label = plan.labels.timecode(frame)
    try:
        is_right = plan.labels.frame_of(label) == frame
    except UnitError as error:
        raise Refusal(f"{error.what}: {error.cure}") from error
    if not is_right:
        raise Refusal(f"no timecode of this shot stands for frame {frame}: enter on 'starts' types '{frame} frames'")
    return label


def _share(plan: ShotPlan, cue: Cue, frame: int) -> str:
    move = plan.move
    if move is None or not move.duration_s:
        raise Refusal(
            f"cue {cue.cue} starts at a share of a move, and shot {plan.name} has none: enter on 'starts' types a time"
        )
    wanted = (frame + Fraction(1, 2)) / plan.fps_on_set / move.duration_s * 100
    for digits in range(MOST_DIGITS + 1):
        share = Fraction(round(wanted * 10**digits), 10**digits)
        if 0 <= share <= 100 and frame_at(share / 100 * move.duration_s, plan.fps_on_set) == frame:
            return str(AtShare(Percent(share, "%")))
    raise Refusal(
        f"frame {frame} is past the end of the move: enter on 'starts' types a time, such as {_seconds(plan, frame)}"
    )


def _place(plan: ShotPlan, cue: Cue, trigger: AtPosition, frame: int) -> str:
    """Return the place of the axis in a frame, written with as few digits as mean that frame."""
    axis = plan.move.axes.get(trigger.axis) if plan.move else None
    if axis is None:
        raise Refusal(
            f"cue {cue.cue} starts at a place of '{trigger.axis}', and the move has no such axis: enter on 'starts'"
            " types a time"
        )
    for digits in range(1, MOST_DIGITS + 1):
        for place in _places_near(axis, plan, frame, digits):
            for direction in dict.fromkeys((trigger.direction, _slope(axis, plan, frame))):
                found = _pass_in_frame(plan, trigger, axis, place, direction, frame)
                if found is not None:
                    return str(found)
    where = f"{trigger.axis} stands still, or turns, in frame {frame}"
    raise Refusal(
        f"{where}: ← and → go to where it moves, or enter on 'starts' types a time, such as {_seconds(plan, frame)}"
    )


def _seconds(plan: ShotPlan, frame: int) -> str:
    return f"{print_number(ceil(frame / plan.fps_on_set * plan.speed / _MS) * _MS)} s"


def _places_near(axis: Axis, plan: ShotPlan, frame: int, digits: int) -> Iterator[Fraction]:
    """Yield rounded places that the axis has in the middle of a frame, early in it and late in it."""
    shares = np.array([0.5, 0.25, 0.75, 0.05])
    times_s = (frame + shares) / float(plan.fps_on_set)
    yield from dict.fromkeys(Fraction(str(round(float(place), digits))) for place in axis.at(times_s))


def _slope(axis: Axis, plan: ShotPlan, frame: int) -> Direction:
    first, last = axis.at(np.array([frame, frame + 1]) / float(plan.fps_on_set))
    return Direction.RISING if last >= first else Direction.FALLING


def _pass_in_frame(
    plan: ShotPlan, trigger: AtPosition, axis: Axis, place: Fraction, direction: Direction, frame: int
) -> AtPosition | None:
    """Return the trigger for the pass of a place that lies in a frame; None where none does."""
    if plan.move is None:
        return None
    passes = plan.move.passes(axis.name, float(place), direction, trigger.while_)
    for number, time_s in enumerate(passes, start=1):
        at_frame = frame_at(Fraction(time_s), plan.fps_on_set)
        if at_frame == frame:
            position = type(trigger.position).of(place)
            return replace(trigger, position=position, direction=direction, crossing=number)
        if at_frame > frame:
            return None
    return None


def time_in_same_frame(plan: ShotPlan, start_s: Fraction) -> Fraction:
    """Return a time in the same camera frame, the nearest one with as few decimals as that takes."""
    for digits in (3, 6, 9):
        near = [Fraction(rounded(start_s * 10**digits), 10**digits) for rounded in (floor, ceil)]
        for time_s in sorted(near, key=lambda one: abs(one - start_s)):
            if frame_at(time_s, plan.fps_on_set) == frame_at(start_s, plan.fps_on_set):
                return time_s
    return start_s


def typed_start(text: str) -> Start:
    """Return the start that was typed: what stands behind `at:`, or 'after 2', 'with 2 wait 1 s'. Raises Refusal."""
    words = plain(text)
    for key in ("after", "with"):
        if words.startswith(f"{key} "):
            return _typed_after(key, words.removeprefix(key).strip())
    try:
        return {"at": str(parse_trigger(text))}
    except UnitError as error:
        raise Refusal(f"{error.what}: {error.cure}") from error


def _typed_after(key: str, words: str) -> Start:
    """Read '2', '2 wait 0.5 s', '2, wait 0.5 s', '2 + 10 frames' and '2 0.5 s'."""
    found = _WITH_WAIT.fullmatch(words) or _WITH_TIME.fullmatch(words)
    if found is None:
        return {key: words.rstrip(" ,;")}
    try:
        # How long a frame is, the show says once it is written there.
        return {key: found["cue"], "wait": str(parse_time_in_shot(found["wait"], context_of(Camera())))}
    except UnitError as error:
        raise Refusal(f"{error.what}: {error.cure}") from error


def place_s(plan: ShotPlan, text: str) -> Fraction:
    """Return the time on set of a place that was typed as the start of a cue. Raises Refusal."""
    try:
        trigger = parse_trigger(text)
    except UnitError as error:
        raise Refusal(str(error)) from error
    start_s, length_s = plan.start_of(trigger), plan.timeline().length_s
    last_frame = frame_count(length_s * plan.speed, plan.fps_on_set) - 1
    is_past = start_s is None or not 0 <= start_s <= length_s
    if start_s is not None and isinstance(trigger, AtFrame | AtTimecode):
        is_past = not 0 <= frame_at(start_s * plan.speed, plan.fps_on_set) <= last_frame
    if start_s is None or is_past:
        raise Refusal(f"{text.strip()}: {_range_of(plan, trigger, length_s * plan.speed, last_frame)}")
    return start_s


def _range_of(plan: ShotPlan, trigger: StartTrigger, length_s: Fraction, last: int) -> str:
    """Return which places of the kind that was typed a shot has."""
    match trigger:
        case AtFrame():
            return f"this shot has frames 0 to {last}"
        case AtTimecode() if plan.labels.has_timecode:
            return f"this shot goes from {plan.labels.timecode(0)} to {plan.labels.timecode(last)}"
        case AtTimecode():
            return f"this shot has no timecode; write a frame from 0 to {last}, such as '{last // 2} frames'"
        case AtPosition() | AtShare() if plan.move is None:
            return f"this shot has no move; write a time from 0 s to {_rounded_seconds(length_s)}"
        case AtPosition(axis, position) if plan.move is not None:
            axes = plan.move.axes
            if not plan.move.counts(axis, position):
                return "the move has " + ", ".join(f"{one.name} {one.reach()}" for one in axes.values())
            low, high = axes[axis].positions.min(), axes[axis].positions.max()
            is_within = low <= float(position) <= high
            return f"{axis} {'never passes there so; it ' if is_within else ''}goes from {axes[axis].reach()}"
        case AtShare():
            return "the move goes from 0 % to 100 %"
        case ByOperator():
            return f"write a place that can be known, such as a time from 0 s to {_rounded_seconds(length_s)}"
    return f"this shot goes from 0 s to {_rounded_seconds(length_s)}"


def _rounded_seconds(time_s: Fraction) -> str:
    return f"{print_number(Fraction(round(time_s * 100), 100))} s"
