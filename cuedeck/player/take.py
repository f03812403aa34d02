"""Running one take: packet n leaves at start + n / refresh, on an absolute clock.

Deadlines are never moved, so nothing drifts. A packet is late when it leaves after its time; it is
missed when the time of the one after it has come. A missed packet is counted and not sent: each leaves
within its own period or not at all, so none are made up for in a bunch, and a line that is too slow
loses packets and says so.

The take runs where it is called; the others (screen, keys, signals) talk to it through `TakeControl`
and read `TakeProgress`, which is replaced as a whole.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from cuedeck.clock import Clock
from cuedeck.output.base import Output, OutputLost, Packet
from cuedeck.timeline.plan import FiredCue, ShotPlan
from cuedeck.timeline.timeline import Timeline
from cuedeck.timing.chase import Chased

OUT_PACKETS = 3
"""How often the packet that puts the lights out is repeated: a receiver may lose one."""


class Phase(StrEnum):
    """What a take is doing."""

    ARMED = "armed"
    COUNTING = "counting"
    ROLLING = "rolling"
    ENDED = "ended"
    CUT = "cut"


@dataclass(frozen=True)
class TakeProgress:
    """Where a take is, for screens."""

    phase: Phase
    counting_s: float
    """Seconds to the start while counting."""
    packet: int
    packet_count: int
    time_s: float
    next_operator_cue: str | None
    chased: Chased | None = None
    """Where the timecode is that the take follows."""
    is_held: bool = False
    """Whether the shot is held where it is."""


@dataclass
class TakeResult:
    """What a take did."""

    timeline: Timeline
    was_cut: bool = False
    packets_sent: int = 0
    missed: int = 0
    late_ns: list[int] = field(default_factory=list)
    """How late each sent packet was."""
    lost: dict[str, str] = field(default_factory=dict)
    """Outputs that were lost, and why."""
    fired: list[FiredCue] = field(default_factory=list)
    counting_was_cut: bool = False
    carried: list[int] | None = None
    """Which packet of the shot each sent packet was, where they follow timecode or the shot was held; otherwise
    as they are numbered."""

    @property
    def packets_due(self) -> int:
        """Packets that the shot has; where it follows timecode, those whose time came."""
        return self.timeline.packet_count if self.carried is None else self.packets_sent + self.missed

    @property
    def is_complete(self) -> bool:
        """Whether every packet went out on every output."""
        return not self.was_cut and not self.lost and self.packets_sent == self.packets_due


class TakeControl:
    """What others may ask of a running take, from any thread."""

    def __init__(self) -> None:
        self._stop = threading.Event()
        self._start = threading.Event()
        self._go: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._held = threading.Event()
        self.progress: TakeProgress | None = None
        """The latest state of the take; replaced, never changed."""

    def stop(self) -> None:
        """Cut the take with the next packet."""
        self._stop.set()

    def fire_next(self) -> None:
        """Fire the next operator cue with the next packet."""
        self._go.put(None)

    def fire(self, cue: str) -> None:
        """Fire a cue by name with the next packet; one that does not wait to be fired is let pass."""
        self._go.put(cue)

    def start(self) -> None:
        """Start a take that waits for it."""
        self._start.set()

    def hold(self, is_held: bool | None = None) -> None:
        """Hold the shot where it is from the next packet on, or let it go on; without a word, the other of the two."""
        if not self._held.is_set() if is_held is None else is_held:
            self._held.set()
        else:
            self._held.clear()

    @property
    def is_held(self) -> bool:
        """Whether the shot is held."""
        return self._held.is_set()

    @property
    def is_started(self) -> bool:
        """Whether the take was asked to start."""
        return self._start.is_set()

    @property
    def is_rolling(self) -> bool:
        """Whether packets of the shot are leaving."""
        return self.progress is not None and self.progress.phase is Phase.ROLLING

    @property
    def is_stopped(self) -> bool:
        """Whether the take was asked to stop."""
        return self._stop.is_set()

    def take_fired(self) -> list[str | None]:
        """Return what was fired since the last call and forget it: names, up to the first press for the next cue."""
        fired: list[str | None] = []
        while None not in fired:
            try:
                fired.append(self._go.get_nowait())
            except queue.Empty:
                break
        return fired


class TakeRunner:
    """Runs one take of a shot on some outputs.

    Where an operator is there to be waited for, the take goes on past the length of the shot, with the
    light as it is, until every operator cue has been fired and has ended; the same holds for the cues of a
    live axis. Where the start is waited for, packet 0 stands on the line until it comes. While the shot is
    held, the packet it was held at is sent again with every beat; the take keeps which packet each was.
    """

    def __init__(
        self,
        plan: ShotPlan,
        outputs: Sequence[Output],
        recorder: Output | None,
        clock: Clock,
        control: TakeControl,
        *,
        waits_for_operator: bool = False,
        waits_for_start: bool = False,
    ) -> None:
        self._plan = plan
        self._outputs = list(outputs)
        self._waits_for_operator = waits_for_operator
        self._waits_for_start = waits_for_start
        self._recorders = [recorder] if recorder is not None else []
        self._clock = clock
        self._control = control
        self._result = TakeResult(plan.timeline())

    def run(self, count_s: int = 0) -> TakeResult:
        """Count down while the first packet stands on the line, run the take, and let go of the light.

        Where the start is waited for, there is no count: it comes with the packet after it was asked for.
        Outputs must be open. Returns what was done; outputs that are lost on the way do not stop it.
        """
        start_ns = self._stand_by() if self._waits_for_start else self._count(count_s)
        if self._control.is_stopped:
            self._result.was_cut = self._result.counting_was_cut = True
        else:
            self._roll(max(start_ns, self._clock.now_ns()))
        self._show_progress(Phase.CUT if self._result.was_cut else Phase.ENDED, self._result.packets_sent - 1)
        self._let_go()
        return self._result

    def _period_ns(self, packets: int) -> int:
        """Return how long after the start a packet is due: its number over the refresh, to the nanosecond."""
        refresh = self._plan.refresh_hz
        return packets * 1_000_000_000 * refresh.denominator // refresh.numerator

    def _stand_by(self) -> int:
        """Hold packet 0 on the line until the take is started; return when its next packet is due.

        The shot starts on the beat of these packets: a line that is still sending one could not start sooner.
        """
        slots = self._result.timeline.slots([0])[0]
        armed_ns, number = self._clock.now_ns(), 0
        while not (self._control.is_started or self._control.is_stopped):
            due_ns = armed_ns + self._period_ns(number)
            self._clock.wait_until_ns(due_ns)
            if self._clock.now_ns() < armed_ns + self._period_ns(number + 1):
                self._send(Packet(0, due_ns, slots), self._outputs)
            self._show_progress(Phase.ARMED, 0)
            number += 1
        return armed_ns + self._period_ns(number)

    def _count(self, count_s: int) -> int:
        """Hold packet 0 on the line while the seconds are counted; return when the shot starts."""
        start_ns = self._clock.now_ns() + count_s * 1_000_000_000
        slots = self._result.timeline.slots([0])[0]
        ahead = (start_ns - self._clock.now_ns()) * self._plan.refresh_hz // 1_000_000_000
        for number in range(int(ahead), 0, -1):
            due_ns = start_ns - self._period_ns(number)
            self._clock.wait_until_ns(due_ns)
            if self._control.is_stopped:
                break
            if self._clock.now_ns() < due_ns + self._period_ns(1):
                self._send(Packet(0, due_ns, slots), self._outputs)
            self._show_progress(Phase.COUNTING, 0, (start_ns - due_ns) / 1e9)
        return start_ns

    def _roll(self, start_ns: int) -> None:
        beat, number, result = 0, 0, self._result
        carried: list[int] = []
        while self._control.take_fired():
            pass  # what was pressed before the start was not meant for the shot
        while number < result.timeline.packet_count or self._is_waited_for() or self._control.is_held:
            if self._control.is_stopped:
                result.was_cut = True
                return
            if self._control.is_held and beat:
                number -= 1
                result.carried = carried
            self._fire(number)
            due_ns = start_ns + self._period_ns(beat)
            slots = result.timeline.slots([number])[0]
            packet = Packet(beat, due_ns, slots, None if result.carried is None else number)
            self._clock.wait_until_ns(due_ns)
            now_ns = self._clock.now_ns()
            if now_ns < start_ns + self._period_ns(beat + 1):
                result.late_ns.append(now_ns - due_ns)
                self._send(packet, [*self._outputs, *self._recorders])
                carried.append(number)
                result.packets_sent += 1
            else:
                result.missed += 1
            self._show_progress(Phase.ROLLING, number)
            beat += 1
            number += 1

    def _fire(self, number: int) -> None:
        """Fire with a packet what was asked for: cues by name, or the next one of the operator's."""
        result = self._result
        for wanted in self._control.take_fired():
            cue = next(iter(self._waiting()), None) if wanted is None else wanted
            if cue in self._waiting() or cue in self._unpassed():
                result.fired.append(FiredCue(cue, number))
                result.timeline = self._plan.timeline(result.fired)

    def _is_waited_for(self) -> bool:
        return bool((self._waits_for_operator and self._waiting()) or self._unpassed())

    def _waiting(self) -> tuple[str, ...]:
        return self._plan.waiting_cues(self._result.fired)

    def _unpassed(self) -> tuple[str, ...]:
        """Return the cues of a live axis that have not passed their positions."""
        passed = {one.cue for one in self._result.fired}
        return tuple(cue for cue in self._plan.position_cues if cue not in passed)

    def _send(self, packet: Packet, outputs: Sequence[Output]) -> None:
        """Send to every output that is not lost; the recorder is among them for packets of the take only."""
        for output in outputs:
            if output.name in self._result.lost:
                continue
            try:
                output.send(packet)
            except OutputLost as lost:
                self._result.lost[output.name] = str(lost)

    def _let_go(self) -> None:
        """Leave the light as the show says: out, or as it is."""
        if self._plan.show.on_stop == "hold":
            return
        dark = self._plan.patch.encode(self._plan.patch.defaults[None])[0]
        now_ns = self._clock.now_ns()
        for number in range(1, OUT_PACKETS + 1):
            due_ns = now_ns + self._period_ns(number)
            self._clock.wait_until_ns(due_ns)
            self._send(Packet(0, due_ns, dark), self._outputs)

    def _show_progress(self, phase: Phase, number: int, counting_s: float = 0.0, chased: Chased | None = None) -> None:
        timeline = self._result.timeline
        waiting = next(iter(self._waiting()), None)
        time_s = max(number, 0) / float(timeline.refresh_hz)
        count = timeline.packet_count
        self._control.progress = TakeProgress(
            phase, counting_s, number, count, time_s, waiting, chased, self._control.is_held
        )
