"""What is written as a number with a unit means exactly that, and prints back as it was written."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.frame_rates import parse_frame_rate
from cuedeck.show.units import (
    Address,
    Angle,
    ColourTemperature,
    Current,
    Duration,
    Frequency,
    Length,
    Percent,
    Quantity,
    Stops,
    UnitError,
    parse_level,
    parse_number,
    parse_position,
    print_number,
    shorten,
)
from cuedeck.show.values import parse_f_number

KINDS: list[type[Quantity]] = [
    Duration,
    Length,
    Angle,
    Percent,
    Stops,
    ColourTemperature,
    Frequency,
    Current,
]

DECIMALS = st.decimals(min_value=-999_999, max_value=999_999, places=6, allow_nan=False).map(Fraction)
RATIOS = st.fractions(min_value=-999_999, max_value=999_999, max_denominator=100_000)
NUMBERS = DECIMALS | RATIOS


@given(NUMBERS)
def test_a_number_prints_as_a_text_that_reads_as_the_same_number(number: Fraction) -> None:
    assert parse_number(print_number(number)) == number


@given(st.sampled_from(KINDS), NUMBERS, st.data())
def test_a_quantity_prints_as_a_text_that_reads_as_the_same_quantity(
    kind: type[Quantity], number: Fraction, data: st.DataObject
) -> None:
    unit = data.draw(st.sampled_from(sorted(kind.FACTORS)))
    quantity = kind(number, unit)
    try:
        quantity.within_limits()
    except UnitError:
        with pytest.raises(UnitError):
            kind.parse(str(quantity))
        return
    read = kind.parse(str(quantity))
    assert (read.number, read.unit) == (number, unit)


@given(st.sampled_from([Duration, Length, Angle, Stops, Frequency]), st.floats(1, 30))
def test_a_quantity_made_from_a_measured_number_prints_as_a_text_that_can_be_read(
    kind: type[Quantity], measured: float
) -> None:
    assert float(kind.parse(str(kind.of(measured)))) == pytest.approx(measured, rel=1e-9)


@given(st.integers(1, 63999), st.integers(1, 512))
def test_an_address_prints_as_a_text_that_reads_as_the_same_address(universe: int, slot: int) -> None:
    # Universes 1 to 63999: ANSI E1.31-2018, 6.2.7. Slots 1 to 512: ANSI E1.11-2008 (R2018).
    assert Address.parse(str(Address(universe, slot))) == Address(universe, slot)


@given(st.text(max_size=30))
def test_any_text_is_a_value_or_a_refusal_with_a_cure(text: str) -> None:
    readers: list[Callable[[str], object]] = [
        parse_number,
        parse_level,
        parse_position,
        parse_frame_rate,
        parse_f_number,
        Duration.parse,
        Address.parse,
    ]
    for read in readers:
        refusal: UnitError | None = None
        try:
            read(text)
        except UnitError as error:
            refusal = error
        assert refusal is None or (refusal.what and refusal.cure)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1/50 s", Fraction(1, 50)),
        ("1/3 s", Fraction(1, 3)),
        ("0.1 s", Fraction(1, 10)),
        ("500 ms", Fraction(1, 2)),
        ("500ms", Fraction(1, 2)),
        ("1.5 min", Fraction(90)),
        ("2 seconds", Fraction(2)),
    ],
)
def test_a_time_is_exact(text: str, seconds: Fraction) -> None:
    assert Duration.parse(text).base == seconds


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        ("23.976", Fraction(24000, 1001)),
        ("23.98", Fraction(24000, 1001)),
        ("29.97", Fraction(30000, 1001)),
        ("59.94", Fraction(60000, 1001)),
        ("24000/1001", Fraction(24000, 1001)),
        ("25", Fraction(25)),
    ],
)
def test_a_frame_rate_of_the_thousand_and_first_is_exact(text: str, rate: Fraction) -> None:
    # SMPTE ST 12-1: 23.976 and 29.97 run the 24 and 30 counts at x 1000/1001.
    assert parse_frame_rate(text) == rate


def test_quantities_in_different_units_compare_by_what_they_are() -> None:
    assert Duration.parse("500 ms") == Duration.parse("0.5 s")
    assert hash(Duration.parse("500 ms")) == hash(Duration.parse("0.5 s"))
    assert Length.parse("12 cm") < Length.parse("0.121 m")
    assert Duration.parse("2 s") != Length.parse("2 mm")


def test_a_quantity_keeps_the_unit_of_its_author() -> None:
    assert str(Length.parse("12.50 cm")) == "12.5 cm"
    assert str(Stops.parse("−1.5 stops")) == "-1.5 stop"
    assert str(Angle.parse("30°")) == "30 deg"


@pytest.mark.parametrize(
    ("text", "level"),
    [
        ("45 %", Percent(Fraction(45), "%")),
        ("out", Percent(Fraction(0), "%")),
        ("full", Percent(Fraction(100), "%")),
        ("-1.5 stop", Stops(Fraction(-3, 2), "stop")),
        ("−1/3 stop", Stops(Fraction(-1, 3), "stop")),
        ("0 stop", Stops(Fraction(0), "stop")),
    ],
)
def test_a_level_is_percent_or_stops(text: str, level: Quantity) -> None:
    assert parse_level(text) == level


def test_slot_ten_is_not_slot_one() -> None:
    assert Address.parse("1.10") == Address(1, 10)
    assert Address.parse("1.1") == Address(1, 1)


def test_a_position_is_a_length_or_an_angle() -> None:
    assert parse_position("120 mm") == Length(Fraction(120), "mm")
    assert parse_position("-30 deg") == Angle(Fraction(-30), "deg")


TIME_CURE = "write a time such as 2 s or 500 ms"
LEVEL_CURE = "write a level such as 45 %, -1.5 stop, out or full"


@pytest.mark.parametrize(
    ("read", "text", "what", "cure"),
    [
        (Duration.parse, "2", "'2' has no unit", TIME_CURE),
        (Duration.parse, "2 fps", "'fps' is no unit for a time", TIME_CURE),
        (Duration.parse, "soon", "'soon' is not a time", TIME_CURE),
        (Duration.parse, "-1 s", "-1 s is out of range", "write a time of at least 0 s"),
        (Duration.parse, "25000 min", "25000 min is out of range", "write a time of at most 86400 s"),
        (Duration.parse, "1/0 s", "'1/0' divides by zero", "write a number such as 1/50"),
        (
            Stops.parse,
            "-1.5 stpo",
            "'stpo' is no unit for a number of stops",
            "write a number of stops such as -1.5 stop",
        ),
        (parse_level, "45", "'45' has no unit", LEVEL_CURE),
        (parse_level, "101 %", "101 % is out of range", "write a percentage of at most 100 %"),
        (
            parse_level,
            "1/3 stop",
            "1/3 stop is brighter than full",
            "write 0 stop for full, or a negative number of stops",
        ),
        (parse_number, "1e3", "'1e3' is not a number", "write a number such as 25 or 0.5"),
        (parse_number, "nan", "'nan' is not a number", "write a number such as 25 or 0.5"),
        (parse_number, "٣", "'٣' is not a number", "write a number such as 25 or 0.5"),
        (parse_frame_rate, "25 fps", "'25 fps' is not a frame rate", "write frames a second such as 25 or 23.976"),
        (parse_frame_rate, "0.5", "0.5 frames a second is out of range", "write 1 to 1000"),
        (parse_f_number, "22", "'22' is not a lens stop", "write it as 'f/22'"),
        (parse_f_number, "f2.8", "'f2.8' is not a lens stop", "write it as 'f/2.8'"),
        (parse_f_number, "22 stop", "'22 stop' is not a lens stop", "write the lens stop as f/32"),
        (parse_f_number, "f/0", "'f/0' is out of range", "write the lens stop as f/32"),
        (parse_position, "60 s", "'60 s' is not a position", "write a position such as 120 mm or 30 deg"),
        (Address.parse, "21", "'21' is not an address", "write universe.slot such as 1.21"),
        (Address.parse, "1.513", "slot 513 is out of range", "write a slot from 1 to 512"),
        (Address.parse, "1.0", "slot 0 is out of range", "write a slot from 1 to 512"),
        (Address.parse, "64000.1", "universe 64000 is out of range", "write a universe from 1 to 63999"),
        (Address.parse, "0.1", "universe 0 is out of range", "write a universe from 1 to 63999"),
    ],
)
def test_a_refusal_says_what_was_found_and_what_to_write(
    read: Callable[[str], object], text: str, what: str, cure: str
) -> None:
    with pytest.raises(UnitError) as refused:
        read(text)
    assert (refused.value.what, refused.value.cure) == (what, cure)


def test_a_text_in_a_message_is_short_and_on_one_line() -> None:
    assert shorten("one\ntwo\x1b[31m") == "one two\u241b[31m"
    assert shorten("x" * 50) == "x" * 37 + "..."


# What a keyboard or a habit makes of a number.


@pytest.mark.parametrize("space", ["\N{NO-BREAK SPACE}", "\N{NARROW NO-BREAK SPACE}"])
def test_a_space_that_does_not_break_is_a_space(space: str) -> None:
    assert Duration.parse(f"2{space}s") == Duration.parse("2 s")
    assert parse_level(f"45{space}%") == parse_level("45 %")
    assert parse_level(f"-1.5{space}stop") == parse_level("-1.5 stop")
    assert parse_position(f"{space}120{space}mm{space}") == parse_position("120 mm")


@pytest.mark.parametrize(
    ("parse", "text", "cure"),
    [
        (parse_level, "-0,5 stop", "write it with a point: '-0.5 stop'"),
        (parse_level, "12,5 %", "write it with a point: '12.5 %'"),
        (parse_position, "0,125 m", "write it with a point: '0.125 m'"),
        (parse_number, "1,5", "write it with a point: '1.5'"),
        (parse_frame_rate, "23,976", "write a point before decimals, and nothing between thousands"),
        (parse_number, "1,000", "write a point before decimals, and nothing between thousands"),
        (Duration.parse, " 1,5 s", "write it with a point: '1.5 s'"),
    ],
)
def test_a_comma_in_a_number_is_told_of(parse: Callable[[str], object], text: str, cure: str) -> None:
    with pytest.raises(UnitError) as refused:
        parse(text)
    assert refused.value.what == f"'{text}' has a comma in its number"
    assert refused.value.cure == cure
