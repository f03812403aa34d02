"""From a shot in the show to its timeline.

What does not depend on the operator (patch, looks, triggers) is worked out once; the timeline is then
built again from the list of fired cues, each with the number of the packet it was fired at. That short
list is all that a take has to remember.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise, takewhile

import numpy as np

from cuedeck.arrays import Values
from cuedeck.rig.looks import resolve_look
from cuedeck.rig.patch import Patch
from cuedeck.show.model import Cue, Shot, Show
from cuedeck.show.problems import Problem
from cuedeck.show.triggers import AfterCue, AtFrame, AtPosition, AtShare, AtTime, AtTimecode, ByOperator, StartTrigger
from cuedeck.show.units import Frequency, UnitError
from cuedeck.timeline.curves import CURVES
from cuedeck.timeline.fired import FiredCue as FiredCue  # noqa: PLC0414 - whoever plans has it from here
from cuedeck.timeline.groups import groups_of
from cuedeck.timeline.timeline import Fade, Happening, MadeOf, Span, StartedCue, Timeline
from cuedeck.timing.labels import ShotLabels
from cuedeck.timing.line import camera_refresh_hz, highest_refresh_hz
from cuedeck.timing.moves import Move


@dataclass(frozen=True, eq=False)
class ShotPlan:
    """One shot of a show with its move, ready to be compiled for whatever the operator fires."""

    show: Show
    name: str
    shot: Shot
    move: Move | None
    """The move as it runs on set, at the speed of the shot."""
    patch: Patch
    refresh_hz: Fraction
    targets: Mapping[str, Values] = field(repr=False)
    """What each look of the show's cues asks of each parameter; NaN leaves it as it is."""
    is_axis_live: bool = False
    """Whether cues tied to positions wait to be fired by the rig itself, whatever the move on file says."""

    @property
    def position_cues(self) -> tuple[str, ...]:
        """The cues that wait for a live axis, in the order of the file."""
        cues = [cue for cue in self.shot.cues if self.is_axis_live and not cue.skip]
        return tuple(cue.cue for cue in cues if isinstance(cue.trigger, AtPosition))

    def unpassed_cues(self, fired: Iterable[FiredCue]) -> tuple[str, ...]:
        """The cues of a live axis that have not passed their positions, in the order of the file."""
        passed = {one.cue for one in fired}
        return tuple(cue for cue in self.position_cues if cue not in passed)

    speed: Fraction = Fraction(1)
    """How many times as fast as it is written the shot runs: every time in it is divided by this."""
    errors: tuple[Problem, ...] = field(default=(), repr=False)
    """What keeps it from running: its light would not be what the show says."""

    @property
    def fps_on_set(self) -> Fraction:
        """Frames that the camera takes in a second on set, the time of packets."""
        return self.show.camera.fps_on_set

    @property
    def labels(self) -> ShotLabels:
        """How the frames of the shot are labelled."""
        return ShotLabels.of(self.show.camera, self.shot)

    @property
    def operator_cues(self) -> tuple[str, ...]:
        """The cues that wait for the operator, in the order of the file."""
        return tuple(cue.cue for cue in self.shot.cues if isinstance(cue.trigger, ByOperator) and not cue.skip)

    def waiting_cues(self, fired: Iterable[FiredCue]) -> tuple[str, ...]:
        """The operator cues that have not been fired, in the order of the file."""
        names = {one.cue for one in fired}
        return tuple(cue for cue in self.operator_cues if cue not in names)

    def timeline(
        self, fired: Iterable[FiredCue] = (), like: Timeline | None = None, until_s: Fraction | None = None
    ) -> Timeline:
        """Compile the shot with what the operator fired; its times are those on set.

        Of a timeline that is `like` it, what comes before the first difference is taken over. With `until_s`, the
        light after that time is left as it was then.
        """
        happening = self._happening(fired)
        cues = tuple(StartedCue(cue.cue, cue.look, start, cue.fade.base / self.speed) for start, cue in happening)
        made_of = tuple(
            (start, cue.fade.base / self.speed, cue, self.targets.get(cue.look)) for start, cue in happening
        )
        if until_s is not None:
            made_of = tuple(one for one in made_of if one[0] <= until_s)
        after = self._after_cues(made_of, like)
        return Timeline(self.patch, self.refresh_hz, self._length_s(happening), cues, _spans(after), made_of, after)

    def _happening(self, fired: Iterable[FiredCue]) -> list[tuple[Fraction, Cue]]:
        """Return the cues that start, each with when, in that order."""
        starts = self.start_times(fired)
        waiting = [(starts[cue.cue], cue) for cue in self.shot.cues if not cue.skip]
        return sorted(((start, cue) for start, cue in waiting if start is not None), key=lambda pair: pair[0])

    def start_times(self, fired: Iterable[FiredCue] = ()) -> dict[str, Fraction | None]:
        """Return when each cue starts, in exact seconds on set; None for those that do not."""
        fired_s = {one.cue: Fraction(one.packet) / self.refresh_hz for one in fired}
        by_name = {cue.cue: cue for cue in self.shot.cues}
        starts: dict[str, Fraction | None] = {}
        for name in by_name:
            chain: dict[str, None] = {}
            step: str | None = name
            while step is not None and step in by_name and step not in starts and step not in chain:
                chain[step] = None
                trigger = by_name[step].trigger
                step = trigger.cue if isinstance(trigger, AfterCue) else None
            for link in reversed(chain):
                starts[link] = self._start(by_name[link], by_name, starts, fired_s)
        return starts

    def _start(
        self,
        cue: Cue,
        by_name: Mapping[str, Cue],
        starts: Mapping[str, Fraction | None],
        fired_s: Mapping[str, Fraction],
    ) -> Fraction | None:
        match cue.trigger:
            case ByOperator():
                return fired_s.get(cue.cue)
            case AtPosition() if self.is_axis_live:
                return fired_s.get(cue.cue)
            case AfterCue(other, wait, from_start):
                before = starts.get(other)
                if before is None:
                    return None
                return before + (wait.base + (0 if from_start else by_name[other].fade.base)) / self.speed
            case trigger:
                return self.start_of(trigger)

    def start_of(self, trigger: StartTrigger) -> Fraction | None:
        """Return when a start comes, in exact seconds on set; None where it never does, or waits for the operator."""
        move = self.move
        match trigger:
            case AtTime(time):
                return time.base / self.speed
            case AtFrame(frames):
                return self._frame_s(frames)
            case AtTimecode(label):
                try:
                    return self._frame_s(self.labels.frame_of(label))
                except UnitError:
                    return None
            case AtShare(share):
                return None if move is None else share.base * move.duration_s
            case AtPosition(axis, position, direction, crossing, while_):
                if move is None or not all(move.counts(name, at) for name, at in trigger.places):
                    return None
                time_s = move.first_pass(axis, float(position), direction, crossing, while_)
                return None if time_s is None else Fraction(time_s)
            case ByOperator():
                return None

    def _frame_s(self, frame: int) -> Fraction:
        """Return when a frame of the shot as it is written begins."""
        return frame / self.fps_on_set / self.speed

    def length_s(self, fired: Iterable[FiredCue] = ()) -> Fraction:
        """Return how long the shot lasts on set with what the operator fired."""
        return self._length_s(self._happening(fired))

    def _length_s(self, happening: Iterable[tuple[Fraction, Cue]]) -> Fraction:
        return max(
            self.move.duration_s if self.move else Fraction(0),
            self.shot.length.base / self.speed if self.shot.length else Fraction(0),
            *(start_s + cue.fade.base / self.speed for start_s, cue in happening),
            Fraction(0),
        )

    def _after_cues(self, made_of: MadeOf, like: Timeline | None) -> tuple[Span, ...]:
        """Return the span before any cue, and the one that each cue leaves."""
        if like is None or like.patch is not self.patch:
            same, after = 0, [Span(Fraction(0), self.patch.defaults, ())]
        else:
            pairs = zip(made_of, like.made_of, strict=False)
            same = sum(1 for _ in takewhile(lambda pair: _is_same(*pair), pairs))
            after = list(like.after_cues[: same + 1])
        for exact_start_s, _, cue, target in made_of[same:]:
            after.append(self._after_cue(after[-1], exact_start_s, cue, target))
        return tuple(after)

    def _after_cue(self, span: Span, exact_start_s: Fraction, cue: Cue, target: Values | None) -> Span:
        """Return the span that a cue begins: its fades start from what is on stage at that instant."""
        start_s = float(exact_start_s)
        wanted = np.full(len(span.still), np.nan) if target is None else target
        moved = ~np.isnan(wanted)
        on_stage = span.levels(np.array([start_s]))[0]
        still = np.where(moved, wanted, span.still)
        running = [fade.kept(~moved[fade.columns]) for fade in span.fades if fade.end_s > start_s]
        if cue.fade.base:
            running += self._new_fades(on_stage, wanted, exact_start_s, cue)
        return Span(exact_start_s, still, tuple(fade for fade in running if fade.columns.size))

    def _new_fades(self, on_stage: Values, wanted: Values, start_s: Fraction, cue: Cue) -> Iterator[Fade]:
        curve = CURVES[cue.curve]
        travels = ~np.isnan(wanted)
        aims = np.where(travels, wanted, on_stage)
        for journey in groups_of(self.patch).journeys(on_stage, wanted, curve, cue.colour_path):
            columns, path = journey.columns, journey.path
            duration_s = cue.fade.base / self.speed * journey.share_of_fade
            yield Fade(
                columns,
                float(start_s),
                float(duration_s),
                float(start_s + duration_s),
                curve.shape,
                path,
                path.entry(on_stage[columns]),
                path.entry(aims[columns]),
            ).kept(travels[columns])


def _spans(after_cues: Sequence[Span]) -> tuple[Span, ...]:
    """Return the spans that last: of those that start at one instant, the last."""
    pairs = pairwise(after_cues)
    return (*(span for span, later in pairs if later.exact_start_s > span.exact_start_s), after_cues[-1])


def _is_same(one: Happening, other: Happening) -> bool:
    """Whether two cues do the same to light at the same time."""
    (start_s, fade_s, cue, target), (other_start_s, other_fade_s, other_cue, other_target) = one, other
    is_in_time = start_s == other_start_s and fade_s == other_fade_s
    return is_in_time and target is other_target and (cue is other_cue or cue == other_cue)


def plan_shot(
    show: Show,
    name: str,
    move: Move | None,
    patch: Patch,
    targets: Mapping[str, Values],
    speed: Fraction = Fraction(1),
) -> ShotPlan:
    """Prepare a shot on the show's patch and looks. Raises KeyError where the show has no shot of that name."""
    run = None if move is None else move.at_speed(speed)
    return ShotPlan(show, name, show.shots[name], run, patch, refresh_of(show, patch), targets, speed=speed)


def targets_of(show: Show, patch: Patch) -> dict[str, Values]:
    """Return what each look that a cue goes to asks of each parameter, shape (parameters,); NaN leaves it as it is."""
    looks = dict.fromkeys(cue.look for shot in show.shots.values() for cue in shot.cues)
    return {look: resolve_look(show, patch, look) for look in looks}


def refresh_of(show: Show, patch: Patch) -> Fraction:
    """Return packets a second: what the show says, else the highest that a line reaches for the slots sent."""
    if show.refresh is None:
        return highest_refresh_hz(patch.slots_sent)
    if isinstance(show.refresh, Frequency):
        return show.refresh.base
    return camera_refresh_hz(show.camera.fps_on_set, patch.slots_sent)
