"""What a move is like: rates, gaps, peaks and noise, against closed forms."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.units import Angle, Length
from cuedeck.timing.move_table import eased_move, read_csv, recorded
from cuedeck.timing.moves import Move
from cuedeck.timing.survey import passes_close_together, survey


def table(times_s: list[float], positions: list[float]) -> Move:
    rows = "".join(f"{time_s!r},{position!r}\n" for time_s, position in zip(times_s, positions, strict=True))
    return read_csv("a.csv", f"time s,slide mm\n{rows}".encode(), Fraction(25))


def test_the_sample_rate_is_that_of_the_usual_step_and_longer_steps_are_gaps() -> None:
    found = survey(table([0.0, 0.1, 0.2, 0.5, 0.6, 0.7, 0.9], [0, 1, 2, 5, 6, 7, 9]), is_recorded=True)
    assert found.samples == 7
    assert found.rate_hz == pytest.approx(10)
    assert [pytest.approx(gap) for gap in found.gaps] == [(0.2, 0.5), (0.7, 0.9)]


def test_peaks_of_a_written_move_are_those_of_minimum_jerk() -> None:
    # Motion-control literature: peak speed 1.875 d/T at the middle, peak acceleration 10/sqrt(3) d/T^2 = 5.7735
    # at the share (3 - sqrt 3)/6 = 0.2113.
    slide = survey(eased_move({"slide": Length.of(300)}, Fraction(4)), is_recorded=False).axes[0]
    assert (slide.peak_speed.value, slide.peak_speed.time_s) == (pytest.approx(1.875 * 75), 2)
    assert slide.peak_acceleration is not None
    assert slide.peak_acceleration.value == pytest.approx(5.7735 * 300 / 16, rel=1e-5)
    assert slide.peak_acceleration.time_s == pytest.approx(0.2113 * 4, abs=1e-3)


@given(st.integers(10, 2000), st.integers(1, 20))
def test_peaks_of_a_recording_are_near_those_of_the_move_that_was_recorded(degrees: int, seconds: int) -> None:
    move = eased_move({"pan": Angle.of(degrees)}, Fraction(seconds))
    written = survey(move, is_recorded=False).axes[0]
    again = survey(read_csv("a.csv", recorded(move, 100).encode(), Fraction(25)), is_recorded=True).axes[0]
    assert again.peak_speed.value == pytest.approx(written.peak_speed.value, rel=0.01, abs=0.2)


def test_a_move_between_straight_keys_jumps_from_speed_to_speed() -> None:
    move = eased_move({"slide": Length.of(100)}, Fraction(2), "linear")
    found = survey(move, is_recorded=False)
    assert (found.samples, found.axes[0].peak_speed.value, found.axes[0].peak_acceleration) == (None, 50, None)


def test_a_faster_run_has_higher_peaks() -> None:
    move = eased_move({"slide": Length.of(300)}, Fraction(4))
    slow, fast = (survey(move.at_speed(Fraction(speed)), is_recorded=False).axes[0] for speed in (1, 2))
    assert fast.peak_speed.value == pytest.approx(2 * slow.peak_speed.value)
    assert fast.peak_acceleration is not None
    assert slow.peak_acceleration is not None
    assert fast.peak_acceleration.value == pytest.approx(4 * slow.peak_acceleration.value)


def test_a_step_back_of_a_few_samples_is_noise_and_a_turn_is_not() -> None:
    there_and_back = [float(n) for n in range(50)] + [float(50 - n) for n in range(50)]
    times_s = [n / 100 for n in range(100)]
    assert survey(table(times_s, there_and_back), is_recorded=True).axes[0].noisy == ()
    there_and_back[20], there_and_back[21] = 21.0, 19.5
    (stretch,) = survey(table(times_s, there_and_back), is_recorded=True).axes[0].noisy
    assert (stretch.low, stretch.high) == (19.5, 21.0)
    assert (stretch.start_s, stretch.end_s) == (0.2, 0.21)


def test_noise_on_an_axis_that_stands_is_one_stretch() -> None:
    noise = np.random.default_rng(1).normal(0, 0.01, 300)
    (stretch,) = survey(table([n / 50 for n in range(300)], (noise + 40).tolist()), is_recorded=True).axes[0].noisy
    assert stretch.low < 40 < stretch.high
    assert stretch.end_s - stretch.start_s > 5


@pytest.mark.parametrize(
    ("passes_s", "crossing", "close"),
    [
        ([1.0], 1, None),
        ([1.0, 1.05], 1, (1.0, 1.05)),
        ([1.0, 2.0, 2.05], 1, None),
        ([1.0, 2.0, 2.05], 2, (2.0, 2.05)),
        ([1.0, 1.05, 3.0], 3, (1.0, 1.05)),
        ([1.0, 1.2], 1, None),
    ],
)
def test_passes_within_ten_samples_are_close_where_they_decide_which_pass_counts(
    passes_s: list[float], crossing: int, close: tuple[float, float] | None
) -> None:
    axis = table([n / 100 for n in range(10)], [float(n) for n in range(10)]).axes["slide"]
    assert passes_close_together(axis, passes_s, crossing) == close
