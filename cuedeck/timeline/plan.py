"""From a shot in the show to its timeline.

What does not depend on the operator (patch, looks, triggers) is worked out once; the timeline is then
built again from the list of fired cues, each with the number of the packet it was fired at. That short
list is all that a take has to remember.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from math import ceil

from cuedeck.arrays import Values
from cuedeck.rig.looks import resolve_look
from cuedeck.rig.patch import Patch
from cuedeck.show.model import Cue, Shot, Show
from cuedeck.show.problems import Problem
from cuedeck.show.triggers import AfterCue, AtFrame, AtPosition, AtShare, AtTime, AtTimecode, ByOperator, StartTrigger
from cuedeck.show.units import Frequency, UnitError
from cuedeck.timeline.fired import FiredCue as FiredCue  # noqa: PLC0414 - whoever plans has it from here
from cuedeck.timeline.timeline import StartedCue, Timeline
from cuedeck.timing.labels import ShotLabels
from cuedeck.timing.line import camera_refresh_hz, highest_refresh_hz
from cuedeck.timing.moves import Move

Origin = tuple[str | None, Fraction | None]
"""The cue whose firing the start of a cue counts from, None for the start of the shot, and how long after that it
comes; None where it never does."""


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
        return ShotLabels.of(self.show.camera, self.shot)

    @cached_property
    def operator_cues(self) -> tuple[str, ...]:
        """The cues that wait for the operator, in the order of the file."""
        return tuple(cue.cue for cue in self.shot.cues if isinstance(cue.trigger, ByOperator) and not cue.skip)

    @cached_property
    def position_cues(self) -> tuple[str, ...]:
        """The cues that wait for a live axis, in the order of the file."""
        cues = [cue for cue in self.shot.cues if self.is_axis_live and not cue.skip]
        return tuple(cue.cue for cue in cues if isinstance(cue.trigger, AtPosition))

    def waiting_cues(self, fired: Iterable[FiredCue]) -> tuple[str, ...]:
        """Return the operator cues that have not been fired, in the order of the file."""
        return _unfired(self.operator_cues, fired)

    def unpassed_cues(self, fired: Iterable[FiredCue]) -> tuple[str, ...]:
        """Return the cues of a live axis that have not passed their positions, in the order of the file."""
        return _unfired(self.position_cues, fired)

    def fade_s(self, cue: Cue) -> Fraction:
        return cue.fade.base / self.speed

    def delay_s(self, trigger: AfterCue, other: Cue) -> Fraction:
        """Return how long after the start of another cue the one starts that follows it."""
        return trigger.wait.base / self.speed + (0 if trigger.from_start else self.fade_s(other))

    def timeline(self, fired: Iterable[FiredCue] = (), like: Timeline | None = None) -> Timeline:
        """Compile the shot with what the operator fired; its times are those on set.

        The spans of a timeline that is `like` it are reused up to the first difference.
        """
        packets = {one.cue: one.packet for one in fired}
        found = [self._started(cue, packets) for cue in self.shot.cues if not cue.skip]
        cues = sorted(filter(None, found), key=lambda one: (one.first_packet, one.start_s))
        length_s = max(self._least_length_s, *(one.end_s for one in cues), Fraction(0))
        return Timeline(self.patch, self.refresh_hz, length_s, cues, like)

    @cached_property
    def _least_length_s(self) -> Fraction:
        """How long the shot lasts whatever happens in it."""
        written_s = self.shot.length.base / self.speed if self.shot.length else Fraction(0)
        return max(written_s, self.move.duration_s if self.move else Fraction(0))

    def _started(self, cue: Cue, packets: Mapping[str, int]) -> StartedCue | None:
        """Return a cue with its start, None where it has none; the same fire gives the same object."""
        root, _ = self._origins[cue.cue]
        key = cue.cue, None if root is None else packets.get(root)
        if key not in self._known:
            start_s = self._start_s(cue.cue, packets)
            self._known[key] = None if start_s is None else self._starting(cue, start_s)
        return self._known[key]

    def _starting(self, cue: Cue, start_s: Fraction) -> StartedCue:
        first_packet, target = ceil(start_s * self.refresh_hz), self.targets.get(cue.look)
        return StartedCue(cue, start_s, self.fade_s(cue), first_packet, target)

    @cached_property
    def _known(self) -> dict[tuple[str, int | None], StartedCue | None]:
        """Each cue by the packet that its start counts from: fractions are slow, and a fire moves few cues."""
        return {}

    def start_times(self, fired: Iterable[FiredCue] = ()) -> dict[str, Fraction | None]:
        """Return when each cue starts, in exact seconds on set; None for those that do not."""
        packets = {one.cue: one.packet for one in fired}
        return {name: self._start_s(name, packets) for name in self._origins}

    def _start_s(self, name: str, packets: Mapping[str, int]) -> Fraction | None:
        root, after_s = self._origins[name]
        if root is None or after_s is None:
            return after_s
        return packets[root] / self.refresh_hz + after_s if root in packets else None

    @cached_property
    def _origins(self) -> dict[str, Origin]:
        """What the start of each cue counts from: all that is known of it before anything is fired."""
        by_name = {cue.cue: cue for cue in self.shot.cues}
        origins: dict[str, Origin] = {}
        for name in by_name:
            chain: dict[str, None] = {}
            step: str | None = name
            while step is not None and step in by_name and step not in origins and step not in chain:
                chain[step] = None
                trigger = by_name[step].trigger
                step = trigger.cue if isinstance(trigger, AfterCue) else None
            for link in reversed(chain):
                origins[link] = self._origin(by_name[link], by_name, origins)
        return origins

    def _origin(self, cue: Cue, by_name: Mapping[str, Cue], origins: Mapping[str, Origin]) -> Origin:
        match cue.trigger:
            case ByOperator():
                return cue.cue, Fraction(0)
            case AtPosition() if self.is_axis_live:
                return cue.cue, Fraction(0)
            case AfterCue(other) as trigger:
                root, after_s = origins.get(other, (None, None))
                return root, None if after_s is None else after_s + self.delay_s(trigger, by_name[other])
            case trigger:
                return None, self.start_of(trigger)

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
        return frame / self.fps_on_set / self.speed


def _unfired(cues: Iterable[str], fired: Iterable[FiredCue]) -> tuple[str, ...]:
    names = {one.cue for one in fired}
    return tuple(cue for cue in cues if cue not in names)


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
