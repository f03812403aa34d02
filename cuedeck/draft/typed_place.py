"""A place of a shot as a person types it, to go there; one that the shot does not have is refused with its range."""

from __future__ import annotations

from fractions import Fraction

from cuedeck.errors import Refusal
from cuedeck.show.triggers import AtFrame, AtPosition, AtShare, AtTimecode, ByOperator, StartTrigger, parse_trigger
from cuedeck.show.units import UnitError, print_number
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timing.labels import frame_at, frame_count


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
            return f"this shot has no move; write a time from 0 s to {_seconds(length_s)}"
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
            return f"write a place that can be known, such as a time from 0 s to {_seconds(length_s)}"
    return f"this shot goes from 0 s to {_seconds(length_s)}"


def _seconds(time_s: Fraction) -> str:
    return f"{print_number(Fraction(round(time_s * 100), 100))} s"
