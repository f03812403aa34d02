"""A shot being rehearsed: its timeline, the playhead, and what the simulator makes of the packets.

All the light that the screen shows comes through here: the slots of one packet, sent to the simulator.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from cuedeck.arrays import Slots
from cuedeck.draft.nudges import found_levels, only_lit
from cuedeck.output.base import Packet
from cuedeck.output.simulator import Simulator
from cuedeck.player.channel.events import Snapshot
from cuedeck.player.states import PlayerState
from cuedeck.rig.state import FixtureState
from cuedeck.timeline.plan import FiredCue, ShotPlan
from cuedeck.timeline.positions import AxisPosition, axis_positions
from cuedeck.tui.transport import NS_PER_S, Playhead


@dataclass(frozen=True)
class Loop:
    """A span of the shot, in seconds on set."""

    from_s: Fraction
    to_s: Fraction


@dataclass(frozen=True)
class Moment:
    """All that the screen shows of one instant."""

    time_s: Fraction
    frame: int | None
    """The camera frame, the first being 0; None at the end of the shot, which is in none."""
    packet: int
    is_running: bool
    states: tuple[FixtureState, ...]
    """As the simulator decodes them from the packet."""
    positions: tuple[AxisPosition, ...]


class Rehearsal:
    """One shot, run and scrubbed against a clock that it is handed, seen through a simulator."""

    def __init__(self, plan: ShotPlan) -> None:
        self.plan = plan
        self.fired: tuple[FiredCue, ...] = ()
        self.loop: Loop | None = None
        """The span that a run goes round in; None where it runs to the end."""
        self.alone: frozenset[str] | None = None
        """The lights that are seen alone, all others being out; None where all are seen."""
        self.found: str | None = None
        """The light that is lit alone, full, to find it."""
        self.timeline = plan.timeline()
        """The shot with what was fired."""
        self.simulator = Simulator(plan.patch)
        self.playhead = Playhead(plan.fps_on_set, Fraction(0))
        self.is_led = False
        """Whether the player leads the playhead, and not the clock."""
        self.hears_line = False
        """Whether the light is what the player has on the line, and not the packet at the playhead."""
        self._compile()

    @property
    def waiting_cues(self) -> tuple[str, ...]:
        """The operator cues that have not been fired, in order."""
        return self.plan.waiting_cues(self.fired)

    def run_or_stop(self, now_ns: int) -> None:
        """Run from the playhead, or stop there. A run from the start begins with nothing fired."""
        self._take_lead()
        if self.playhead.is_running:
            self.playhead = self.playhead.stop(now_ns)
            return
        self.playhead = self.playhead.run(now_ns)
        if self.playhead.at_s == 0 and self.fired:
            self.fired = ()
            self._compile()

    def replan(self, plan: ShotPlan) -> None:
        """Go on with the shot as it is now."""
        if plan.patch is not self.plan.patch:
            self.simulator = Simulator(plan.patch)
        self.plan = plan
        self.fired = tuple(one for one in self.fired if one.cue in plan.operator_cues)
        self.hears_line = False
        self._compile()

    def tick(self, now_ns: int) -> None:
        """Let the playhead follow the clock, unless the player leads it; at the end of the loop it begins anew."""
        if self.is_led:
            return
        self.playhead = self.playhead.tick(now_ns)
        loop = self.loop
        if loop is not None and self.playhead.is_running and self.playhead.at_s >= loop.to_s:
            self.playhead = self.playhead.to(loop.from_s).run(now_ns)

    def step(self, frames: int) -> None:
        """Stand so many camera frames on."""
        self._take_lead()
        self.playhead = self.playhead.step(frames)

    def go_to(self, time_s: Fraction) -> None:
        """Stand at a time, in seconds."""
        self._take_lead()
        self.playhead = self.playhead.to(time_s)

    def fire(self, now_ns: int) -> FiredCue | None:
        """Fire the next operator cue where the shot runs and one waits."""
        self.tick(now_ns)
        if not self.playhead.is_running or not self.waiting_cues:
            return None
        fired = FiredCue(self.waiting_cues[0], self.playhead.packet(self.plan.refresh_hz))
        self.fired = (*self.fired, fired)
        self._compile()
        return fired

    def place_to_run_from(self) -> tuple[int, tuple[FiredCue, ...]]:
        """Return the packet that a run would begin with, and what counts as fired: nothing at the start."""
        packet = 0 if self.playhead.is_at_end else self.playhead.packet(self.plan.refresh_hz)
        return packet, self.fired if packet else ()

    def slots(self) -> Slots:
        """Return the slots of the packet at the playhead, shape (universes, 512)."""
        packet = self.playhead.packet(self.plan.refresh_hz)
        slots = self.timeline.slots([packet])
        patch = self.plan.patch
        if self.found is not None:
            slots = patch.encode(found_levels(patch, self.found)[None])
        elif self.alone is not None:
            slots = patch.encode(only_lit(patch, patch.decode(slots), self.alone))
        return np.asarray(slots[0])

    def follow(self, snapshot: Snapshot) -> bool:
        """Put the playhead where a take of this shot is; return whether the timeline is another for what was fired."""
        by_hand = set(self.plan.operator_cues)
        fired = tuple(FiredCue(*one) for one in snapshot.fired if one[0] in by_hand)
        is_other = fired != self.fired
        if is_other:
            self.fired = fired
            self._compile()
        self.is_led = True
        at_s = max(snapshot.packet, 0) / self.plan.refresh_hz
        self.playhead = self.playhead.led(at_s, is_running=snapshot.state == PlayerState.ROLLING)
        return is_other

    def end_following(self) -> None:
        """Stand where the take was last; the light stays what is on the line until the playhead is moved."""
        if self.is_led:
            self.is_led = False
            self.playhead = self.playhead.led(self.playhead.at_s, is_running=False)

    def hear(self, universes: tuple[int, ...], slots: bytes) -> None:
        """Take what is on the line, 512 bytes for each universe; nothing is dark. It counts until the next move."""
        self.hears_line = universes in ((), self.plan.patch.universes)
        if self.hears_line:
            self.simulator.take(self.plan.patch.universes, slots or self.plan.patch.dark.tobytes())

    def moment(self) -> Moment:
        """Send the packet of the playhead to the simulator, unless it hears the line; return what is to be seen."""
        playhead = self.playhead
        number = playhead.packet(self.plan.refresh_hz)
        if not self.hears_line:
            due_ns = round(number / self.plan.refresh_hz * NS_PER_S)
            self.simulator.send(Packet(number, due_ns, self.slots()))
        positions = axis_positions(self.plan, float(playhead.at_s))
        frame = playhead.frame if playhead.is_in_frame else None
        return Moment(playhead.at_s, frame, number, playhead.is_running, self.simulator.states(), positions)

    def _take_lead(self) -> None:
        self.is_led = self.hears_line = False

    def _compile(self) -> None:
        self.timeline = self.plan.timeline(self.fired, like=self.timeline)
        self.starts = self.plan.start_times(self.fired)
        self.playhead = self.playhead.with_length(self.timeline.length_s, bool(self.waiting_cues))
