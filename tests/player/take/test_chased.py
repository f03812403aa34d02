"""A take that follows timecode, on a clock that is moved by hand: which packets leave, when it ends, what is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from cuedeck.clock import ManualClock
from cuedeck.input.timecode import RecordingPlayback, TimecodeRecording
from cuedeck.output.base import Packet, line_of
from cuedeck.player.line.line_out import OUT_PACKETS, LineOut
from cuedeck.player.states import PlayerState
from cuedeck.player.take.chased import ChasedRunner
from cuedeck.player.take.control import TakeControl
from cuedeck.player.take.result import TakeResult, reason_of
from cuedeck.takes.carried import numbers_of
from cuedeck.takes.compare import is_as_rendered
from cuedeck.takes.recorder import Recorder
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Lateness, Status, Take
from cuedeck.timeline.chased import chased_packets, first_label, slots_of
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timing.chase import Arrival, Chaser, ChaseState, Located, Reading
from cuedeck.timing.timecode import RATES, Timecode
from tests.player.take.test_runner import START_NS, Written, held
from tests.takes.rolled import finish
from tests.timeline.shows import plan

ORIGIN = Timecode(0, RATES["25"])
LAST = 60
"""The last packet of the shot: 1.5 s at 40 Hz."""


def tape(frames: int, *, start: int = 0, speed: float = 1.0, at_s: float = 0.0) -> list[Reading]:
    step = 1 if speed > 0 else -1
    return [Arrival(at_s + n / (25 * abs(speed)), ORIGIN + (start + step * n), speed < 0) for n in range(frames)]


@dataclass
class Chase:
    """A chased take of a shot with one fade, with one output and a recorder, both written down."""

    readings: Sequence[Reading]
    length_s: float
    plan: ShotPlan = field(default_factory=lambda: held("cue: 1, at: 0.5 s, look: key, fade: 1 s"))
    clock: ManualClock = field(default_factory=lambda: ManualClock(START_NS))
    control: TakeControl = field(default_factory=TakeControl)

    def __post_init__(self) -> None:
        self.out = Written(self.clock)
        self.recorder = Written(self.clock, "recorder")
        self.recorded = TimecodeRecording("tape", tuple(self.readings), self.length_s)

    def run(self) -> TakeResult:
        """Run the take to its end."""
        return self.runner(self.recorder).run()

    def runner(self, recorder: Written | Recorder) -> ChasedRunner:
        """Return what runs the take."""
        source, chaser = RecordingPlayback(self.recorded), Chaser(first_label(self.plan))
        line_out = LineOut([self.out])
        return ChasedRunner(self.plan, line_out, recorder, self.clock, self.control, source=source, chaser=chaser)

    @property
    def offline(self) -> list[int]:
        """The packets that are rendered without a clock."""
        chaser = Chaser(first_label(self.plan))
        return chased_packets(self.readings, self.length_s, chaser, self.plan.timeline())


def test_packets_leave_at_the_refresh_and_carry_the_packet_of_the_label() -> None:
    chase = Chase(tape(100), 4.0)
    result = chase.run()
    assert result.carried == [0, 0, *range(2, LAST + 1)]
    assert chase.out.numbers == chase.recorder.numbers == list(range(LAST + 1))
    assert chase.out.times_ns == [START_NS + n * 25_000_000 for n in range(LAST + 1)]
    expected = slots_of(chase.plan.timeline(), result.carried)
    assert np.array_equal(np.stack([packet.slots for packet in chase.recorder.packets]), expected)
    assert (result.is_complete, result.packets_due, result.missed) == (True, 61, 0)


def test_before_the_shot_its_first_packet_is_held() -> None:
    chase = Chase(tape(80, start=-25), 3.2)
    result = chase.run()
    assert result.carried == [0] * 41 + list(range(1, LAST + 1))


def test_at_half_speed_each_packet_goes_twice() -> None:
    chase = Chase(tape(100, speed=0.5), 9.0)
    result = chase.run()
    assert result.carried is not None
    assert result.carried[10:20] == [5, 5, 6, 6, 7, 7, 8, 8, 9, 9]
    assert len(result.carried) == 2 * LAST + 1


def test_in_reverse_the_shot_runs_back_to_its_first_packet() -> None:
    # It comes from the end, so it does not end there; the recording does.
    chase = Chase(tape(60, start=50, speed=-1.0), 2.3)
    result = chase.run()
    assert result.carried is not None
    assert result.carried[40:50] == list(range(40, 30, -1))
    assert result.carried[-5:] == [0] * 5
    assert result.chase_fault == "the timecode ran from 00:00:01:23 to 23:59:59:17, backwards"
    assert not result.is_complete


def test_a_jump_goes_at_once_to_the_light_of_that_label_and_does_not_end_the_take() -> None:
    readings = [*tape(10), *tape(10, start=1000, at_s=0.4), *tape(40, start=20, at_s=0.8)]
    result = Chase(readings, 3.0).run()
    assert result.carried is not None
    assert result.carried[15:22] == [15, 16, 17, LAST, LAST, LAST, LAST]
    assert result.carried[33:38] == [LAST, 34, 35, 36, 37]
    assert result.carried[-1] == LAST


def test_a_stopped_timecode_holds_the_light_after_the_time_of_running_free() -> None:
    chase = Chase(tape(6), 4.0)
    result = chase.run()
    assert result.carried is not None
    assert result.carried[47:50] == [47, 48, 48]
    assert result.carried[-1] == 48
    assert len(result.carried) == 161


def test_a_full_frame_puts_the_light_where_it_is() -> None:
    result = Chase([Located(0.5, ORIGIN + 20)], 1.0).run()
    assert result.carried == [0] * 20 + [32] * 21


def test_with_recorded_timecode_a_live_take_sends_what_is_rendered_offline() -> None:
    readings = [*tape(10), *tape(12, start=30, speed=-1.3, at_s=0.4), *tape(30, start=5, speed=0.7, at_s=1.0)]
    chase = Chase(readings, 2.6)
    result = chase.run()
    assert result.carried == chase.offline
    assert chase.offline == chase.offline


def test_a_missed_packet_is_counted_and_the_next_is_where_the_timecode_is() -> None:
    chase = Chase(tape(100), 4.0)
    chase.out.on_packet = lambda packet: chase.clock.spin_ns(60_000_000 if packet.number == 10 else 0)
    result = chase.run()
    assert (result.missed, result.is_complete) == (1, False)
    assert result.carried is not None
    assert result.carried[9:13] == [9, 10, 12, 13]
    assert chase.recorder.numbers[9:13] == [9, 10, 12, 13]


def test_stopping_cuts_the_take_and_the_lights_go_out() -> None:
    chase = Chase(tape(100), 4.0, plan("cue: 1, at: 0 s, look: full", "cue: 2, at: 2 s, look: full"))
    chase.out.on_packet = lambda packet: chase.control.stop() if packet.number == 20 else None
    result = chase.run()
    assert (result.was_cut, result.packets_sent) == (True, 21)
    assert chase.out.first_slots == [255] * 21 + [0] * OUT_PACKETS


def test_the_state_and_the_label_are_shown() -> None:
    chase = Chase(tape(6), 4.0)
    seen: dict[int, str] = {}

    def look(packet: Packet) -> None:
        progress = chase.control.progress
        if progress is not None and progress.chased is not None:
            seen[packet.number] = f"{progress.packet + 1}: {progress.chased}"

    chase.out.on_packet = look
    chase.run()
    progress = chase.control.progress
    assert progress is not None
    assert progress.state is PlayerState.HOLDING
    assert seen[1] == "1: no timecode yet"
    assert seen[6] == "6: locked at 00:00:00:03"
    assert seen[41].endswith("free-running at 00:00:01:00")
    assert seen[100].endswith("stopped at 00:00:01:05")


# Whether it was the whole shot.

SHOT_END = "and the shot ends at 00:00:01:12"
FAULTS = {
    "silent": ([], "no timecode came: see that it is sent, and that its level is not too low"),
    "one label": (tape(1), "no timecode came: see that it is sent, and that its level is not too low"),
    "standing": ([Located(0.5, ORIGIN + 20)], "the timecode never ran: it stood at 00:00:00:20"),
    "before": (
        tape(20, start=-100),
        "the timecode ran from 23:59:56:01 to 23:59:56:24, and the shot begins at 00:00:00:00: see 'starts at'",
    ),
    "after": (
        tape(40, start=90_000),
        f"the timecode ran from 01:00:00:01 to 01:00:01:20, {SHOT_END}: see 'starts at'",
    ),
    "late": (tape(60, start=10), "the timecode began at 00:00:00:11, and the shot at 00:00:00:00"),
    "stops": (tape(6), f"the timecode broke off at 00:00:00:10, {SHOT_END}"),
    "stops just before the end": (tape(24), f"the timecode broke off at 00:00:01:03, {SHOT_END}"),
    "lost and back": (
        [*tape(10), *tape(60, start=10, at_s=2.4)],
        "the timecode broke off at 00:00:00:15, and went on at 00:00:00:11",
    ),
    "jumps on": (
        [*tape(10), *tape(40, start=20, at_s=0.4)],
        "the timecode broke off at 00:00:00:10, and went on at 00:00:00:21",
    ),
    "backwards": (
        tape(60, start=50, speed=-1.0),
        "the timecode ran from 00:00:01:23 to 23:59:59:10, backwards",
    ),
    "counted otherwise": (
        [Arrival(n / 24, Timecode(n, RATES["24"])) for n in range(60)],
        "the timecode was never locked: it counts 24, and the camera 25;"
        " write 'fps:' and 'timecode:' of the camera as the timecode is, or send 25",
    ),
    "counted otherwise from the middle on": (
        [*tape(10), *(Arrival(0.4 + n / 24, Timecode(n, RATES["24"])) for n in range(60))],
        f"the timecode broke off at 00:00:00:15, {SHOT_END}; after that it counts 24, and the camera 25;"
        " write 'fps:' and 'timecode:' of the camera as the timecode is, or send 25",
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_timecode_that_did_not_run_through_the_shot_leaves_the_take_incomplete_and_says_why(name: str) -> None:
    readings, fault = FAULTS[name]
    result = Chase(readings, 4.0).run()
    assert (result.chase_fault, result.is_complete) == (fault, False)
    assert reason_of(result) == fault


@pytest.mark.parametrize(
    "readings",
    [
        tape(60),
        tape(80, start=-20),
        tape(60, speed=2.0),
        tape(60, speed=0.5),
        [*tape(10), *tape(50, start=22, at_s=0.88)],
        [*tape(5, start=-50), *tape(60, start=-4, at_s=0.4)],
        [*tape(20), *tape(60, start=-4, at_s=1.0)],
    ],
    ids=[
        "from the first frame",
        "with a run-in",
        "double",
        "half",
        "dropout",
        "jump before",
        "once more",
    ],
)
def test_a_timecode_that_ran_through_the_shot_forwards_makes_the_take_complete(readings: list[Reading]) -> None:
    result = Chase(readings, 6.0).run()
    assert (result.chase_fault, result.is_complete) == ("", True)


def test_what_was_wrong_until_a_take_was_cut_is_said_and_not_that_it_did_not_reach_the_end() -> None:
    for readings, fault in ((tape(60), ""), FAULTS["silent"]):
        chase = Chase(readings, 4.0)
        chase.out.on_packet = lambda packet, chase=chase: chase.control.stop() if packet.number == 20 else None  # type: ignore[misc]
        result = chase.run()
        assert (result.was_cut, result.chase_fault) == (True, fault)


# What is kept.


def kept(folder: Path, chase: Chase) -> tuple[Take, TakeResult]:
    with TakeStore(folder, create=True) as store:
        line = line_of(chase.plan.patch, chase.plan.refresh_hz)
        take = store.begin("1", line, chase.plan.refresh_hz, 61, ["simulator"], "mtc:tape.mid")
        recorder = Recorder(store.path, take, chase.clock)
        recorder.open(line)
        result = chase.runner(recorder).run()
        recorder.close()
        late, carried = Lateness.of(result.late_ns), result.carried or ()
        finish(store, take.id, Status.COMPLETE, result.packets_due, result.packets_sent, [], late, carried)
    with TakeStore(folder) as store:
        (found,) = store.takes()
    return found, result


def test_a_chased_take_renders_again_byte_for_byte(tmp_path: Path) -> None:
    chase = Chase([*tape(30), *tape(30, start=25, speed=-1.0, at_s=1.2)], 2.0)
    take, result = kept(tmp_path, chase)
    assert take.chase == "mtc:tape.mid"
    assert numbers_of(take.carried).tolist() == result.carried == chase.offline
    assert len(take.carried) < 8
    with TakeStore(tmp_path) as store:
        assert is_as_rendered(store, take, chase.plan.timeline())
        other = held("cue: 1, at: 0.4 s, look: key, fade: 1 s")
        assert not is_as_rendered(store, take, other.timeline())


def test_a_chased_take_whose_program_was_killed_still_knows_what_it_sent(tmp_path: Path) -> None:
    chase = Chase([*tape(30), *tape(30, start=25, speed=-1.0, at_s=1.2)], 2.0)
    with TakeStore(tmp_path, create=True) as store:
        line = line_of(chase.plan.patch, chase.plan.refresh_hz)
        take = store.begin("1", line, chase.plan.refresh_hz, 61, ["simulator"], "mtc:tape.mid")
        recorder = Recorder(store.path, take, chase.clock)
        recorder.open(line)
        result = chase.runner(recorder).run()
        recorder.close()  # and nobody is there any more to finish the take
        (lost,) = store.close_left_behind()
        assert numbers_of(lost.carried).tolist() == result.carried
        assert (lost.status, lost.packets_sent) == (Status.BROKEN, result.packets_sent)
        assert lost.lateness == Lateness.of(result.late_ns)
        assert is_as_rendered(store, lost, chase.plan.timeline())


def test_a_chased_take_whose_list_is_lost_is_not_called_as_rendered(tmp_path: Path) -> None:
    take, result = kept(tmp_path, Chase(tape(30), 1.0))
    with TakeStore(tmp_path, create=True) as store:
        chase = Chase(tape(30), 1.0)
        short = finish(store, take.id, Status.COMPLETE, 1, 1, [], Lateness.of([]), (result.carried or [])[:-1])
        assert not is_as_rendered(store, short, chase.plan.timeline())


@pytest.mark.parametrize("fps", ["25", "29.97", "23.976", "50", "60"])
def test_the_start_of_a_shot_is_labelled_at_the_rate_of_the_camera(fps: str) -> None:
    from tests.timeline.shows import HEAD

    labelled = first_label(plan("cue: 1, at: 0 s, look: key", head=f"{HEAD}camera: {{fps: {fps}}}\n"))
    assert (str(labelled), labelled.rate) == ("00:00:00:00", RATES[fps])


def test_states_are_told_by_their_names() -> None:
    assert [state.value for state in ChaseState] == ["locked", "free-running", "stopped"]
