"""Dimmers made from readings of a light meter, and what such readings are refused for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.rig.dimmer import DIMMERS, check_readings, measured_dimmer

LADDER = [n / 10 for n in range(11)]
SQUARE_LAW = [(control, 5000 * control**2) for control in LADDER]
LATE = [(0.0, 0.0), (0.1, 0.0), (0.2, 0.0), (0.3, 20.0), (0.6, 300.0), (1.0, 1000.0)]
"""A lamp that is dark up to 20 %."""


def control_at(readings: list[tuple[float, float]], *light: float) -> list[float]:
    found: list[float] = measured_dimmer(readings).control_from_light(np.array(light)).tolist()
    return found


def light_at(readings: list[tuple[float, float]], *control: float) -> list[float]:
    found: list[float] = measured_dimmer(readings).light_from_control(np.array(control)).tolist()
    return found


def test_the_reading_at_full_is_the_scale() -> None:
    readings = [(0.0, 0.0), (0.5, 800.0), (1.0, 3200.0)]
    assert light_at(readings, 0.0, 0.5, 1.0) == [0.0, 0.25, 1.0]
    assert control_at(readings, 0.0, 0.25, 1.0) == [0.0, 0.5, 1.0]


def test_it_is_dark_at_0_percent_where_that_was_not_read() -> None:
    assert measured_dimmer([(0.5, 1.0), (1.0, 4.0)]) == measured_dimmer([(0.0, 0.0), (0.5, 1.0), (1.0, 4.0)])


def test_readings_in_another_order_or_unit_give_the_same_dimmer() -> None:
    one = measured_dimmer([(0.0, 0.0), (0.5, 1.0), (1.0, 4.0)])
    assert one == measured_dimmer([(1.0, 4.0), (0.0, 0.0), (0.5, 1.0)])
    assert one == measured_dimmer([(0.0, 0.0), (0.5, 256.0), (1.0, 1024.0)])
    assert len({one, measured_dimmer([(1.0, 8.0), (0.5, 2.0)])}) == 1


def test_other_readings_are_another_dimmer() -> None:
    one, other = measured_dimmer(SQUARE_LAW), measured_dimmer(LATE)
    assert one != other
    assert len({one, other, *DIMMERS.values()}) == 2 + len(DIMMERS)


def test_many_dimmers_later_equal_readings_still_give_equal_dimmers() -> None:
    first = measured_dimmer(SQUARE_LAW)
    for n in range(300):  # more than are kept
        measured_dimmer([(0.5, 1.0 + n), (1.0, 1000.0)])
    again = measured_dimmer(SQUARE_LAW)
    assert again == first
    assert hash(again) == hash(first)


def test_every_measured_point_is_met_exactly_both_ways() -> None:
    light = [reading / 5000 for _, reading in SQUARE_LAW]
    assert light_at(SQUARE_LAW, *LADDER) == light
    assert control_at(SQUARE_LAW, *light) == LADDER


def test_two_stops_under_full_are_a_quarter_of_the_light_at_the_meter() -> None:
    # The lamp is a square law, sampled at 0, 10, ... 100 %: a quarter lies at 50 %, a measured point.
    (control,) = control_at(SQUARE_LAW, 2.0**-2)
    assert control**2 == 0.25


@pytest.mark.parametrize(("dimmest", "brightest", "within_stops"), [(0.04, 1.0, 0.01), (0.01, 0.04, 0.06)])
def test_between_the_readings_of_a_square_law_stops_are_right_to(
    dimmest: float, brightest: float, within_stops: float
) -> None:
    # Readings every 10 %: above 20 % (4.6 stops under full), and from 10 % (6.6) to 20 %.
    light = np.geomspace(dimmest, brightest, 1001)
    control = measured_dimmer(SQUARE_LAW).control_from_light(light)
    assert np.abs(np.log2(control**2 / light)).max() <= within_stops


def test_a_lamp_that_has_not_struck_gives_no_light_at_control_0_and_any_light_past_the_dark_stretch() -> None:
    assert control_at(LATE, 0.0) == [0.0]
    assert light_at(LATE, 0.0, 0.1, 0.2) == [0.0, 0.0, 0.0]
    found = control_at(LATE, 1e-300, 1e-9, 0.02, 1.0)
    assert found[0] >= 0.2
    assert found == sorted(found)
    assert found[2:] == [0.3, 1.0]


@st.composite
def meter_readings(draw: st.DrawFn) -> list[tuple[float, float]]:
    controls = sorted(draw(st.sets(st.integers(1, 99), min_size=1, max_size=15)))
    rises = draw(st.lists(st.integers(1, 10_000), min_size=len(controls) + 1, max_size=len(controls) + 1))
    return list(zip([n / 100 for n in [*controls, 100]], np.cumsum(rises).astype(float).tolist(), strict=True))


@given(meter_readings(), st.floats(0, 1))
def test_light_comes_back_from_its_control(readings: list[tuple[float, float]], light: float) -> None:
    (control,) = control_at(readings, light)
    assert 0 <= control <= 1
    # A control value is rounded; between two points 1 % apart a curve rises up to 300 times as steeply.
    assert light_at(readings, control)[0] == pytest.approx(light, rel=0, abs=301 * 2.3e-16)


@given(st.floats(0, 1))
def test_light_comes_back_through_every_named_dimmer(light: float) -> None:
    for dimmer in DIMMERS.values():
        control = dimmer.control_from_light(np.array([light]))
        assert float(dimmer.light_from_control(control)[0]) == pytest.approx(light, rel=0, abs=4.5e-16)


# What is refused.

GOOD = [(0.0, 0.0), (0.5, 900.0), (0.6, 950.0), (1.0, 5000.0)]


def test_good_readings_have_no_problem() -> None:
    for readings in (GOOD, LATE, SQUARE_LAW, list(reversed(GOOD)), GOOD[1:]):
        assert check_readings(readings) == []


@pytest.mark.parametrize(
    ("readings", "index", "what"),
    [
        ([*GOOD[:2], (0.6, 850.0), GOOD[3]], 2, "50 % reads 900 and 60 % reads 850: more control gave less light"),
        ([*GOOD[:2], (0.6, 900.0), GOOD[3]], 2, "50 % reads 900 and 60 % reads 900: the same light twice"),
        ([(0.6, 850.0), (1.0, 5000.0), (0.5, 900.0)], 0, "50 % reads 900 and 60 % reads 850"),
        ([*GOOD, (0.5, 901.0)], 4, "50 % was read twice"),
        (GOOD[:3], None, "there is no reading at 100 %"),
        ([(0.0, 0.0), (0.5, 0.0), (1.0, 0.0)], 2, "100 % reads 0"),
        ([(0.0, 0.0), (1.0, 5000.0)], None, "a curve needs 3 readings or more, 0 % and 100 % among them"),
        ([(1.0, 5000.0)], None, "a curve needs 3 readings"),
        ([], None, "there is no reading at 100 %"),
        ([(0.0, 3.0), *GOOD[1:]], 0, "0 % reads 3: that is the light of the room"),
        ([*GOOD[:3], (1.0, 5000.0), (1.2, 6000.0)], 4, "a control value of 120 % does not exist"),
        ([(0.0, 0.0), (0.5, -1.0), (1.0, 10.0)], 1, "50 % reads -1"),
        ([(0.0, 0.0), (0.5, float("nan")), (1.0, 10.0)], 1, "50 % reads nan"),
        ([(0.0, 0.0), (0.5, 1.0), (1.0, float("inf"))], 2, "100 % reads inf"),
    ],
)
def test_bad_readings_are_named(readings: list[tuple[float, float]], index: int | None, what: str) -> None:
    problems = check_readings(readings)
    assert [problem.position for problem in problems if problem.what.startswith(what)] == [index]
    assert all(problem.cure for problem in problems)
    with pytest.raises(ValueError, match=r"\d"):
        measured_dimmer(readings)


def test_the_s_curve_is_the_same_from_both_ends() -> None:
    control = np.linspace(0, 1, 1001)
    light = DIMMERS["s-curve"].light_from_control(control)
    assert light[::-1] == pytest.approx(1 - light, rel=0, abs=1e-15)
