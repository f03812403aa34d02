"""A calibration without a light: what is asked, what is taken in, and the curve that comes of it."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.rig.calibration import LADDER, Calibration, MeterText, parse_ladder, parse_reading
from cuedeck.rig.dimmer import check_readings
from cuedeck.rig.fit import bottom_of, curve_through, dimmer_text, fit_rows, level_slots, lights_of_type, steps_of
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show
from cuedeck.show.units import UnitError

RIG = b"""\
cuedeck: 1
types:
  panel: {channels: [intensity 16-bit, colour temperature], colour temperature: {low: 2500 K, high: 5600 K}}
rig:
  key: {type: panel, address: 1.1}
  rim: {type: dimmer, address: 1.11}
  wash: {type: rgb, address: 2.1}
  back: {type: dimmer, address: 1.12}
"""
PATCH = build_patch(load_show(RIG).show)
FIXTURES = {fixture.name: fixture for fixture in PATCH.fixtures}


def percent(*numbers: int | float) -> tuple[Fraction, ...]:
    return tuple(Fraction(str(number)) / 100 for number in numbers)


def read(calibration: Calibration, *answers: int | float | None) -> Calibration:
    """Return the calibration with answers taken in; None is skipped."""
    for answer in answers:
        if answer is None:
            calibration = calibration.skipped()
        else:
            calibration = calibration.with_reading(MeterText(Fraction(str(answer)), ""))
    return calibration


SHORT = Calibration(percent(0, 10, 50, 100))


def refusal(calibration: Calibration, reading: int | float) -> str:
    with pytest.raises(UnitError) as refused:
        read(calibration, reading)
    assert refused.value.cure
    return refused.value.what


# What is asked.


def test_full_is_read_first_then_the_ladder_from_below_then_full_again() -> None:
    asked = []
    calibration = Calibration()
    while calibration.next_level is not None:
        asked.append(calibration.next_level)
        level = calibration.next_level
        calibration = read(calibration, 5000 * float(level) ** 2)
    assert asked == list(percent(100, 0, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100))
    assert calibration.is_finished


def test_a_ladder_of_ones_own_rises_and_ends_at_full() -> None:
    assert parse_ladder("25, 0,10 %,75") == percent(0, 10, 25, 75, 100)
    assert parse_ladder("2.5,100") == percent(2.5, 100)
    assert LADDER[-1] == 1


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("0,100", "a curve needs a level between 0 % and 100 %"),
        ("", "' %' is not a percentage"),
        ("0,ten", "'ten %' is not a percentage"),
        ("0,120", "120 % is out of range"),
    ],
)
def test_a_ladder_that_cannot_be_read_is_refused(text: str, what: str) -> None:
    with pytest.raises(UnitError) as refused:
        parse_ladder(text)
    assert refused.value.what == what


def test_back_asks_for_the_one_before_again() -> None:
    calibration = read(SHORT, 1000, 0, 12).without_last_reading()
    assert calibration.next_level == Fraction(1, 10)
    assert calibration == read(SHORT, 1000, 0)
    with pytest.raises(UnitError, match="nothing was read before this"):
        SHORT.without_last_reading()


def test_a_level_may_be_skipped_but_not_the_scale() -> None:
    calibration = read(SHORT, 1000, None, 12, None, 1000)
    assert calibration.net_readings() == ((0, 0), (Fraction(1, 10), 12), (1, 1000))
    with pytest.raises(UnitError, match="the scale of all others"):
        SHORT.skipped()


# What is typed.


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("42", 42, ""),
        ("42 lux", 42, "lux"),
        ("42lx", 42, "lux"),
        (" 0.35  LUX ", Fraction(35, 100), "lux"),
        ("0", 0, ""),
        ("1e", None, "'e' is not read"),
        ("9.6 EV", None, "EV is not proportional to light"),
        ("480 fc", None, "'fc' is not read"),
        ("5,210", None, "'5,210' has a comma"),
        ("-3", None, "'-3' is no reading of a light meter"),
        ("5 2", None, "'5 2' is not a number"),
        ("1/0", None, "'1/0' divides by zero"),
        ("nan", None, "'nan' is no reading"),
        ("", None, "'' is no reading"),
        ("10000000000", None, "'10000000000' is no reading of a light meter"),
    ],
)
def test_a_reading_is_a_number_with_lux_or_nothing_behind_it(text: str, number: Fraction | None, unit: str) -> None:
    if number is not None:
        assert parse_reading(text) == (number, unit)
        return
    with pytest.raises(UnitError) as refused:
        parse_reading(text)
    assert refused.value.what == unit
    assert refused.value.cure


@given(st.text(max_size=20))
def test_no_text_is_read_as_something_that_is_no_light(text: str) -> None:
    try:
        reading = parse_reading(text)
    except UnitError:
        return
    assert 0 <= reading.number <= 10**9


# What cannot be right.


def test_a_reading_below_the_one_before_is_refused_by_both_names() -> None:
    calibration = read(SHORT, 1000, 0, 42)
    assert refusal(calibration, 40) == (
        "10 % reads 42 and 50 % reads 40: more control cannot give the same light or less"
    )
    assert refusal(calibration, 42).startswith("10 % reads 42 and 50 % reads 42: ")


def test_a_reading_at_or_above_full_is_refused_by_both_names() -> None:
    calibration = read(SHORT, 1000, 0, 42)
    assert refusal(calibration, 1000) == (
        "50 % reads 1000 and 100 % reads 1000: less control cannot give the same light or more"
    )
    assert refusal(read(SHORT, 1000), 1200).startswith("0 % reads 1200 and 100 % reads 1000: ")


def test_the_last_reading_below_is_meant_where_levels_were_skipped() -> None:
    assert refusal(read(SHORT, 1000, 10, None), 5).startswith("0 % reads 10 and 50 % reads 5: ")


def test_full_again_below_the_ladder_is_refused() -> None:
    calibration = read(SHORT, 1000, 0, 42, 900)
    assert refusal(calibration, 880).startswith("50 % reads 900 and 100 % reads 880: ")
    assert refusal(read(SHORT, 1000, None, None, None), 0) == "100 % reads 0"
    assert refusal(SHORT, 0) == "100 % reads 0"


def test_a_lamp_that_has_not_struck_may_read_the_same_as_the_room() -> None:
    calibration = read(Calibration(percent(0, 5, 10, 50, 100)), 1003, 3, 3, 3, 203, 1003)
    assert [reading for _, reading in calibration.net_readings()] == [0, 0, 0, 200, 1000]


def test_full_may_be_read_again_on_the_way() -> None:
    calibration = read(SHORT, 1000, 0, 42).with_full(MeterText(Fraction(1100), "lux"))
    assert calibration.answers == (1100, 0, 42)
    assert calibration.next_level == Fraction(1, 2)
    for reading in (42, 0):
        with pytest.raises(UnitError):
            calibration.with_full(MeterText(Fraction(reading), ""))


# What comes of it.


def test_the_light_of_the_room_is_taken_off_and_full_is_the_middle_of_both() -> None:
    calibration = read(SHORT, 1003, 3, 13, 253, 1013)
    assert calibration.net_readings() == ((0, 0), (Fraction(1, 10), 10), (Fraction(1, 2), 250), (1, 1005))
    assert calibration.drift == Fraction(10, 1000)


def test_nothing_is_known_of_drift_before_full_was_read_again() -> None:
    assert read(SHORT, 1000, 0, 10, 250).drift is None
    assert read(SHORT, 1000, 0, 10, 250, None).drift is None
    assert SHORT.drift is None


def test_too_few_readings_make_no_curve() -> None:
    assert SHORT.net_readings() == ()
    assert read(SHORT, 1000).net_readings() == ()
    assert read(SHORT, 1000, 0, None, None, 1000).net_readings() == ()


@given(
    st.lists(st.one_of(st.none(), st.integers(0, 1200)), min_size=1, max_size=40),
    st.integers(1, 1000),
)
def test_what_was_taken_in_always_makes_a_curve(answers: list[int | None], full: int) -> None:
    calibration = read(Calibration(), full)
    for answer in answers:
        if calibration.is_finished:
            break
        try:
            calibration = read(calibration, answer)
        except UnitError:
            continue
    readings = calibration.net_readings()
    if readings:
        assert check_readings([(float(control), float(reading)) for control, reading in readings]) == []


def test_the_written_dimmer_is_that_of_a_show() -> None:
    calibration = read(SHORT, 5210, 0, 42.5, 1180, 5210)
    assert dimmer_text(calibration.net_readings(), "lux") == {
        "0 %": "0", "10 %": "42.5 lux", "50 %": "1180 lux", "100 %": "5210 lux",
    }  # fmt: skip
    assert dimmer_text(calibration.net_readings(), "")["50 %"] == "1180"


def net(*pairs: tuple[float, float]) -> tuple[tuple[Fraction, Fraction], ...]:
    return tuple((*percent(control), Fraction(str(reading))) for control, reading in pairs)


SQUARE_LAW = net(*((n, n * n / 2) for n in range(0, 101, 10)))


def test_a_row_of_the_fit_counts_stops_under_full() -> None:
    rows = {int(row.control * 100): row for row in fit_rows(SQUARE_LAW)}
    assert rows[0].stops is None
    assert (rows[50].light, rows[50].stops) == (0.25, -2.0)
    assert (rows[100].light, rows[100].stops) == (1.0, 0.0)


def test_a_reading_that_was_mistyped_stands_out_and_good_ones_do_not() -> None:
    good = {row.control: row.surprise_stops for row in fit_rows(SQUARE_LAW)}
    assert [control for control, off in good.items() if off is None] == list(percent(0, 10, 100))
    assert max(abs(off) for off in good.values() if off is not None) < 0.1
    mistyped = tuple(
        (control, reading - 400 if control == Fraction(1, 2) else reading) for control, reading in SQUARE_LAW
    )
    worst = max(fit_rows(mistyped), key=lambda row: abs(row.surprise_stops or 0))
    assert worst.control == Fraction(1, 2)
    assert worst.surprise_stops is not None
    assert worst.surprise_stops < -0.5


def test_the_bottom_of_a_dimmer_is_its_first_value_that_gives_light() -> None:
    late = net((0, 0), (20, 0), (50, 300), (100, 1000))
    bottom = bottom_of(late, 255)
    assert (bottom.value, bottom.steps) == (52, 255)  # 51 of 255 is 20 %, still dark
    light = curve_through(late).light_from_control(np.array([51, 52, 53]) / 255)
    assert light[0] == 0
    assert bottom.stops == pytest.approx(np.log2(light[1]))
    assert bottom.next_gain_stops == pytest.approx(np.log2(light[2] / light[1]))


def test_a_straight_dimmer_doubles_from_its_first_value_to_its_second() -> None:
    bottom = bottom_of(net((0, 0), (50, 500), (100, 1000)), 255)
    assert bottom.value == 1
    assert bottom.stops == pytest.approx(-np.log2(255))
    assert bottom.next_gain_stops == pytest.approx(1)


# The light that is read.


def test_one_light_is_lit_and_all_others_are_out_their_colours_as_by_default() -> None:
    slots = level_slots(PATCH, FIXTURES["key"], 0.5)
    assert slots.shape == (2, 512)
    # 65535 / 2 rounds up to 0x8000; 5600 K is the cool end.
    assert slots[0, :3].tolist() == [0x80, 0x00, 255]
    assert not slots[0, 3:].any()
    assert not slots[1].any()


def test_a_light_of_emitters_alone_is_dimmed_by_all_of_them() -> None:
    assert level_slots(PATCH, FIXTURES["wash"], 0.2)[1, :4].tolist() == [51, 51, 51, 0]


def test_the_channel_of_the_brightness_counts_to() -> None:
    assert {name: steps_of(PATCH, fixture) for name, fixture in FIXTURES.items()} == {
        "key": 65535, "rim": 255, "wash": 255, "back": 255,
    }  # fmt: skip


def test_lights_of_one_type_share_the_curve() -> None:
    assert lights_of_type(PATCH.fixtures, "dimmer") == ["rim", "back"]
