"""Following a timecode that comes in: from labels and the times they came at to a position at any time.

While it is locked the position lies on the straight line through the latest labels, so it takes on their
speed and smooths their jitter. It never turns back while the timecode runs forwards, nor goes on while it
runs in reverse: where the line steps back, the position waits. Only a jump may break that: a label that
lies elsewhere and is confirmed by the next one. The same readings and times give the same positions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum, auto
from math import floor, inf

from cuedeck.timing.timecode import Timecode, TimecodeRate


@dataclass(frozen=True)
class Point:
    """A label that came."""

    at_s: float
    frame: int
    """From the origin, not wrapped at a day."""


@dataclass(frozen=True)
class FittedLine:
    """Where the position is while it runs."""

    at_s: float
    frame: float
    frames_per_second: float

    def frame_at(self, time_s: float) -> float:
        """Return where it is at a time, in frames from the origin."""
        return self.frame + self.frames_per_second * (time_s - self.at_s)


def line_through(points: Sequence[Point], direction: int, fastest: float) -> FittedLine:
    """Return the line of least squares through two points or more, its speed from 0 to the fastest."""
    last = points[-1]
    # Seen from the last point, so that the sums stay small and exact.
    times_s = [point.at_s - last.at_s for point in points]
    frames = [float(point.frame - last.frame) for point in points]
    mean_s, mean_frame = sum(times_s) / len(points), sum(frames) / len(points)
    spread = sum((time_s - mean_s) ** 2 for time_s in times_s)
    together = sum((time_s - mean_s) * frame for time_s, frame in zip(times_s, frames, strict=True))
    speed = direction * min(max(direction * together / spread, 0.0), fastest)
    return FittedLine(last.at_s, last.frame + mean_frame - speed * mean_s, speed)


FREE_RUN_S = 1.0
"""How long a position runs on by itself after the last label, where nothing else is asked."""

_WINDOW = 8
"""Labels that the line is laid through: long enough for the jitter of MIDI, short enough for a ramp."""
_FAR_FRAMES = 2
"""A label further off than this is a jump."""
_NEAR_FRAMES = 0.5
"""A label further off than this ends the line: it goes on from there, at the speed of the last two labels where
they follow each other."""
_FOLLOWING_FRAMES = 4
"""The next label may be off so far: a tape that goes from double speed to half at once is late by three frames."""
_LATE_FRAMES = 6
"""Without a label for so many frames it runs free; MIDI at half speed tells of itself every four."""
_FASTEST = 4.0
"""The highest speed that two labels are believed to have."""
_SHORTEST_S = 0.001
"""Labels that are closer came in a bunch, and lie about their times: frames are 4 ms at the highest speed."""
_EDGE_FRAMES = 1e-6
"""A position so close before the edge of a frame stands on it."""


@dataclass(frozen=True)
class Arrival:
    """A label that runs by."""

    at_s: float
    """When the start of the labelled frame passed, in either direction, on the clock of the reader."""
    label: Timecode
    is_reverse: bool = False


@dataclass(frozen=True)
class Located:
    """A label that a transport went to and stands at."""

    at_s: float
    label: Timecode


Reading = Arrival | Located


class ChaseState(StrEnum):
    """How sure a position is."""

    LOCKED = "locked"
    FREE_RUNNING = "free-running"
    STOPPED = "stopped"
    """No timecode runs: none came yet, or none for longer than it is run free, or a transport stands at a label."""


class _Event(StrEnum):
    AGREED = auto()
    """A label came where it was expected."""
    CONFIRMED = auto()
    """Two labels in a row agree with each other on another place."""
    LOCATED = auto()
    """A transport stands at a label."""
    LATE = auto()
    """No label came for some frames."""
    SILENT = auto()
    """No label came for the whole time of running free."""


_LOCKED, _FREE, _STOPPED = ChaseState.LOCKED, ChaseState.FREE_RUNNING, ChaseState.STOPPED
NEXT_STATE: Mapping[tuple[ChaseState, _Event], ChaseState] = {
    (_STOPPED, _Event.CONFIRMED): _LOCKED,
    (_STOPPED, _Event.LOCATED): _STOPPED,
    (_LOCKED, _Event.AGREED): _LOCKED,
    (_LOCKED, _Event.CONFIRMED): _LOCKED,
    (_LOCKED, _Event.LOCATED): _STOPPED,
    (_LOCKED, _Event.LATE): _FREE,
    (_FREE, _Event.AGREED): _LOCKED,
    (_FREE, _Event.CONFIRMED): _LOCKED,
    (_FREE, _Event.LOCATED): _STOPPED,
    (_FREE, _Event.SILENT): _STOPPED,
}
"""Every step there is. What is not in it does not happen."""


@dataclass(frozen=True)
class Chased:
    """Where a timecode is at a time."""

    state: ChaseState
    position_s: float | None
    """From the label that was asked for, negative before it; None until a first label is known."""
    label: Timecode | None
    speed: float
    """1 is normal, negative is reverse, 0 stands."""
    jumps: int
    """How often it has gone elsewhere at once, the first lock included."""
    foreign: Timecode | None = None
    """The last label that was passed over since it is counted differently, where none is followed."""

    def __str__(self) -> str:
        if self.foreign is not None:
            return f"the timecode counts {self.foreign.rate}, not as the camera does"
        if self.label is None:
            return "no timecode yet"
        return f"{self.state} at {self.label}"


def in_rate(label: Timecode, rate: TimecodeRate) -> Timecode | None:
    """Return the frame of a rate that a label stands for, or None where the two count differently.

    A rate that counts twice as many frames keeps hours, minutes and seconds, and has two to each.
    """
    times = rate.counted // label.rate.counted
    if times * label.rate.counted != rate.counted or rate.is_drop != label.rate.is_drop:
        return None
    hours, minutes, seconds, frames = label.parts
    return Timecode.of(hours, minutes, seconds, times * frames, rate)


class Chaser:
    """Tells the position at times that rise, from readings that are fed in the order of their times."""

    def __init__(self, origin: Timecode, free_run_s: float = FREE_RUN_S) -> None:
        """Follow from a label, whose rate says how labels are counted and how long frames last."""
        self._origin = origin
        self._free_run_s = free_run_s
        self._frames_per_second = float(origin.rate.frames_per_second)
        self._state = ChaseState.STOPPED
        self._points: list[Point] = []
        self._line: FittedLine | None = None
        self._direction = 1
        self._candidate: tuple[Point, int] | None = None
        self._reached: float | None = None
        """The furthest frame that was told since the last jump."""
        self._jumps = 0
        self._frames_per_label = 1
        self.foreign: Timecode | None = None
        """The last label that was passed over since it is counted differently."""

    def feed(self, reading: Reading) -> None:
        self._pass_time(reading.at_s)  # first: the silence before it may have ended the run
        label = in_rate(reading.label, self._origin.rate)
        if label is None:
            self.foreign = reading.label
            return
        self._frames_per_label = self._origin.rate.counted // reading.label.rate.counted
        point = Point(reading.at_s, self._unwrapped(label, reading.at_s))
        if isinstance(reading, Located):
            self._locate(point)
        elif point.at_s >= self._earliest_s:
            self._arrive(point, -1 if reading.is_reverse else 1)

    def at(self, time_s: float) -> Chased:
        """Return where the timecode is at a time, no earlier than the last one asked for."""
        self._pass_time(time_s)
        if self._state is not ChaseState.STOPPED:
            self._reach(time_s)
        if self._reached is None:
            return Chased(self._state, None, None, 0.0, self._jumps, self.foreign)
        # The line of a run that has stopped is still there: only the state says whether it runs.
        is_running = self._line is not None and self._state is not ChaseState.STOPPED
        speed = self._line.frames_per_second / self._frames_per_second if is_running and self._line else 0.0
        label = self._origin + floor(self._reached + _EDGE_FRAMES)
        return Chased(self._state, self._reached / self._frames_per_second, label, speed, self._jumps)

    @property
    def _earliest_s(self) -> float:
        """From when on another label tells anything about the speed."""
        before = [self._candidate[0]] if self._candidate is not None else []
        before += self._points[-1:] if self._state is not ChaseState.STOPPED else []
        return max((point.at_s + _SHORTEST_S for point in before), default=-inf)

    def _happen(self, event: _Event) -> None:
        self._state = NEXT_STATE[self._state, event]

    def _frames_s(self, frames: float) -> float:
        return frames * self._frames_per_label / self._frames_per_second

    def _pass_time(self, time_s: float) -> None:
        """Let the time go by in which no label came."""
        if self._state is ChaseState.STOPPED:
            return
        silent_s = time_s - self._points[-1].at_s
        # Both may have passed since the last look, so the second follows the first at once.
        if self._state is ChaseState.LOCKED and silent_s > min(self._frames_s(_LATE_FRAMES), self._free_run_s):
            self._happen(_Event.LATE)
        if self._state is ChaseState.FREE_RUNNING and silent_s >= self._free_run_s:
            # To where it stopped, not to now: how often it was asked meanwhile must not show.
            self._reach(self._points[-1].at_s + self._free_run_s)
            self._happen(_Event.SILENT)
            self._candidate = None

    def _reach(self, time_s: float) -> None:
        """Move on to where the line is at a time, never back against the direction of the run."""
        if self._line is None:
            return
        frame = self._line.frame_at(time_s)
        if self._reached is not None:
            frame = self._direction * max(self._direction * frame, self._direction * self._reached)
        self._reached = frame

    def _unwrapped(self, label: Timecode, at_s: float) -> int:
        """Return a label as frames from the origin: the ones nearest to where the run is, or to the origin."""
        is_running = self._line is not None and self._state is not ChaseState.STOPPED
        near = round(self._line.frame_at(at_s)) if is_running and self._line else 0
        # Labels begin again at midnight. The one meant is less than half a day from where the run is.
        day = self._origin.rate.frames_per_day
        off = (label.frames - self._origin.frames - near + day // 2) % day - day // 2
        return near + off

    def _locate(self, point: Point) -> None:
        self._happen(_Event.LOCATED)
        # A transport that went elsewhere starts with a speed of its own.
        self._points, self._line, self._candidate = [], None, None
        self._reached = float(point.frame)
        self._jumps += 1

    def _arrive(self, point: Point, direction: int) -> None:
        # One label alone is never believed where it disagrees: a bit that was read wrong looks like a jump.
        if self._agrees(point, direction):
            self._go_on(point)
        elif self._candidate is not None and self._confirms(self._candidate, point, direction):
            self._jump([self._candidate[0], point], direction)
        else:
            self._candidate = (point, direction)

    def _off_labels(self, point: Point) -> float:
        """Return how far a label is from where it is expected, in frames of the labels."""
        return abs(point.frame - self._line.frame_at(point.at_s)) / self._frames_per_label if self._line else 0.0

    def _follows(self, point: Point) -> bool:
        """Whether a label is the next one to the last, or that one again: then only the speed has changed."""
        return self._direction * (point.frame - self._points[-1].frame) in (0, self._frames_per_label)

    def _agrees(self, point: Point, direction: int) -> bool:
        if self._state is ChaseState.STOPPED or direction != self._direction:
            return False
        off = self._off_labels(point)
        return off <= _FAR_FRAMES or (off <= _FOLLOWING_FRAMES and self._follows(point))

    def _go_on(self, point: Point) -> None:
        is_elsewhere = self._off_labels(point) > _NEAR_FRAMES
        # Two labels give the new speed at once; one alone keeps the speed, and only the place is another.
        kept = _WINDOW if not is_elsewhere else 2 if self._follows(point) else 1
        self._happen(_Event.AGREED)
        self._candidate = None
        self._lay([*self._points, point][-kept:])

    def _confirms(self, before: tuple[Point, int], point: Point, direction: int) -> bool:
        """Whether a timecode that was at one label can be at another by now."""
        first, first_direction = before
        moved_s = direction * (point.frame - first.frame) / self._frames_per_second
        elapsed_s = point.at_s - first.at_s
        # 0 as well: a tape that stands may give its label again and again.
        is_possible = 0 <= moved_s <= _FASTEST * elapsed_s
        return direction == first_direction and elapsed_s <= self._free_run_s and is_possible

    def _jump(self, points: list[Point], direction: int) -> None:
        self._happen(_Event.CONFIRMED)
        self._candidate = None
        self._direction = direction
        self._reached = None  # after a jump the position may go back
        self._jumps += 1
        self._lay(points)

    def _lay(self, points: list[Point]) -> None:
        self._points = points
        if len(points) > 1:
            self._line = line_through(points, self._direction, _FASTEST * self._frames_per_second)
        elif self._line is not None:
            self._line = replace(self._line, at_s=points[0].at_s, frame=points[0].frame)
