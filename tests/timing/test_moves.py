"""Moves: what a rig recorded or a show wrote out, and when an axis passes a position."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from cuedeck.show.load import load_show
from cuedeck.show.model import MoveKeys
from cuedeck.show.problems import ProblemsFound
from cuedeck.show.triggers import Direction
from cuedeck.timing.move_table import read_csv
from cuedeck.timing.moves import Move, move_from_keys, print_position

FPS = Fraction(25)


def recorded(text: str, fps: Fraction = FPS) -> Move:
    return read_csv("moves/a.csv", text.encode(), fps)


def refusal(text: str) -> tuple[str, str]:
    """Return the place and the words of the one problem that reading stops at."""
    with pytest.raises(ProblemsFound) as caught:
        recorded(text)
    (problem,) = caught.value.problems
    assert problem.place.file == "moves/a.csv"
    return f"{problem.place.line}:{problem.place.column}", problem.what


def written(keys: str, ease: str = "ease") -> Move:
    """Return the move that keys of a show stand for."""
    text = f"cuedeck: 1\nshots:\n  1:\n    move: {{ease: {ease}, keys: {keys}}}\n"
    loaded = load_show(text.encode())
    assert loaded.problems == ()
    move = loaded.show.shots["1"].move
    assert isinstance(move, MoveKeys)
    return move_from_keys(loaded.source, ("shots", "1", "move"), move)


def positions(move: Move, axis: str, *times_s: float) -> list[float]:
    return move.axes[axis].at(np.array(times_s)).tolist()


def test_a_recording_gives_positions_between_its_samples_and_rests_outside_them() -> None:
    move = recorded("time s,slide mm\n0.5,10\n1.5,30\n2.5,0\n")
    assert positions(move, "slide", 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 9.0) == [10, 10, 20, 30, 15, 0, 0]
    assert move.duration_s == Fraction(5, 2)


def test_several_axes_are_read_each_in_its_unit() -> None:
    move = recorded("time s, slide cm ,lift m,pan deg, table arm mm\n0,1,0,-5,0\n2,12,0.25,30,7\n")
    assert {name: (axis.unit, axis.positions.tolist()) for name, axis in move.axes.items()} == {
        "slide": ("mm", [10.0, 120.0]),
        "lift": ("mm", [0.0, 250.0]),
        "pan": ("deg", [-5.0, 30.0]),
        "table arm": ("mm", [0.0, 7.0]),
    }
    assert move.axes["lift"].reach() == "0 to 250 mm"


@pytest.mark.parametrize(
    ("header", "rows", "duration_s"),
    [
        ("time s", "0,0\n2.5,1\n", Fraction(5, 2)),
        ("Time  S", "0,0\n2.5,1\n", Fraction(5, 2)),
        ("time ms", "0,0\n2500,1\n", Fraction(5, 2)),
        ("frame", "0,0\n50,1\n", Fraction(2)),
    ],
)
def test_time_is_counted_in_seconds_milliseconds_or_camera_frames(header: str, rows: str, duration_s: Fraction) -> None:
    assert recorded(f"{header},slide mm\n{rows}").duration_s == duration_s


def test_frames_at_23_976_take_1001_thousandths_of_a_24th() -> None:
    # SMPTE ST 12-1: 23.976 is 24000/1001 frames a second.
    move = recorded("frame,slide mm\n0,0\n24,10\n", Fraction(24000, 1001))
    assert float(move.duration_s) == pytest.approx(1.001, abs=1e-12)


def test_a_byte_order_mark_windows_line_ends_and_empty_lines_are_read_over() -> None:
    move = read_csv("a.csv", b"\xef\xbb\xbftime s,slide mm\r\n\r\n0,1\r\n,\r\n1,2\r\n", FPS)
    assert positions(move, "slide", 0.0, 1.0) == [1, 2]


@pytest.mark.parametrize(
    ("text", "place", "what"),
    [
        ("", "1:1", "the first column is called ''"),
        ("time s slide mm\n0 1\n1 2\n", "1:1", "the first column is called 'time s slide mm'"),
        ("seconds,slide mm\n0,1\n1,2\n", "1:1", "the first column is called 'seconds'"),
        ("time s\n0\n1\n", "1:1", "the move has no axis"),
        (
            "time s,slide\n0,1\n1,2\n",
            "1:8",
            "the column 'slide' does not say which axis it is, and in which unit",
        ),
        (
            "time s,slide mm,pan rad\n0,1,1\n1,2,2\n",
            "1:17",
            "the column 'pan rad' does not say which axis it is, and in which unit",
        ),
        ("time s,slide mm,slide cm\n0,1,1\n1,2,2\n", "1:17", "two columns are called 'slide'"),
        ("time s,mm\n0,1\n1,2\n", "1:8", "the axis '' has no name"),
        ("time s,slide mm\n0,1\n", "1:1", "a move needs at least two lines of positions"),
        ("time s,slide mm\n", "1:1", "a move needs at least two lines of positions"),
        ("time s,slide mm\n0,1\n2,2\n1,3\n", "4:1", "the time goes back or stands still: 1 after 2 s"),
        ("time s,slide mm\n0,1\n2,2\n2,3\n", "4:1", "the time goes back or stands still: 2 after 2 s"),
        ("time s,slide mm\n-1,1\n2,2\n", "2:1", "the time -1 s is out of range"),
        ("time s,slide mm\n0,1\n86401,2\n", "3:1", "the time 86401 s is out of range"),
        ("time s,slide mm,pan deg\n0,1,2\n1,2\n", "3:1", "this line has 2 values, the header has 3 columns"),
        ("time s,slide mm\n0,1\n1,2,3\n", "3:1", "this line has 3 values, the header has 2 columns"),
        ("time s,slide mm,pan deg\n0,1,2\n1.5,,2\n", "3:5", "'' is not a number"),
        ("time s,slide mm,pan deg\n0,1,2\n1.5,2,nan\n", "3:7", "'nan' is not a number"),
        ("time s,slide mm\n0,1\n1,inf\n", "3:3", "'inf' is not a number"),
        ("time s,slide mm\n0,1\nnan,2\n", "3:1", "'nan' is not a number"),
        ("time s,slide mm\n0,1\n1,12 mm\n", "3:3", "'12 mm' is not a number"),
        ("time s,slide mm\n0,1\n1,2e9\n", "3:3", "'2e9' is not a number"),
        ("time s,slide mm\n\n0,1\n\n1,x\n", "5:3", "'x' is not a number"),
    ],
)
def test_what_is_no_recording_is_refused_where_it_is_wrong(text: str, place: str, what: str) -> None:
    assert refusal(text) == (place, what)


def test_bytes_that_are_no_text_are_refused_at_their_place() -> None:
    with pytest.raises(ProblemsFound) as caught:
        read_csv("a.csv", b"time s,slide mm\n0,\xff\n", FPS)
    assert str(caught.value).startswith("a.csv:2:3: error: byte 0xff is not UTF-8 text")


def test_a_position_is_passed_between_two_samples() -> None:
    move = recorded("time s,slide mm\n0,0\n1,10\n3,50\n")
    assert move.first_pass("slide", 5.0) == 0.5
    assert move.first_pass("slide", 10.0) == 1.0
    assert move.first_pass("slide", 20.0) == 1.5
    assert move.first_pass("slide", 50.0) == 3.0
    assert move.first_pass("slide", 50.1) is None
    assert move.first_pass("slide", -0.1) is None
    assert move.first_pass("pan", 5.0) is None


# Noise carries the axis over 10 mm three times on its way up, and it comes back down at the end.
NOISY = "time s,slide mm\n0,0\n1,12\n2,8\n3,14\n4,20\n6,0\n"


@pytest.mark.parametrize(
    ("direction", "crossing", "time_s"),
    [
        (Direction.ANY, 1, 10 / 12),
        (Direction.ANY, 2, 1.5),
        (Direction.ANY, 3, 2 + 2 / 6),
        (Direction.ANY, 4, 5.0),
        (Direction.ANY, 5, None),
        (Direction.RISING, 1, 10 / 12),
        (Direction.RISING, 2, 2 + 2 / 6),
        (Direction.RISING, 3, None),
        (Direction.FALLING, 1, 1.5),
        (Direction.FALLING, 2, 5.0),
        (Direction.FALLING, 3, None),
    ],
)
def test_passes_of_noisy_data_are_counted_in_their_direction(
    direction: Direction, crossing: int, time_s: float | None
) -> None:
    assert recorded(NOISY).first_pass("slide", 10.0, direction, crossing) == (
        None if time_s is None else pytest.approx(time_s, abs=1e-12)
    )


def test_standing_on_a_position_is_one_pass_and_so_is_reaching_it_and_turning_back() -> None:
    through = recorded("time s,slide mm\n0,0\n1,10\n2,10\n3,20\n")
    assert list(through.axes["slide"].passes(10.0)) == [1.0]
    turning = recorded("time s,slide mm\n0,0\n1,10\n2,0\n")
    assert list(turning.axes["slide"].passes(10.0)) == [1.0]


def test_a_position_that_the_move_starts_on_is_passed_at_the_start() -> None:
    assert recorded("time s,slide mm\n0,5\n1,10\n").first_pass("slide", 5.0) == 0.0


def test_a_move_that_rests_before_it_starts_passes_its_first_position() -> None:
    resting = recorded("time s,slide mm\n0,5\n1,5\n2,10\n")
    assert resting.first_pass("slide", 5.0) is not None


def test_a_pass_is_at_the_time_of_the_frame_it_is_recorded_at() -> None:
    # A cue at a frame and a cue at the position recorded at that frame start together, at any frame.
    rows = "".join(f"{frame},{frame}\n" for frame in range(200))
    move = recorded(f"frame,slide mm\n{rows}")
    late = [frame for frame in range(200) if move.first_pass("slide", float(frame)) != float(Fraction(frame, 25))]
    assert late == []


# The minimum-jerk profile 10 s^3 - 15 s^4 + 6 s^5 of the motion-control literature; samples computed from it.
@pytest.mark.parametrize(
    ("share", "progress"), [(0.1, 0.00856), (0.25, 0.103516), (0.5, 0.5), (0.75, 0.896484), (0.9, 0.99144)]
)
def test_keys_with_ease_travel_with_minimum_jerk(share: float, progress: float) -> None:
    move = written("[{time: 1 s, slide: 100 mm}, {time: 5 s, slide: 300 mm}]")
    time_s, position = 1 + 4 * share, 100 + 200 * progress
    assert positions(move, "slide", time_s)[0] == pytest.approx(position, abs=2e-4)
    assert move.first_pass("slide", position) == pytest.approx(time_s, abs=1e-5)


def test_linear_keys_travel_evenly_and_each_axis_has_keys_of_its_own() -> None:
    keys = "[{time: 0 s, slide: 0 mm, pan: 10 deg}, {time: 1 s, slide: 10 cm}, {time: 4 s, slide: 0 mm, pan: 30 deg}]"
    move = written(keys, "linear")
    assert positions(move, "slide", 0.5, 1.0, 2.5) == [50, 100, 50]
    assert positions(move, "pan", 0.0, 2.0, 4.0) == [10, 20, 30]
    assert move.duration_s == 4
    assert move.first_pass("slide", 50.0, Direction.FALLING) == 2.5


def test_an_eased_move_passes_its_first_position_at_the_start() -> None:
    move = written("[{time: 0 s, slide: 20 mm}, {time: 2 s, slide: 120 mm}]")
    assert move.first_pass("slide", 20.0) == 0.0


@pytest.mark.parametrize(
    ("keys", "place", "what"),
    [
        (
            "[{time: 1 s, slide: 0 mm}, {time: 1 s, slide: 9 mm}]",
            "4:64",
            "the time goes back or stands still: 1 s after 1 s",
        ),
        (
            "[{time: 0 s, slide: 0 mm}, {time: 1 s, pan: 9 deg}]",
            "4:50",
            "the axis 'slide' has one position only",
        ),
        (
            "[{time: 0 s, slide: 0 mm}, {time: 1 s, slide: 9 deg}]",
            "4:76",
            "the axis 'slide' is a length in one key and an angle in another",
        ),
        ("[{time: 0 s}, {time: 1 s}]", "4:30", "the move has no axis"),
    ],
)
def test_keys_that_make_no_move_are_refused_where_they_stand(keys: str, place: str, what: str) -> None:
    with pytest.raises(ProblemsFound) as caught:
        written(keys)
    (problem,) = caught.value.problems
    assert (f"{problem.place.line}:{problem.place.column}", problem.what) == (place, what)


@given(
    st.lists(st.integers(-500, 500), min_size=2, max_size=12),
    st.lists(st.integers(1, 400), min_size=12, max_size=12),
    st.integers(-5000, 5000),
)
def test_the_axis_is_at_the_position_whenever_it_passes_it(ends: list[int], steps_ms: list[int], tenths: int) -> None:
    times = np.cumsum([0, *steps_ms[: len(ends) - 1]])
    rows = "".join(f"{time_ms},{end}\n" for time_ms, end in zip(times.tolist(), ends, strict=True))
    axis = recorded(f"time ms,slide mm\n{rows}").axes["slide"]
    position = tenths / 10
    passes = list(axis.passes(position))
    assert passes == sorted(passes)
    assert axis.at(np.array(passes)).tolist() == pytest.approx([position] * len(passes), abs=1e-6)
    assume(min(ends) < position < max(ends))
    assert passes


@given(st.lists(st.integers(-50, 50), min_size=2, max_size=12), st.integers(-49, 49))
def test_passes_away_from_samples_alternate_and_add_up_by_direction(ends: list[int], whole: int) -> None:
    rows = "".join(f"{index},{end}\n" for index, end in enumerate(ends))
    axis = recorded(f"time s,slide mm\n{rows}").axes["slide"]
    position = whole + 0.5
    rising, falling = (list(axis.passes(position, way)) for way in (Direction.RISING, Direction.FALLING))
    assert sorted(rising + falling) == list(axis.passes(position))
    assert len(rising) - len(falling) == (ends[-1] > position) - (ends[0] > position)


@pytest.mark.parametrize(
    ("value", "words"), [(119.96, "120 mm"), (60.04, "60 mm"), (-3.25, "-3.2 mm"), (0.1, "0.1 mm")]
)
def test_a_position_is_told_to_a_tenth(value: float, words: str) -> None:
    assert print_position(value, "mm") == words
