"""An axis followed while it moves: it passes where a move on file passes, and noise passes nothing."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.model import Cue
from cuedeck.show.triggers import Direction
from cuedeck.show.units import Length
from cuedeck.timing.live_axis import NEXT, LiveAxes, Side, Zone
from cuedeck.timing.moves import Axis


def cue(at: str, name: str = "1") -> Cue:
    return Cue.model_validate({"cue": name, "at": at, "look": "any"})


def fired(positions: Iterable[float], *cues: Cue, hysteresis: float = 0.5) -> list[tuple[int, str]]:
    """Return which cues the slide fires, each with the index of the position that did."""
    axes = LiveAxes(cues, hysteresis)
    return [(index, name) for index, position in enumerate(positions) for name in axes.moved("slide", position)]


def test_a_cue_fires_with_the_first_position_that_reaches_it() -> None:
    assert fired([58, 59.9, 60, 61], cue("slide 60 mm")) == [(2, "1")]
    assert fired([62, 60.1, 59.9], cue("slide 60 mm")) == [(2, "1")]


def test_positions_that_are_far_apart_pass_all_that_lies_between() -> None:
    cues = (cue("slide 60 mm", "a"), cue("slide 20 mm", "b"), cue("slide 90 mm", "c"))
    assert fired([0, 80], *cues) == [(1, "a"), (1, "b")]


def test_the_first_position_says_only_where_the_axis_stands() -> None:
    assert fired([80, 90], cue("slide 60 mm")) == []


def test_a_direction_is_kept_to() -> None:
    assert fired([0, 80, 0], cue("slide 60 mm falling")) == [(2, "1")]
    assert fired([80, 0, 80], cue("slide 60 mm rising")) == [(2, "1")]


def test_passes_are_counted_in_the_direction_asked_for() -> None:
    there_and_back = [0, 80, 0, 80, 0]
    assert fired(there_and_back, cue("slide 60 mm pass 3")) == [(3, "1")]
    assert fired(there_and_back, cue("slide 60 mm falling pass 2")) == [(4, "1")]


def test_a_cue_fires_once() -> None:
    assert fired([0, 80, 0, 80], cue("slide 60 mm")) == [(1, "1")]


def test_noise_around_the_position_is_one_pass() -> None:
    trembling = [59, 60.1, 59.8, 60.2, 59.7, 60.4, 61]
    assert fired(trembling, cue("slide 60 mm")) == [(1, "1")]
    assert fired(trembling, cue("slide 60 mm pass 2"), cue("slide 60 mm falling", "2")) == []


def test_an_axis_that_stands_on_the_position_passes_it_when_it_leaves() -> None:
    assert fired([60, 60.2, 59.9, 61], cue("slide 60 mm rising")) == [(3, "1")]
    assert fired([60, 59], cue("slide 60 mm rising")) == []


def test_reaching_it_and_turning_back_counts_once() -> None:
    assert fired([50, 60, 50], cue("slide 60 mm")) == [(1, "1")]
    assert fired([50, 60, 50], cue("slide 60 mm pass 2")) == []


def test_centimetres_are_read_as_millimetres_and_other_axes_are_left_alone() -> None:
    axes = LiveAxes([cue("slide 6 cm"), cue("pan 30 deg", "2"), cue("2 s", "3")])
    assert axes.axes == {"slide", "pan"}
    assert axes.moved("slide", 0) == axes.moved("tilt", 0) == axes.moved("pan", 40) == []
    assert axes.moved("slide", 60) == ["1"]
    assert axes.moved("pan", 20) == ["2"]


def test_every_side_has_an_answer_to_every_zone() -> None:
    assert set(NEXT) == {(side, zone) for side in Side for zone in Zone}


steps = st.lists(st.integers(-4, 4), min_size=2, max_size=40).filter(lambda positions: len(set(positions)) > 1)


@given(steps, st.sampled_from(list(Direction)), st.integers(1, 4))
def test_it_passes_where_a_move_on_file_with_the_same_positions_does(
    positions: list[int], direction: Direction, crossing: int
) -> None:
    """On whole millimetres, with less hysteresis than one, nothing is noise: both must find the same step."""
    times_s = np.arange(len(positions), dtype=np.float64)
    axis = Axis("slide", Length, times_s, np.array(positions, dtype=np.float64))
    passes = list(axis.passes(0.0, direction))
    words = "" if direction is Direction.ANY else f" {direction}"
    found = fired(positions, cue(f"slide 0 mm{words} pass {crossing}"), hysteresis=0.25)
    assert len(found) == (crossing <= len(passes))
    if found:
        step = math.ceil(passes[crossing - 1] - 1e-9)
        is_leaving = not any(positions[: step + 1])  # the move on file leaves with the step, the live one at its end
        assert found[0][0] == step + is_leaving


@given(st.lists(st.floats(-0.499, 0.499), min_size=1, max_size=40), st.sampled_from([-1.0, 1.0]))
def test_noise_within_the_hysteresis_passes_at_most_once(noise: list[float], side: float) -> None:
    cues = [cue(f"slide 60 mm pass {number}", str(number)) for number in (1, 2)]
    assert [name for _, name in fired([60 + side, *(60 + one for one in noise)], *cues)] in ([], ["1"])
