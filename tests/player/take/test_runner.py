"""A take on a clock that is moved by hand: when packets leave, what is counted, what is let go."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from cuedeck.clock import ManualClock
from cuedeck.output.base import Line, OutputLost, Packet, line_of
from cuedeck.player.line.line_out import OUT_PACKETS, LineOut
from cuedeck.player.states import PlayerState
from cuedeck.player.take.control import TakeControl
from cuedeck.player.take.result import TakeResult
from cuedeck.player.take.runner import TakeRunner
from cuedeck.rig.patch import Patch
from cuedeck.timeline.plan import FiredCue, ShotPlan
from cuedeck.timeline.timeline import PACKETS_AHEAD, Span, StartedCue
from tests.timeline.shows import HEAD, plan

SECOND_NS = 1_000_000_000
START_NS = 5_000_000_000


@dataclass
class Written:
    """An output that keeps every packet with the time it came, and may do something at each."""

    clock: ManualClock
    name: str = "written"
    on_packet: Callable[[Packet], None] = lambda packet: None  # noqa: ARG005 - nothing, unless told
    packets: list[Packet] = field(default_factory=list)
    times_ns: list[int] = field(default_factory=list)

    def open(self, line: Line) -> None:
        """Get ready."""

    def send(self, packet: Packet) -> None:
        """Keep a packet, then do what was asked."""
        self.packets.append(packet)
        self.times_ns.append(self.clock.now_ns())
        self.on_packet(packet)

    def record(self, packet: Packet, sent_ns: int) -> None:
        """Keep a packet of a take and when it began to be sent, then do what was asked."""
        self.packets.append(packet)
        self.times_ns.append(sent_ns)
        self.on_packet(packet)

    def close(self) -> None:
        """Do nothing."""

    @property
    def numbers(self) -> list[int]:
        """The numbers of the packets."""
        return [packet.number for packet in self.packets]

    @property
    def first_slots(self) -> list[int]:
        """The value of the first slot in each packet."""
        return [int(packet.slots[0, 0]) for packet in self.packets]


@dataclass
class Stage:
    """A take with one output and a recorder, both written down."""

    plan: ShotPlan
    clock: ManualClock = field(default_factory=lambda: ManualClock(START_NS))
    control: TakeControl = field(default_factory=TakeControl)

    def __post_init__(self) -> None:
        self.out = Written(self.clock)
        self.recorder = Written(self.clock, "recorder")

    def run(self, count_s: int = 0, *others: Written) -> TakeResult:
        """Run the take to its end."""
        line_out = LineOut([self.out, *others])
        return TakeRunner(self.plan, line_out, self.recorder, self.clock, self.control).run(count_s)


FADE = ("cue: 1, at: 0 s, look: black", "cue: 2, at: 0.5 s, look: key, fade: 1 s")


def held(*cues: str, shot: str = "") -> ShotPlan:
    """Return a plan whose lights hold when the take ends."""
    return plan(*cues, shot=shot, head=HEAD.replace("slots: 24", "slots: 24\non stop: hold"))


# When packets leave.


@pytest.mark.parametrize(("refresh", "seconds"), [(Fraction(44), 900), (Fraction(33, 10), 3600)])
def test_every_packet_leaves_at_its_number_over_the_refresh_and_nothing_drifts(refresh: Fraction, seconds: int) -> None:
    # The periods are no whole numbers of nanoseconds: what is rounded must not add up.
    head = HEAD.replace("40 Hz", f"{float(refresh)} Hz").replace("slots: 24", "slots: 24\non stop: hold")
    rig = head[: head.index("  old: {type: old")]
    cue = f"cue: 1, at: {seconds - 1} s, look: key, fade: 1 s"
    stage = Stage(plan(cue, head=rig, looks="looks: {key: {key: full}}\n"))
    result = stage.run()
    count = int(refresh * seconds) + 1
    assert result.is_complete
    assert result.packets_sent == count
    assert stage.out.times_ns == [START_NS + int(number * SECOND_NS / refresh) for number in range(count)]
    assert set(result.late_ns) == {0}
    assert stage.out.times_ns[-1] == START_NS + seconds * SECOND_NS


def test_the_packets_of_a_take_are_those_of_the_timeline() -> None:
    stage = Stage(held(*FADE))
    result = stage.run()
    timeline = stage.plan.timeline()
    assert stage.out.numbers == stage.recorder.numbers == list(range(61))
    rendered = timeline.slots(range(61))
    for output in (stage.out, stage.recorder):
        assert np.array_equal(np.stack([packet.slots for packet in output.packets]), rendered)
        assert [packet.due_ns for packet in output.packets] == output.times_ns
    assert (result.packets_due, result.packets_sent, result.missed, result.was_cut) == (61, 61, 0, False)


def test_what_a_take_sends_is_told_before() -> None:
    shot = plan(*FADE)
    assert line_of(shot.patch, shot.refresh_hz) == Line((1,), 24, 40.0, 24)


def test_a_slow_output_loses_packets_that_are_counted_and_never_bunched() -> None:
    # Each packet takes one and a half periods of 25 ms on this line.
    stage = Stage(held("cue: 1, at: 0 s, look: key, fade: 2 s"))
    stage.out.on_packet = lambda _: stage.clock.spin_ns(37_500_000)
    result = stage.run()
    assert result.packets_sent == len(stage.out.packets)
    assert result.packets_sent + result.missed == result.packets_due == 81
    assert stage.out.numbers[:6] == [0, 1, 3, 4, 6, 7]
    assert result.missed == 27
    assert not result.is_complete
    since_start_ns = [time_ns - START_NS for time_ns in stage.out.times_ns]
    assert [time_ns // 25_000_000 for time_ns in since_start_ns] == stage.out.numbers
    gaps = [after - before for before, after in pairwise(since_start_ns)]
    assert min(gaps) >= 37_500_000
    assert result.late_ns[:6] == [0, 12_500_000, 25_000_000, 12_500_000, 25_000_000, 12_500_000]


def test_after_one_long_stall_packets_are_in_time_again() -> None:
    stage = Stage(held("cue: 1, at: 0 s, look: key, fade: 1 s"))
    stage.out.on_packet = lambda packet: stage.clock.spin_ns(110_000_000 if packet.number == 4 else 0)
    result = stage.run()
    assert stage.out.numbers == [0, 1, 2, 3, 4, *range(8, 41)]
    assert result.missed == 3
    assert result.late_ns[:7] == [0, 0, 0, 0, 0, 85_000_000, 0], "packet 5 was due 85 ms before packet 8 left"
    assert stage.out.times_ns[-1] == START_NS + SECOND_NS


def test_a_stall_that_lasts_to_the_end_of_the_shot_is_in_the_lateness() -> None:
    stage = Stage(held("cue: 1, at: 0 s, look: key, fade: 1 s"))
    stage.out.on_packet = lambda packet: stage.clock.spin_ns(9_000_000_000 if packet.number == 30 else 0)
    result = stage.run()
    assert (result.missed, result.is_complete) == (10, False)
    assert max(result.late_ns) == 9_000_000_000 - 25_000_000
    assert stage.control.progress is not None
    assert stage.control.progress.latest_ns == max(result.late_ns)


def test_a_missed_packet_is_not_recorded() -> None:
    stage = Stage(held("cue: 1, at: 0 s, look: key, fade: 1 s"))
    stage.out.on_packet = lambda packet: stage.clock.spin_ns(60_000_000 if packet.number == 10 else 0)
    stage.run()
    assert stage.recorder.numbers == stage.out.numbers
    assert 11 not in stage.recorder.numbers


def test_a_packet_is_recorded_with_the_time_when_its_sending_began() -> None:
    stage = Stage(held("cue: 1, at: 0 s, look: key, fade: 1 s"))
    stage.out.on_packet = lambda _: stage.clock.spin_ns(7_000_000)  # an output that takes its time
    stage.run()
    assert stage.recorder.times_ns == [START_NS + number * 25_000_000 for number in range(41)]


# What is lost.


def lose_at(number: int) -> Callable[[Packet], None]:
    def send(packet: Packet) -> None:
        if packet.number == number:
            raise OutputLost("the cable was pulled")

    return send


# Stopping.


def test_stopping_cuts_the_take_and_the_lights_go_out_with_the_next_packets() -> None:
    stage = Stage(plan("cue: 1, at: 0 s, look: full", "cue: 2, at: 2 s, look: full"))
    stage.out.on_packet = lambda packet: stage.control.stop() if packet.number == 20 else None
    result = stage.run()
    assert (result.was_cut, result.counting_was_cut, result.packets_sent) == (True, False, 21)
    assert not result.is_complete
    assert stage.out.first_slots == [255] * 21 + [0] * OUT_PACKETS
    assert stage.out.packets[-1].slots[0, :3].tolist() == [0, 0, 0]
    period_ns = 25_000_000
    assert stage.out.times_ns[20:] == [START_NS + number * period_ns for number in (20, 21, 22, 23)]
    assert stage.recorder.numbers == list(range(21))


def test_stopping_holds_the_light_where_the_show_says_so() -> None:
    stage = Stage(held("cue: 1, at: 0 s, look: full", "cue: 2, at: 2 s, look: full"))
    stage.out.on_packet = lambda packet: stage.control.stop() if packet.number == 20 else None
    assert stage.run().was_cut
    assert stage.out.first_slots == [255] * 21


def test_the_lights_go_out_at_the_end_of_a_take_too() -> None:
    stage = Stage(plan("cue: 1, at: 0 s, look: full", "cue: 2, at: 1 s, look: full"))
    result = stage.run()
    assert result.is_complete
    assert stage.out.first_slots == [255] * 41 + [0] * OUT_PACKETS


def test_a_take_that_was_stopped_before_it_began_sends_no_packet_of_it() -> None:
    stage = Stage(plan("cue: 1, at: 0 s, look: full"))
    stage.control.stop()
    result = stage.run()
    assert (result.was_cut, result.counting_was_cut, result.packets_sent) == (True, True, 0)
    assert stage.out.first_slots == [0] * OUT_PACKETS
    assert stage.recorder.packets == []


def test_the_light_is_kept_at_the_end_of_a_take_whose_client_was_lost() -> None:
    stage = Stage(plan("cue: 1, at: 0 s, look: full", "cue: 2, at: 1 s, look: full"))
    stage.control.keeps_light = True
    assert stage.run().is_complete
    assert stage.out.first_slots == [255] * 41


# Blackout.


def test_a_blackout_reaches_the_line_with_the_next_packet_and_stays_until_it_is_released() -> None:
    stage = Stage(held("cue: 1, at: 0 s, look: full", "cue: 2, at: 1 s, look: full"))
    line_out = LineOut([stage.out], stage.plan.patch.dark)

    def ask(packet: Packet) -> None:
        if packet.number in (9, 29):
            line_out.is_blacked_out = packet.number == 9

    stage.out.on_packet = ask
    result = TakeRunner(stage.plan, line_out, stage.recorder, stage.clock, stage.control).run()
    assert (result.blacked_out, result.is_complete) == (20, False)
    assert stage.out.first_slots == [255] * 10 + [0] * 20 + [255] * 11
    recorded = [int(packet.slots[0, 0]) for packet in stage.recorder.packets]
    assert recorded == stage.out.first_slots, "the log has what was on the line"


# Counting down.


def test_the_countdown_holds_packet_0_on_the_line_and_is_not_recorded() -> None:
    stage = Stage(held("cue: 1, at: 0 s, look: half", "cue: 2, at: 1 s, look: full"))
    result = stage.run(3)
    assert result.is_complete
    assert stage.out.numbers == [0] * 120 + list(range(41))
    assert stage.out.first_slots == [128] * 160 + [255]
    assert stage.out.times_ns == [START_NS + number * 25_000_000 for number in range(161)]
    assert stage.recorder.numbers == list(range(41))
    assert stage.recorder.times_ns[0] == START_NS + 3 * SECOND_NS
    assert result.packets_sent == 41


def test_stopping_while_counting_keeps_no_packet_and_puts_the_lights_out() -> None:
    stage = Stage(plan("cue: 1, at: 0 s, look: half"))
    stage.out.on_packet = lambda _: stage.control.stop() if len(stage.out.packets) == 7 else None
    result = stage.run(3)
    assert (result.was_cut, result.counting_was_cut, result.packets_sent) == (True, True, 0)
    assert stage.out.first_slots == [128] * 7 + [0] * OUT_PACKETS
    assert stage.recorder.packets == []


# The operator.

OPERATED = (
    "cue: 1, at: 0 s, look: black",
    "cue: 2, at: operator, look: key, fade: 1 s",
    "cue: 3, at: operator, look: black, fade: 0.5 s",
    "cue: 4, after: 3, look: old",
)


def test_a_fired_cue_costs_the_thread_that_sends_its_own_span_and_none_of_those_to_come(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    cues = [
        f"cue: c{number}, at: {number + 1} s, look: {'key' if number % 2 else 'old'}, fade: 1 s" for number in range(9)
    ]
    stage = Stage(held("cue: by hand, at: operator, look: half, fade: 3 s", *cues))
    compiled: list[str] = []
    by_packet: dict[int, list[str]] = {}
    span = StartedCue.span

    def noted(cue: StartedCue, before: Span, patch: Patch) -> Span:
        compiled.append(cue.name)
        return span(cue, before, patch)

    def look(packet: Packet) -> None:
        by_packet[packet.number] = compiled.copy()
        compiled.clear()
        if packet.number == 90:
            stage.control.fire_next()

    monkeypatch.setattr(StartedCue, "span", noted)
    stage.out.on_packet = look
    result = stage.run()
    assert result.is_complete
    assert by_packet.pop(0) == [f"c{number}" for number in range(9)]  # all of it before the first packet
    assert by_packet.pop(91) == ["by hand"]
    later = {name: number for number, names in by_packet.items() for name in names}
    assert sorted(later) == [f"c{number}" for number in range(2, 9)]
    assert all(len(names) <= 1 for names in by_packet.values())
    for number in range(2, 9):  # with the packets that are rendered together
        assert 0 <= 40 * (number + 1) - later[f"c{number}"] < PACKETS_AHEAD


def test_a_fired_cue_starts_in_the_next_packet_and_the_rest_is_the_timeline_of_what_was_fired() -> None:
    stage = Stage(held(*OPERATED, shot="    length: 3 s\n"))
    stage.out.on_packet = lambda packet: stage.control.fire_next() if packet.number in (9, 29) else None
    result = stage.run()
    assert result.fired == [FiredCue("2", 10), FiredCue("3", 30)]
    again = stage.plan.timeline(result.fired)
    assert again.cues == result.timeline.cues
    assert [cue.start_s for cue in again.cues] == [0, Fraction(1, 4), Fraction(3, 4), Fraction(5, 4)]
    rendered = again.slots(range(again.packet_count))
    assert np.array_equal(np.stack([packet.slots for packet in stage.recorder.packets]), rendered)
    assert stage.out.first_slots[10:14] == [0, 6, 13, 19]


def test_a_fade_that_is_fired_late_makes_the_take_longer() -> None:
    stage = Stage(held(*OPERATED, shot="    length: 1 s\n"))
    stage.out.on_packet = lambda packet: stage.control.fire_next() if packet.number == 39 else None
    result = stage.run()
    assert result.fired == [FiredCue("2", 40)]
    assert result.packets_due == result.packets_sent == 81
    assert stage.out.first_slots[-1] == 255


def test_two_presses_fire_two_cues_in_two_packets_and_a_third_is_let_pass() -> None:
    stage = Stage(held(*OPERATED, shot="    length: 2 s\n"))

    def press(packet: Packet) -> None:
        for _ in range(3 if packet.number == 4 else 0):
            stage.control.fire_next()

    stage.out.on_packet = press
    assert stage.run().fired == [FiredCue("2", 5), FiredCue("3", 6)]


def test_a_cue_fired_by_name_comes_out_of_turn_and_once() -> None:
    stage = Stage(held(*OPERATED, shot="    length: 2 s\n"))

    def ask(packet: Packet) -> None:
        for cue in {4: ("3", "nobody", "1"), 8: ("3", "2")}.get(packet.number, ()):
            stage.control.fire(cue)

    stage.out.on_packet = ask
    assert stage.run().fired == [FiredCue("3", 5), FiredCue("2", 9)]


def test_cues_fired_by_name_between_two_packets_start_together() -> None:
    stage = Stage(held(*OPERATED, shot="    length: 2 s\n"))

    def ask(packet: Packet) -> None:
        if packet.number == 4:
            stage.control.fire("3")
            stage.control.fire("2")

    stage.out.on_packet = ask
    assert stage.run().fired == [FiredCue("3", 5), FiredCue("2", 5)]


# A live axis.

RIDDEN = (
    "cue: 1, at: 0 s, look: black",
    "cue: 2, at: slide 30 mm, look: full",
    "cue: 3, at: operator, look: half",
    "cue: 4, after: 2, wait: 0.5 s, look: black",
)
MOVE = "    move: {ease: linear, keys: [{time: 0 s, slide: 0 mm}, {time: 1 s, slide: 100 mm}]}\n"


def test_a_cue_tied_to_a_position_fires_when_the_axis_says_so_and_the_take_waits_for_it() -> None:
    stage = Stage(replace(held(*RIDDEN, shot=MOVE), is_axis_live=True))
    stage.out.on_packet = lambda packet: stage.control.fire("2") if packet.number == 99 else None
    result = stage.run()
    assert result.fired == [FiredCue("2", 100)]
    assert stage.out.first_slots == [0] * 100 + [255] * 20 + [0]
    again = stage.plan.timeline(result.fired)
    rendered = again.slots(range(again.packet_count))
    assert np.array_equal(np.stack([packet.slots for packet in stage.recorder.packets]), rendered)


def test_on_a_live_axis_the_move_on_file_fires_nothing() -> None:
    filed = held(*RIDDEN, shot=MOVE)
    live = replace(filed, is_axis_live=True)
    assert filed.start_times()["2"] is not None
    assert (live.start_times()["2"], live.start_times()["4"]) == (None, None)
    assert (filed.position_cues, live.position_cues) == ((), ("2",))
    assert live.waiting_cues([]) == filed.waiting_cues([]) == ("3",)


# Armed.


def armed(stage: Stage) -> TakeResult:
    line_out = LineOut([stage.out])
    return TakeRunner(stage.plan, line_out, stage.recorder, stage.clock, stage.control, waits_for_start=True).run()


def test_an_armed_take_holds_packet_0_on_the_line_until_it_is_started() -> None:
    stage = Stage(held("cue: 1, at: 0 s, look: half", "cue: 2, at: 1 s, look: full"))
    phases: list[PlayerState] = []

    def on_packet(_: Packet) -> None:
        if stage.control.progress is not None:
            phases.append(stage.control.progress.state)
            assert stage.control.is_rolling == (stage.control.progress.state is PlayerState.ROLLING)
        if len(stage.out.packets) == 200:
            stage.control.start()

    stage.out.on_packet = on_packet
    result = armed(stage)
    assert result.is_complete
    assert stage.out.numbers == [0] * 200 + list(range(41))
    assert stage.out.times_ns == [START_NS + number * 25_000_000 for number in range(241)], "the beat goes on"
    assert stage.recorder.numbers == list(range(41))
    assert phases == [PlayerState.STANDING_BY] * 200 + [PlayerState.ROLLING] * 40


def test_what_is_fired_before_an_armed_take_starts_is_not_meant_for_it() -> None:
    stage = Stage(held(*OPERATED, shot="    length: 1 s\n"))

    def on_packet(_: Packet) -> None:
        if len(stage.out.packets) == 5:
            stage.control.fire("2")
            stage.control.fire_next()
            stage.control.start()

    stage.out.on_packet = on_packet
    assert armed(stage).fired == []


def test_an_armed_take_that_is_stopped_keeps_no_packet_and_puts_the_lights_out() -> None:
    stage = Stage(plan("cue: 1, at: 0 s, look: half"))
    stage.out.on_packet = lambda _: stage.control.stop() if len(stage.out.packets) == 7 else None
    result = armed(stage)
    assert (result.was_cut, result.counting_was_cut, result.packets_sent) == (True, True, 0)
    assert stage.out.first_slots == [128] * 7 + [0] * OUT_PACKETS


# What is shown.


def test_progress_tells_the_state_the_packet_and_the_next_operator_cue() -> None:
    stage = Stage(plan(*OPERATED, shot="    length: 1 s\n"))
    seen: list[tuple[PlayerState, str | None]] = []

    def look(packet: Packet) -> None:
        if packet.number == 9:
            stage.control.fire_next()
        if stage.control.progress is not None:
            seen.append((stage.control.progress.state, stage.control.progress.next_operator_cue))

    stage.out.on_packet = look
    stage.run(1)
    assert seen[:39] == [(PlayerState.COUNTING, "2")] * 39
    assert seen[40:50] == [(PlayerState.ROLLING, "2")] * 10
    assert seen[51] == (PlayerState.ROLLING, "3")
    progress = stage.control.progress
    assert progress is not None
    assert (progress.state, progress.packet, progress.packet_count) == (PlayerState.HOLDING, 50, 51)
    assert progress.time_s == 1.25


def test_a_run_from_the_middle_is_at_the_end_of_the_shot_when_it_is_over() -> None:
    """However many packets were sent."""
    stage = Stage(held(*FADE))  # 61 packets
    runner = TakeRunner(stage.plan, LineOut([stage.out]), None, stage.clock, stage.control, first_packet=40)
    assert runner.run().packets_sent == 21
    assert stage.control.progress is not None
    assert stage.control.progress.packet == 60


# Holding the shot.


def test_a_held_shot_sends_the_packet_it_was_held_at_and_goes_on_from_there() -> None:
    stage = Stage(held(*FADE))  # 61 packets of 25 ms; a fade from packet 20 to 60

    def hold_for_ten_packets(packet: Packet) -> None:
        if packet.number in (40, 50):
            stage.control.hold()

    stage.out.on_packet = hold_for_ten_packets
    result = stage.run()
    assert result.carried == [*range(41), *[40] * 10, *range(41, 61)]
    assert stage.out.numbers == list(range(71))
    of_shot = [one.number if one.carried is None else one.carried for one in stage.out.packets[:71]]
    assert of_shot == result.carried
    rendered = stage.plan.timeline().slots(range(61))[:, 0, 0].tolist()
    assert stage.out.first_slots == [rendered[number] for number in result.carried]
    assert (result.packets_sent, result.packets_due, result.is_complete) == (71, 71, True)


def test_a_cue_fired_while_the_shot_is_held_begins_at_the_packet_it_is_held_at() -> None:
    stage = Stage(
        held("cue: 1, at: 0 s, look: black", "cue: 2, at: operator, look: key, fade: 1 s", shot="    length: 1 s\n")
    )

    def at(packet: Packet) -> None:
        if packet.number == 10:
            stage.control.hold(True)
        if packet.number == 15:
            stage.control.fire_next()
        if packet.number == 20:
            stage.control.hold(False)

    stage.out.on_packet = at
    result = stage.run()
    assert result.fired == [FiredCue("2", 10)]
    assert result.carried is not None
    rendered = stage.plan.timeline(result.fired).slots(range(60))[:, 0, 0].tolist()
    assert stage.out.first_slots == [rendered[number] for number in result.carried]


def test_a_shot_that_is_held_at_its_end_waits_there_until_it_is_let_go() -> None:
    stage = Stage(held(*FADE))

    def at(packet: Packet) -> None:
        if packet.number == 60:
            stage.control.hold(True)
        if packet.number == 100:
            stage.control.hold(False)

    stage.out.on_packet = at
    result = stage.run()
    assert result.carried == [*range(61), *[60] * 40]


class BusyAtFirst(ManualClock):
    """Wakes up too late, once, for the first packets of a shot."""

    late_ns = 60_000_000

    def wait_until_ns(self, deadline_ns: int) -> None:
        super().wait_until_ns(deadline_ns + self.late_ns)
        self.late_ns = 0


def test_a_shot_whose_first_packet_was_missed_is_held_only_once_one_is_on_the_line() -> None:
    stage = Stage(held(*FADE), BusyAtFirst(START_NS))
    stage.control.hold(True)  # asked for while the seconds were counted

    def at(packet: Packet) -> None:
        if packet.number == 20:
            stage.control.hold(False)

    stage.out.on_packet = at
    result = stage.run()
    assert result.missed == 2
    assert result.carried == [*[2] * 19, *range(3, 61)], "it stays at the first that left"


def test_a_take_that_was_never_held_carries_its_packets_as_they_are_numbered() -> None:
    assert Stage(held(*FADE)).run().carried is None
