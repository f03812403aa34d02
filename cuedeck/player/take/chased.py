"""A take that follows timecode: packets leave on the clock as ever, each of them packet n of the shot.

Which one is where the timecode is at the time the packet is due. The take remembers what it sent as a list
of packet numbers, so it renders again byte for byte. It ends when the timecode has run to the end of the
shot, when a recording is over, or when it is stopped; it is complete where the timecode ran through all of the
shot. Operator cues are not waited for: they would make the light depend on more than the timecode.
"""

from __future__ import annotations

from itertools import count

from cuedeck.clock import Clock
from cuedeck.input.timecode import TimecodeSource
from cuedeck.output.base import Packet
from cuedeck.player.line.line_out import LineOut
from cuedeck.player.take.control import TakeControl
from cuedeck.player.take.runner import TakeRunner
from cuedeck.takes.recorder import Recorder
from cuedeck.timeline.chased import coverage_of, pace_of, packet_at
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timing.chase import Chased, Chaser


class ChasedRunner(TakeRunner):
    """Runs one take of a shot after a source of timecode, which must be open."""

    def __init__(
        self,
        plan: ShotPlan,
        line_out: LineOut,
        recorder: Recorder | None,
        clock: Clock,
        control: TakeControl,
        *,
        source: TimecodeSource,
        chaser: Chaser,
    ) -> None:
        super().__init__(plan, line_out, recorder, clock, control)
        self._source = source
        self._chaser = chaser
        self._pace = pace_of(plan)
        self._carried: list[int] = []
        self.result.carried = self._carried
        self._coverage = coverage_of(plan, self.result.timeline)

    def _roll(self, start_ns: int) -> None:
        self._follow(start_ns)
        result = self.result
        result.chase_fault = self._coverage.fault(self._chaser.foreign, was_cut=result.was_cut)

    def _follow(self, start_ns: int) -> None:
        before: Chased | None = None
        for number in count():
            if self._control.is_stopped:
                self.result.was_cut = True
                return
            due_ns = start_ns + self._period_ns(number)
            if self._source.is_over(due_ns / 1e9):
                return
            self._clock.wait_until_ns(due_ns)
            chased = self._chased_at(due_ns / 1e9)
            self._send_chased(number, due_ns, start_ns + self._period_ns(number + 1), chased)
            if before is not None and self._has_ended(before, chased):
                return
            before = chased

    def _chased_at(self, time_s: float) -> Chased:
        for reading in self._source.arrived(time_s):
            self._chaser.feed(reading)
        return self._chaser.at(time_s)

    def _send_chased(self, number: int, due_ns: int, next_due_ns: int, chased: Chased) -> None:
        timeline = self.result.timeline
        carried = packet_at(chased.position_s, timeline, self._pace)
        self._coverage.take(chased, carried)
        packet = Packet(number, due_ns, timeline.slots([carried])[0], carried)
        if self._sent_in_time(packet, next_due_ns):
            self._carried.append(carried)
        self._show_progress(carried, chased=chased)

    def _has_ended(self, before: Chased, now: Chased) -> bool:
        """Whether the timecode has just run over the end of the shot: one that jumped there may come back."""
        last = self.result.timeline.packet_count - 1
        was_inside = packet_at(before.position_s, self.result.timeline, self._pace) < last
        is_at_end = packet_at(now.position_s, self.result.timeline, self._pace) == last
        return was_inside and is_at_end and now.jumps == before.jumps
