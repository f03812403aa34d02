"""Running one take: packet n leaves at start + n / refresh, on an absolute clock.

Deadlines are never moved, so nothing drifts. A packet is late when it leaves after its time; it is
missed when the time of the one after it has come. A missed packet is counted and not sent: each leaves
within its own period or not at all, so none are made up for in a bunch, and a line that is too slow
loses packets and says so. How late the line was counts from when the first one that it missed was due.

The take runs where it is called, in the thread that sends; the others (clients, contacts, messages) talk to
it through `TakeControl` and read `TakeProgress`, which is replaced as a whole.
"""

from __future__ import annotations

from collections.abc import Sequence

from cuedeck.clock import Clock
from cuedeck.output.base import Packet
from cuedeck.player.line.line_out import OUT_PACKETS, LineOut
from cuedeck.player.states import PlayerState, Transition
from cuedeck.player.take.control import TakeControl, TakeProgress
from cuedeck.player.take.result import TakeResult
from cuedeck.takes.recorder import Recorder
from cuedeck.timeline.plan import FiredCue, ShotPlan
from cuedeck.timeline.timeline import RenderedAhead
from cuedeck.timing.chase import Chased


class TakeRunner:
    """Runs one take of a shot, and records it where there is a recorder.

    Where an operator is there to be waited for, the take goes on past the length of the shot, with the
    light as it is, until every operator cue has been fired and has ended; the same holds for the cues of a
    live axis. Where the start is waited for, packet 0 stands on the line until it comes. While the shot is
    held, the packet it was held at is sent again with every beat; the take keeps which packet each was.
    """

    def __init__(
        self,
        plan: ShotPlan,
        line_out: LineOut,
        recorder: Recorder | None,
        clock: Clock,
        control: TakeControl,
        *,
        waits_for_operator: bool = False,
        waits_for_start: bool = False,
        first_packet: int = 0,
        fired: Sequence[FiredCue] = (),
    ) -> None:
        self._plan = plan
        self._line_out = line_out
        self._first_packet = first_packet
        self._waits_for_operator = waits_for_operator
        self._waits_for_start = waits_for_start
        self._recorder = recorder
        self._clock = clock
        self._control = control
        self._latest_ns = 0
        self._missed_since_ns: int | None = None
        """When the first of the packets was due that were missed since the last one left."""
        self.result = TakeResult(plan.timeline(fired).compiled(), fired=[*fired])
        """What was done so far."""
        self._ahead = RenderedAhead()

    def run(self, count_s: int = 0) -> TakeResult:
        """Count down while the first packet stands on the line, run the take, and let go of the light.

        Where the start is waited for, there is no count: it comes with the packet after it was asked for.
        Returns what was done; outputs that are lost on the way do not stop it.
        """
        start_ns = self._stand_by() if self._waits_for_start else self._count(count_s)
        if self._control.is_stopped:
            self.result.was_cut = self.result.counting_was_cut = True
        else:
            self._roll(max(start_ns, self._clock.now_ns()))
            if self._missed_since_ns is not None:
                self._note_lateness(self._clock.now_ns(), self._missed_since_ns)
        self._control.happened(Transition.ENDED)
        progress = self._control.progress
        self._show_progress(progress.packet if progress is not None and self.result.packets_sent else -1)
        self._let_go()
        return self.result

    def _period_ns(self, packets: int) -> int:
        """Return how long after the start a packet is due: its number over the refresh, to the nanosecond."""
        # From the number each time, in whole numbers: periods that are added up would drift by their rounding.
        refresh = self._plan.refresh_hz
        return packets * 1_000_000_000 * refresh.denominator // refresh.numerator

    def _stand_by(self) -> int:
        """Hold packet 0 on the line until the take is started; return when its next packet is due.

        The shot starts on the beat of these packets: a line that is still sending one could not start sooner.
        """
        slots = self.result.timeline.slots([self._first_packet])[0]
        armed_ns, number = self._clock.now_ns(), 0
        while not (self._control.is_started or self._control.is_stopped):
            due_ns = armed_ns + self._period_ns(number)
            self._clock.wait_until_ns(due_ns)
            # After a standstill the beats that have passed are counted and not sent, as in the take.
            if self._clock.now_ns() < armed_ns + self._period_ns(number + 1):
                self._line_out.send(Packet(0, due_ns, slots))
            self._show_progress(0)
            number += 1
        return armed_ns + self._period_ns(number)

    def _count(self, count_s: int) -> int:
        """Hold packet 0 on the line while the seconds are counted; return when the shot starts."""
        start_ns = self._clock.now_ns() + count_s * 1_000_000_000
        slots = self.result.timeline.slots([self._first_packet])[0]
        if count_s:
            self._control.happened(Transition.COUNTED)
        ahead = (start_ns - self._clock.now_ns()) * self._plan.refresh_hz // 1_000_000_000
        for number in range(int(ahead), 0, -1):
            due_ns = start_ns - self._period_ns(number)
            self._clock.wait_until_ns(due_ns)
            if self._control.is_stopped:
                break
            if self._clock.now_ns() < due_ns + self._period_ns(1):
                self._line_out.send(Packet(0, due_ns, slots))
            self._show_progress(0, (start_ns - due_ns) / 1e9)
        return start_ns

    def _roll(self, start_ns: int) -> None:
        beat, number, result = 0, self._first_packet, self.result
        carried: list[int] = []
        while self._control.take_fired():
            pass  # what was pressed before the start was not meant for the shot
        while number < result.timeline.packet_count or self._waited_for() or self._control.is_held:
            if self._control.is_stopped:
                result.was_cut = True
                return
            if self._is_held_now():
                number -= 1  # the packet before, again: beats go on while the shot stands
                result.carried = carried  # from the first hold on, beats and packets of the shot differ
            self._fire(number)  # before the packet is rendered, so that a cue acts in the packet it is logged with
            due_ns, next_due_ns = start_ns + self._period_ns(beat), start_ns + self._period_ns(beat + 1)
            if self._clock.now_ns() < next_due_ns:  # else it is missed already: after a standstill many are
                slots = self._ahead.slots(result.timeline, number)
                packet = Packet(beat, due_ns, slots, None if result.carried is None else number)
                # Rendered before the wait: what is left to do when it is due is to send it.
                self._clock.wait_until_ns(due_ns)
                if self._sent_in_time(packet, next_due_ns):
                    carried.append(number)
                self._show_progress(number)
            else:
                self._miss(due_ns)
            beat += 1
            number += 1

    def _sent_in_time(self, packet: Packet, next_due_ns: int) -> bool:
        """Send a packet that is due, unless the next one is, too; return whether it was sent."""
        now_ns = self._clock.now_ns()
        if now_ns >= next_due_ns:
            self._miss(packet.due_ns)
            return False
        self._send(packet, now_ns)
        self._note_lateness(now_ns, packet.due_ns)
        self.result.packets_sent += 1
        return True

    def _miss(self, due_ns: int) -> None:
        self.result.missed += 1
        if self._missed_since_ns is None:
            self._missed_since_ns = due_ns

    def _note_lateness(self, now_ns: int, due_ns: int) -> None:
        """Note a packet that has left; with the first, the shot has started."""
        if not self.result.late_ns:
            self._control.happened(Transition.STARTED)
        # A late packet after missed ones would look punctual by its own time: the line was silent since the first.
        late_ns = now_ns - (due_ns if self._missed_since_ns is None else self._missed_since_ns)
        self._missed_since_ns = None
        self.result.late_ns.append(late_ns)
        self._latest_ns = max(self._latest_ns, late_ns)

    def _is_held_now(self) -> bool:
        """Whether the shot is held: not before a packet of it is on the line."""
        is_held = self._control.is_held and bool(self.result.late_ns)  # the table has no hold before STARTED
        if is_held != (self._control.state is PlayerState.HOLDING):
            self._control.happened(Transition.HELD if is_held else Transition.WENT_ON)
        return is_held

    def _fire(self, number: int) -> None:
        """Fire with a packet what was asked for: cues by name, or the next one of the operator's."""
        result = self.result
        for wanted in self._control.take_fired():
            cue = next(iter(self._waiting()), None) if wanted is None else wanted
            if cue in self._waiting() or cue in self._unpassed():
                result.fired.append(FiredCue(cue, number))
                result.timeline = self._plan.timeline(result.fired, like=result.timeline)

    def _waited_for(self) -> str:
        """Return the cue that the take must not end before, or nothing."""
        return next(iter((*(self._waiting() if self._waits_for_operator else ()), *self._unpassed())), "")

    def _waiting(self) -> tuple[str, ...]:
        return self._plan.waiting_cues(self.result.fired)

    def _unpassed(self) -> tuple[str, ...]:
        return self._plan.unpassed_cues(self.result.fired)

    def _send(self, packet: Packet, now_ns: int) -> None:
        """Send a packet of the take, and record it as it left, and when."""
        left = self._line_out.send(packet)
        self.result.blacked_out += left is not packet
        if self._recorder is not None:
            self._recorder.record(left, now_ns)

    def _let_go(self) -> None:
        """Leave the light as the show says: out, or as it is."""
        if self._plan.show.on_stop == "hold" or self._control.keeps_light:
            return
        self.result.handed_over = self._line_out.before_out()
        now_ns = self._clock.now_ns()
        for number in range(1, OUT_PACKETS + 1):
            due_ns = now_ns + self._period_ns(number)
            self._clock.wait_until_ns(due_ns)
            self._line_out.send(Packet(0, due_ns, self._plan.patch.dark))

    def _show_progress(self, number: int, counting_s: float = 0.0, chased: Chased | None = None) -> None:
        timeline, control = self.result.timeline, self._control
        is_past = control.state is PlayerState.ROLLING and number >= timeline.packet_count
        control.progress = TakeProgress(
            control.state,
            counting_s,
            number,
            timeline.packet_count,
            max(number, 0) / float(timeline.refresh_hz),
            next(iter(self._waiting()), None),
            chased,
            control.is_held,
            tuple(self.result.fired),
            self._latest_ns,
            self._waited_for() if is_past else "",
        )
