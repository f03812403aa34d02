"""Following timecode: a tape that is played at all speeds, with gaps, jumps and jitter, and what is made of it."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.timing.chase import (
    NEXT_STATE,
    Arrival,
    Chased,
    Chaser,
    ChaseState,
    Located,
    Reading,
    in_rate,
)
from cuedeck.timing.timecode import RATES, Timecode, TimecodeRate

LOCKED, FREE, STOPPED = ChaseState.LOCKED, ChaseState.FREE_RUNNING, ChaseState.STOPPED
RATE = RATES["25"]
ORIGIN = Timecode.parse("01:00:00:00", RATE)
FPS = 25
PACKET_S = 1 / 44
SPEEDS = st.floats(0.5, 2.0)
RATE_NAMES = ["23.976", "24", "25", "29.97", "29.97df", "30", "50", "59.94df", "60"]


def tape(
    frames: int, *, start: int = 0, speed: float = 1.0, at_s: float = 0.0, origin: Timecode = ORIGIN
) -> list[Arrival]:
    """Return the labels of a tape at one speed from a frame on; a negative speed plays it in reverse."""
    step = 1 if speed > 0 else -1
    frame_s = 1 / (abs(speed) * float(origin.rate.frames_per_second))
    return [Arrival(at_s + n * frame_s, origin + (start + step * n), speed < 0) for n in range(frames)]


def follow(readings: list[Reading] | list[Arrival], times_s: list[float], chaser: Chaser | None = None) -> list[Chased]:
    """Return what a chaser says at rising times, each reading fed when its time has come."""
    chaser = chaser or Chaser(ORIGIN)
    waiting = list(readings)
    told = []
    for time_s in times_s:
        while waiting and waiting[0].at_s <= time_s:
            chaser.feed(waiting.pop(0))
        told.append(chaser.at(time_s))
    return told


def every_packet(until_s: float, start_s: float = 0.0) -> list[float]:
    return [start_s + n * PACKET_S for n in range(int((until_s - start_s) / PACKET_S) + 1)]


def position(chased: Chased) -> float:
    assert chased.position_s is not None
    return chased.position_s


# Locking.


def test_nothing_is_known_before_a_second_label() -> None:
    told = follow(tape(1), [0.0, 0.1])
    assert told == [Chased(STOPPED, None, None, 0.0, 0)] * 2


@given(st.integers(-1000, 100_000), st.one_of(SPEEDS, SPEEDS.map(lambda speed: -speed)))
def test_it_locks_within_three_frames_at_any_speed_in_either_direction(start: int, speed: float) -> None:
    (told,) = follow(tape(3, start=start, speed=speed), [2 / FPS / abs(speed)])
    assert (told.state, told.jumps) == (LOCKED, 1)
    assert position(told) == pytest.approx((start + (2 if speed > 0 else -2)) / FPS, abs=1e-9)
    assert told.speed == pytest.approx(speed, abs=1e-6)


@pytest.mark.parametrize("name", RATE_NAMES)
def test_an_hour_of_labels_lasts_as_long_as_its_frames(name: str) -> None:
    rate = TimecodeRate.parse(name)
    origin = Timecode.parse("10:00:00:00", rate)
    label = Timecode.parse("11:00:00:00", rate)
    start = label.frames_since(origin)
    (told,) = follow(tape(4, start=start, origin=origin), [0.0 + 3 / float(rate.frames_per_second)], Chaser(origin))
    assert position(told) == pytest.approx(float((start + 3) / rate.frames_per_second), abs=1e-6)
    assert told.label == label + 3


def test_the_label_turns_at_the_edge_of_its_frame() -> None:
    told = follow(tape(50), [1.0, 1.0399, 1.04, 1.0401])
    assert [str(one.label) for one in told] == ["01:00:01:00", "01:00:01:00", "01:00:01:01", "01:00:01:01"]


def test_before_the_origin_the_position_is_negative_and_midnight_is_no_jump() -> None:
    origin = Timecode.parse("00:00:00:00", RATE)
    told = follow(tape(100, start=-50, origin=origin), [0.08, 1.0, 1.96, 2.04, 3.0], Chaser(origin))
    assert [position(one) for one in told] == pytest.approx([-1.92, -1.0, -0.04, 0.04, 1.0])
    assert str(told[0].label) == "23:59:58:02"
    assert {one.jumps for one in told} == {1}


# Speed.


@given(st.one_of(SPEEDS, SPEEDS.map(lambda speed: -speed)), st.integers(-500, 500))
def test_at_an_even_speed_the_position_is_that_of_the_tape(speed: float, start: int) -> None:
    times_s = every_packet(3.0, start_s=0.2)
    told = follow(tape(150, start=start, speed=speed), times_s)
    assert {one.state for one in told} == {LOCKED}
    expected = [start / FPS + speed * time_s for time_s in times_s]
    assert [position(one) for one in told] == pytest.approx(expected, abs=1e-6)


@given(st.lists(st.tuples(SPEEDS, st.integers(1, 40)), min_size=1, max_size=8))
def test_changes_of_speed_are_followed_without_a_step_back(stretches: list[tuple[float, int]]) -> None:
    readings: list[Arrival] = []
    at_s, frame = 0.0, 0
    for speed, frames in stretches:
        for _ in range(frames):
            readings.append(Arrival(at_s, ORIGIN + frame))
            at_s, frame = at_s + 1 / (FPS * speed), frame + 1
    told = follow(readings, every_packet(readings[-1].at_s + 0.02))
    known = [one for one in told if one.position_s is not None]
    assert all(position(after) >= position(before) for before, after in pairwise(known))
    assert all(one.state is not STOPPED and one.jumps == 1 for one in known)
    # Two labels after a change it is on the tape again; meanwhile it is never further off than the step itself.
    for time_s, one in zip(every_packet(readings[-1].at_s + 0.02), told, strict=True):
        passed = [reading for reading in readings if reading.at_s <= time_s]
        if one.position_s is not None:
            assert abs(one.position_s * FPS - (len(passed) - 1)) <= 5


def test_a_slow_down_from_double_to_half_speed_waits_and_goes_on() -> None:
    fast = tape(50, speed=2.0)
    slow = tape(50, start=50, speed=0.5, at_s=1.0)
    told = follow([*fast, *slow], [0.99, 1.02, 1.06, 1.5, 2.0])
    positions = [position(one) for one in told]
    assert positions == sorted(positions)
    assert positions[3:] == pytest.approx([2.25, 2.5], abs=1e-6)
    assert [one.speed for one in told[3:]] == pytest.approx([0.5, 0.5])


def test_a_still_label_that_is_sent_again_and_again_stands() -> None:
    still = [Arrival(1.0 + n / FPS, ORIGIN + 24) for n in range(50)]
    told = follow([*tape(25), *still], [1.2, 2.0, 2.9])
    assert {(one.state, one.speed) for one in told} == {(LOCKED, 0.0)}
    assert len({one.position_s for one in told}) == 1
    assert position(told[0]) == pytest.approx(24 / FPS, abs=1.5 / FPS)


def test_a_tape_that_turns_is_followed_back() -> None:
    back = tape(40, start=49, speed=-1.0, at_s=2.0)
    told = follow([*tape(50), *back], [1.9, 2.2, 3.0])
    assert [one.state for one in told] == [LOCKED] * 3
    assert [position(one) for one in told] == pytest.approx([1.9, 49 / FPS - 0.2, 49 / FPS - 1.0])
    assert told[-1].speed == pytest.approx(-1.0)


# Jitter.


@given(
    st.lists(st.floats(-0.002, 0.002), min_size=100, max_size=100),
    st.one_of(SPEEDS, SPEEDS.map(lambda speed: -speed)),
)
def test_jitter_of_midi_never_turns_the_position_and_is_smoothed(jitter_s: list[float], speed: float) -> None:
    # 2 ms: an early or late message on a busy MIDI line (common practice, no source).
    readings = [
        Arrival(one.at_s + off_s, one.label, one.is_reverse)
        for one, off_s in zip(tape(100, speed=speed), jitter_s, strict=True)
    ]
    end_s = readings[-1].at_s
    told = follow(readings, every_packet(end_s, start_s=0.6))
    sign = 1 if speed > 0 else -1
    assert all(sign * (position(after) - position(before)) >= 0 for before, after in pairwise(told))
    assert {(one.state, one.jumps) for one in told} == {(LOCKED, 1)}
    for time_s, one in zip(every_packet(end_s, start_s=0.6), told, strict=True):
        assert position(one) == pytest.approx(speed * time_s, abs=0.015)


def test_labels_that_come_in_bunches_are_followed_by_the_time_of_the_bunch() -> None:
    # Some networks hand MIDI over in bunches: four frames' labels at once, every 160 ms.
    readings = [Arrival(0.16 * (n // 4) + 0.0001 * (n % 4), ORIGIN + n) for n in range(100)]
    told = follow(readings, every_packet(3.8, start_s=0.7))
    assert {(one.state, one.jumps) for one in told} == {(LOCKED, 1)}
    assert [position(one) for one in told] == pytest.approx(every_packet(3.8, start_s=0.7), abs=1e-3)


# Dropouts.


def test_it_runs_free_through_a_gap_and_locks_again_without_a_step() -> None:
    labels = tape(100)
    told = follow([*labels[:25], *labels[45:]], [0.9, 1.0, 1.19, 1.3, 1.7, 1.8, 3.0])
    assert [one.state for one in told] == [LOCKED, LOCKED, LOCKED, FREE, FREE, LOCKED, LOCKED]
    assert [position(one) for one in told] == pytest.approx([0.9, 1.0, 1.19, 1.3, 1.7, 1.8, 3.0])
    assert {one.jumps for one in told} == {1}


@given(st.floats(0.1, 3.0), SPEEDS)
def test_after_the_time_of_running_free_it_holds_where_it_was(free_run_s: float, speed: float) -> None:
    labels = tape(30, speed=speed)
    last_s = labels[-1].at_s
    times_s = [last_s, last_s + free_run_s + 1e-6, last_s + free_run_s + 5, last_s + 1000]
    told = follow(labels, times_s, Chaser(ORIGIN, free_run_s))
    assert [one.state for one in told] == [LOCKED, STOPPED, STOPPED, STOPPED]
    stopped = 29 / FPS + speed * free_run_s
    assert [position(one) for one in told[1:]] == pytest.approx([stopped] * 3, abs=1e-6)
    assert {one.speed for one in told[1:]} == {0.0}


def test_where_it_stops_does_not_depend_on_when_it_is_asked() -> None:
    often, seldom = follow(tape(30), every_packet(10.0)), follow(tape(30), [10.0])
    assert position(often[-1]) == pytest.approx(position(seldom[-1]), abs=1e-9)


@given(st.lists(st.booleans(), min_size=60, max_size=60), SPEEDS)
def test_lost_labels_change_nothing_while_some_come(kept: list[bool], speed: float) -> None:
    labels = tape(65, speed=speed)
    some = [*labels[:5], *(label for label, is_kept in zip(labels[5:], kept, strict=True) if is_kept)]
    times_s = every_packet(some[-1].at_s, start_s=0.2)
    told = follow(some, times_s, Chaser(ORIGIN, 10.0))
    assert [position(one) for one in told] == pytest.approx([speed * time_s for time_s in times_s], abs=1e-6)
    assert STOPPED not in {one.state for one in told}


# Jumps.


@given(st.integers(-80_000, 80_000).filter(lambda frames: abs(frames) > 4), st.integers(5, 40))
def test_a_jump_that_is_confirmed_is_followed_at_once(to: int, before: int) -> None:
    at_s = before / FPS
    jumped = tape(20, start=before + to, at_s=at_s)
    told = follow([*tape(before), *jumped], [at_s - 0.001, at_s + 0.5 / FPS, at_s + 1 / FPS, at_s + 2 / FPS])
    assert [one.state for one in told] == [LOCKED] * 4
    assert [one.jumps for one in told] == [1, 1, 2, 2]
    expected = [before - 0.001 * FPS, before + 0.5, before + to + 1, before + to + 2]
    assert [position(one) * FPS for one in told] == pytest.approx(expected, abs=1e-5)


def test_a_tape_that_stood_for_a_while_is_gone_back_to_at_once() -> None:
    told = follow([*tape(25), *tape(25, start=25, at_s=1.6)], [1.59, 1.61, 1.65, 2.0])
    assert [one.state for one in told] == [FREE, FREE, LOCKED, LOCKED]
    assert [position(one) for one in told] == pytest.approx([1.59, 1.61, 1.05, 1.4])


@given(st.integers(10, 40), st.integers(-80_000, 80_000), st.booleans())
def test_one_label_that_is_wrong_changes_nothing(place: int, wrong: int, is_reverse: bool) -> None:
    labels = tape(60)
    labels[place] = Arrival(labels[place].at_s, ORIGIN + (place + wrong), is_reverse)
    if not is_reverse and -3 < wrong < 3:
        return  # near enough to be believed
    times_s = every_packet(2.3, start_s=0.1)
    told = follow(labels, times_s)
    assert [position(one) for one in told] == pytest.approx(times_s, abs=1e-6)
    assert {(one.state, one.jumps) for one in told} == {(LOCKED, 1)}


@given(st.sampled_from([-2, -1, 1, 2]))
def test_a_step_of_up_to_two_frames_is_taken_without_turning_back(step: int) -> None:
    told = follow([*tape(25), *tape(50, start=25 + step, at_s=1.0)], every_packet(2.9, start_s=0.1))
    positions = [position(one) for one in told]
    assert positions == sorted(positions)
    assert positions[-1] == pytest.approx(every_packet(2.9, start_s=0.1)[-1] + step / FPS, abs=1e-6)
    assert {one.jumps for one in told} == {1}


def test_a_transport_that_locates_is_followed_at_once_and_stands() -> None:
    readings: list[Reading] = [*tape(25), Located(1.0, ORIGIN + 500), *tape(25, start=500, at_s=3.0)]
    told = follow(readings, [0.99, 1.0, 2.9, 3.04, 3.5])
    assert [one.state for one in told] == [LOCKED, STOPPED, STOPPED, LOCKED, LOCKED]
    assert [position(one) for one in told] == pytest.approx([0.99, 20.0, 20.0, 20.04, 20.5])


# Sameness.


READINGS = st.lists(
    st.tuples(st.floats(0, 0.2), st.integers(-30, 30), st.booleans(), st.booleans()), min_size=1, max_size=60
)


@given(READINGS)
def test_whatever_arrives_the_same_readings_give_the_same_positions(drawn: list[tuple[float, int, bool, bool]]) -> None:
    at_s, readings = 0.0, list[Reading]()
    for after_s, frame, is_reverse, is_located in drawn:
        at_s += after_s
        label = ORIGIN + frame
        readings.append(Located(at_s, label) if is_located else Arrival(at_s, label, is_reverse))
    times_s = every_packet(at_s + 2)
    told = follow(readings, times_s)
    assert told == follow(readings, times_s)
    for before, after in pairwise(told):
        if before.state is not STOPPED and before.jumps == after.jumps and before.speed > 0:
            assert position(after) >= position(before)
    assert told[-1].state is STOPPED


def test_every_state_can_be_reached_and_left() -> None:
    assert {state for state, _ in NEXT_STATE} == set(NEXT_STATE.values()) == set(ChaseState)


# Rates.


@pytest.mark.parametrize(
    ("name", "text", "to", "expected"),
    [
        ("25", "01:00:00:12", "25", "01:00:00:12"),
        ("25", "01:00:00:12", "50", "01:00:00:24"),
        ("24", "01:00:00:12", "23.976", "01:00:00:12"),
        ("30", "01:00:00:29", "29.97", "01:00:00:29"),
        ("29.97df", "00:01:00;02", "59.94df", "00:01:00;04"),
        ("30", "01:00:00:29", "29.97df", None),
        ("25", "01:00:00:12", "24", None),
        ("50", "01:00:00:12", "25", None),
    ],
)
def test_a_label_is_taken_by_its_count_or_not_at_all(name: str, text: str, to: str, expected: str | None) -> None:
    found = in_rate(Timecode.parse(text, TimecodeRate.parse(name)), TimecodeRate.parse(to))
    assert (None if found is None else str(found)) == expected


def test_timecode_that_counts_otherwise_is_passed_over_and_told() -> None:
    other = Timecode.parse("01:00:00:00", RATES["30"])
    (told,) = follow(tape(5, origin=other), [1.0])
    assert (told.state, told.position_s, told.foreign) == (STOPPED, None, other + 4)


@pytest.mark.parametrize(("speed", "start"), product([0.5, 1.0, -1.5], [0, 77]))
def test_timecode_of_half_the_rate_carries_a_camera_of_double_rate(speed: float, start: int) -> None:
    origin = Timecode.parse("01:00:00:00", RATES["50"])
    times_s = every_packet(1.5, start_s=0.2)
    told = follow(tape(60, start=start, speed=speed), times_s, Chaser(origin))
    expected = [start / FPS + speed * time_s for time_s in times_s]
    assert [position(one) for one in told] == pytest.approx(expected, abs=1e-6)
