"""The cues of a shot as a sheet: when each happens on set and on the screen, where the axes are, and to which look.

Time on set is that of the packets and of the rig. Screen time is how long after its first frame the picture
shows it: another length where the camera takes frames at one rate and they are played at another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cuedeck.timeline.plan import FiredCue, ShotPlan
from cuedeck.timeline.positions import AxisPosition, axis_positions
from cuedeck.timing.labels import frame_at, frame_count


@dataclass(frozen=True)
class CueTime:
    """One instant of a shot."""

    set_s: Fraction
    screen_s: Fraction
    frame: int | None
    """The camera frame that it falls into, the first being 0; None at the end of the shot, which is in none."""
    timecode: str
    """Empty where it is in no frame, or the show has no rate of timecode."""
    axes: tuple[AxisPosition, ...]


@dataclass(frozen=True)
class CueRow:
    """One line of the sheet."""

    cue: str
    start: str
    """As it is written."""
    moment: CueTime | None
    """When it starts; None for one that waits for the operator, or for a cue that does."""
    look: str
    fade_set_s: Fraction
    fade_screen_s: Fraction
    curve: str


def moment_at(plan: ShotPlan, set_s: Fraction, length_s: Fraction) -> CueTime:
    """Return what an instant on set, of a shot of some length, is in frames, on the screen and on the axes."""
    frame = frame_at(set_s, plan.fps_on_set)
    is_in_frame = frame < frame_count(length_s, plan.fps_on_set)
    timecode = plan.labels.timecode(frame) if is_in_frame and plan.labels.has_timecode else ""
    axes = axis_positions(plan, float(set_s))
    return CueTime(set_s, plan.show.camera.screen_s(set_s), frame if is_in_frame else None, timecode, axes)


def cue_rows(plan: ShotPlan, fired: Sequence[FiredCue] = ()) -> list[CueRow]:
    """Return the cues of a shot in the order in which they happen, then those that wait."""
    starts, length_s = plan.start_times(fired), plan.timeline(fired).length_s
    rows: list[tuple[bool, Fraction, CueRow]] = []
    for cue in plan.shot.cues:
        start_s = starts[cue.cue]
        fade_s = plan.fade_s(cue)
        moment = None if start_s is None else moment_at(plan, start_s, length_s)
        screen_s = plan.show.camera.screen_s(fade_s)
        start = f"left out: {cue.trigger}" if cue.skip else str(cue.trigger)
        row = CueRow(cue.cue, start, moment, cue.look, fade_s, screen_s, cue.curve)
        rows.append((start_s is None, start_s or Fraction(0), row))
    return [row for _, _, row in sorted(rows, key=lambda one: one[:2])]
