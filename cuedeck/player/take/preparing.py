"""Getting a take ready: everything that may fail or take its time happens here, before a packet of it is due."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

from cuedeck.clock import Clock
from cuedeck.input.timecode import TimecodeSource
from cuedeck.output.base import OutputLost, line_of
from cuedeck.output.tally import Tally
from cuedeck.output.words import MEND
from cuedeck.player.channel.requests import Begin
from cuedeck.player.line.last_look import Route
from cuedeck.player.line.line_out import LineOut
from cuedeck.player.line.routes import Routes
from cuedeck.player.states import Machine, NotNow, Transition
from cuedeck.player.take.chased import ChasedRunner
from cuedeck.player.take.control import TakeControl
from cuedeck.player.take.floor import Floor, floor_of
from cuedeck.player.take.recording import Recording
from cuedeck.player.take.runner import TakeRunner
from cuedeck.show.problems import choice_of
from cuedeck.show.spelling import as_one
from cuedeck.timeline.chased import chaser_of
from cuedeck.timeline.choosing import sound_plan_of
from cuedeck.timeline.opening import OpenedShow
from cuedeck.timeline.plan import FiredCue, ShotPlan


@dataclass(eq=False)
class Prepared:
    """A take that is ready to run."""

    asked: Begin
    plan: ShotPlan
    control: TakeControl
    runner: TakeRunner
    route: Route
    floor: Floor
    recording: Recording | None
    """None for a rehearsal, which is not logged."""
    inputs: ExitStack = field(repr=False)
    """What the take listens to."""
    told: list[str]
    """What was told since it is being prepared."""
    tallies_before: tuple[Tally, ...] = ()
    """How its outputs had fared when it started; nothing before."""
    tallies: tuple[Tally, ...] = ()
    """How its outputs fared, once it is over; nothing where it had not started."""
    was_watched: bool = False
    """Whether a client was there when it ended; one that comes while it is being logged was not."""
    is_over: threading.Event = field(default_factory=threading.Event, repr=False)
    """Set when it is in the log and has been told of."""

    def fire(self, cue: str | None) -> None:
        """Fire a cue by name, or the next one that waits for the operator. Raises NotNow where it does not wait."""
        progress = self.control.progress
        fired = () if progress is None else progress.fired
        waiting = self.plan.waiting_cues(fired)
        if cue is None:
            if not waiting:
                raise NotNow("no cue waits for the operator")
            self.control.fire_next()
            return
        names, cue = [*waiting, *self.plan.unpassed_cues(fired)], as_one(cue)
        if cue not in names:
            raise NotNow(f"no cue '{cue}' waits to be fired: {choice_of(cue, names, none='none does')}")
        self.control.fire(cue)

    def abandon(self) -> None:
        """Leave nothing of a take that could not begin."""
        self.inputs.close()
        if self.recording is not None:
            self.recording.abandon()

    @property
    def count_s(self) -> int:
        """Seconds to count; none where the start comes from elsewhere."""
        return 0 if self.asked.chase or self.floor.waits_for_start else self.asked.count_s

    @property
    def slate(self) -> str:
        """The slate of the take, or nothing for a rehearsal."""
        return "" if self.recording is None else self.recording.take.slate


def _require_lines(route: Route, asked: Begin) -> None:
    """Raise OutputLost where a take would begin without one of its outputs."""
    for outlet in route.outlets:
        lost = outlet.tally.lost
        if lost and not asked.is_rehearsal:
            raise OutputLost(f"{lost}: {MEND}")


@dataclass(frozen=True)
class TakePreparation:
    """What every take of a player has in common."""

    folder: Path
    clock: Clock
    machine: Machine
    line_out: LineOut
    routes: Routes
    tell: Callable[[str], None]
    on_transition: Callable[[Transition], None]
    """Told of every step of a take, in the thread that sends."""

    def prepare(self, asked: Begin, opened: OpenedShow) -> Prepared:
        """Get a take ready. Raises Refusal, and then nothing of it is left."""
        told: list[str] = []

        def tell(what: str) -> None:
            told.append(what)
            self.tell(what)

        control = TakeControl(self.machine, self.on_transition, keeps_light=asked.is_rehearsal)
        plan = sound_plan_of(opened, asked.shot, asked.speed)
        floor = floor_of(asked, plan, control, self.clock, tell)
        plan = floor.plan
        line = line_of(plan.patch, plan.refresh_hz, is_rehearsal=asked.is_rehearsal)
        with ExitStack() as inputs:
            route = self.routes.ready(asked.to, plan.patch, line, plan.patch.dark)
            _require_lines(route, asked)
            source = self._listen(asked.chase, inputs) if asked.chase else None
            inputs.enter_context(floor)
            recording = None
            if not asked.is_rehearsal:
                recording = Recording(self.folder, plan, line, asked, self.clock, tell)
            try:
                runner = self._runner(asked, plan, control, floor, recording, source)
            except BaseException:
                if recording is not None:
                    recording.abandon()
                raise
            return Prepared(asked, plan, control, runner, route, floor, recording, inputs.pop_all(), told)

    def _listen(self, text: str, inputs: ExitStack) -> TimecodeSource:
        from cuedeck.input.timecode_sources import timecode_source

        source = timecode_source(text, self.clock)
        inputs.callback(source.close)
        source.open()
        return source

    def _runner(
        self,
        asked: Begin,
        plan: ShotPlan,
        control: TakeControl,
        floor: Floor,
        recording: Recording | None,
        source: TimecodeSource | None,
    ) -> TakeRunner:
        recorder = None if recording is None else recording.recorder
        if source is not None:
            chaser = chaser_of(plan)
            return ChasedRunner(plan, self.line_out, recorder, self.clock, control, source=source, chaser=chaser)
        return TakeRunner(
            plan,
            self.line_out,
            recorder,
            self.clock,
            control,
            waits_for_operator=asked.attended,
            waits_for_start=floor.waits_for_start,
            first_packet=asked.from_packet,
            fired=[FiredCue(cue, packet) for cue, packet in asked.fired],
        )
