"""Positions of a live axis that it cannot have reached: one alone is never believed, and no travel is locked out."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.model import Cue
from cuedeck.show.units import Angle, Length
from cuedeck.timing.live_axis import LiveAxes
from cuedeck.timing.moves import Axis, Move
from cuedeck.timing.outliers import AGREEING, JITTER_S, MARGIN, TREMBLE, OutlierFilter, greatest_speeds

FASTEST = 200.0
"""Millimetres a second."""
CUES = [
    Cue.model_validate({"cue": str(number), "at": f"slide {at} mm", "look": "any"})
    for number, at in enumerate((-40, 10, 25, 60, 61, 400, 100_000))
]


def believed(samples: Sequence[tuple[float, float]], greatest_speed: float = FASTEST) -> list[list[float]]:
    """Return what is believed with each sample, a time and a position."""
    axis = OutlierFilter(greatest_speed)
    return [axis.take(at_s, position) for at_s, position in samples]


def fired(samples: Sequence[tuple[float, float]]) -> list[tuple[float, str]]:
    """Return the cues that samples fire, each with the time of the sample that did."""
    axes, axis = LiveAxes(CUES), OutlierFilter(FASTEST)
    return [
        (at_s, cue)
        for at_s, position in samples
        for one in axis.take(at_s, position)
        for cue in axes.moved("slide", one)
    ]


def every_hundredth(*positions: float) -> list[tuple[float, float]]:
    return [(number / 100, position) for number, position in enumerate(positions)]


def test_one_bad_sample_fires_nothing_and_is_counted_with_the_worst() -> None:
    samples = every_hundredth(0, 1, 2, 900, 3, 4, -50, 5)
    axis = OutlierFilter(FASTEST)
    assert [axis.take(*sample) for sample in samples] == [[], [0, 1], [2], [], [3], [4], [], [5]]
    assert (axis.rejected.count, axis.rejected.position) == (2, 900)
    assert axis.rejected.speed == pytest.approx(898 / JITTER_S)
    assert fired(samples) == []


def test_a_real_travel_that_is_too_fast_is_believed_after_some_samples_and_fires_what_it_passed() -> None:
    samples = every_hundredth(0, 1, 50, 80, 110, 140, 145)
    assert believed(samples)[2:] == [[], [], [50, 80, 110], [], []]
    assert fired(samples) == [(0.04, cue) for cue in ("1", "2", "3", "4")]


def test_an_axis_that_stands_elsewhere_is_believed_there_after_some_samples() -> None:
    samples = every_hundredth(0, 0, *[5_000] * 5)
    assert [len(one) for one in believed(samples)] == [0, 2, 0, 0, AGREEING, 1, 1]


def test_samples_that_agree_with_nothing_are_never_believed() -> None:
    assert believed(every_hundredth(0, 0, 5_000, -9_000, 70_000, 300, -2_000, 0))[2:] == [[], [], [], [], [], [0]]


def test_a_first_sample_that_is_wrong_is_not_where_the_axis_stands() -> None:
    assert believed(every_hundredth(9_000, 0, 1)) == [[], [], [0, 1]]
    assert believed(every_hundredth(0, 9_000, 1)) == [[], [], [0, 1]]


# Any trace.

pauses_s = st.floats(0.0, 0.2)
shares = st.floats(-1.0, 1.0)


@st.composite
def traces(draw: st.DrawFn) -> list[tuple[float, float]]:
    """A trace at up to the speed of the move, a half of the greatest, whose samples come up to `JITTER_S` late."""
    sampled_s, came_s, position = 0.0, 0.0, 0.0
    trace = []
    for pause_s, share in draw(st.lists(st.tuples(pauses_s, shares), min_size=3, max_size=40)):
        sampled_s += pause_s
        position += share * FASTEST / MARGIN * pause_s
        came_s = max(came_s, sampled_s + draw(st.floats(0, JITTER_S)))
        trace.append((came_s, position))
    return trace


@st.composite
def traces_with_spikes(draw: st.DrawFn) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """A trace, and the same with samples in it that lie far off, none next to another."""
    trace, spoilt = draw(traces()), []
    low, high = min(at for _, at in trace), max(at for _, at in trace)
    is_after_spike = False
    for came_s, position in trace:
        is_after_spike = not is_after_spike and draw(st.booleans())
        if is_after_spike:
            # Further than the axis comes in the whole trace: within reach no sample can be told from the truth.
            reach = high - low + FASTEST * trace[-1][0] + 2 * FASTEST * JITTER_S + 2 * TREMBLE
            off = draw(st.floats(1.0, 1e6)) + reach
            spoilt.append((came_s, draw(st.sampled_from([high + off, low - off]))))
        spoilt.append((came_s, position))
    return trace, spoilt


@given(traces())
def test_a_trace_at_the_speed_of_the_move_is_believed_sample_by_sample_however_late_they_come(
    trace: list[tuple[float, float]],
) -> None:
    assert [one for some in believed(trace) for one in some] == [position for _, position in trace]
    assert [len(some) for some in believed(trace)] == [0, 2, *[1] * (len(trace) - 2)]


@given(traces_with_spikes())
def test_any_trace_with_spikes_fires_exactly_what_it_fires_without_them(
    both: tuple[list[tuple[float, float]], list[tuple[float, float]]],
) -> None:
    clean, spoilt = both
    assert fired(spoilt) == fired(clean)


@given(st.lists(st.floats(-1e6, 1e6), max_size=30), st.floats(-1e6, 1e6))
def test_whatever_came_before_a_standing_axis_is_believed_after_as_many_samples_as_must_agree(
    before: list[float], place: float
) -> None:
    samples = every_hundredth(*before, *[place] * (AGREEING + 1))
    axis = OutlierFilter(FASTEST)
    for sample in samples:
        axis.take(*sample)
    assert axis.take(samples[-1][0] + 0.01, place) == [place]


# How fast an axis is.


def test_the_greatest_speed_is_as_stated_else_twice_that_of_the_move_else_a_high_one() -> None:
    axis = Axis("slide", Length, np.array([0.0, 1.0, 2.0]), np.array([0.0, 30.0, 90.0]))
    cues = [Cue.model_validate({"cue": at, "at": at, "look": "any"}) for at in ("slide 9 mm", "pan 9 deg", "arm 9 mm")]
    move = Move({"slide": axis}, Fraction(2))
    assert greatest_speeds(cues, move, True, {"arm": Length.of(70)}) == {"slide": 120, "pan": 360, "arm": 70}
    assert greatest_speeds(cues, None, False, {}) == {"slide": 1000, "pan": 360, "arm": 1000}
    assert greatest_speeds(cues, move.at_speed(Fraction(1, 2)), True, {})["slide"] == 60
    assert greatest_speeds(cues, move, True, {"pan": Angle.of(5)})["pan"] == 5
