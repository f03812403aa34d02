"""Colours as a look writes them: what is read, how it prints, and what is refused with which cure."""

from __future__ import annotations

from contextlib import suppress
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.colours import CURE, Chromaticity, Colour, ScreenColour, WhiteColour, parse_colour
from cuedeck.show.load import load_show
from cuedeck.show.units import ColourTemperature, UnitError


def white(kelvin: int, duv: str = "0", mired: str = "0") -> WhiteColour:
    return WhiteColour(ColourTemperature.of(kelvin), Fraction(duv), Fraction(mired))


@pytest.mark.parametrize(
    ("text", "colour"),
    [
        ("5600 K", white(5600)),
        ("5600K", white(5600)),
        ("  5600   K ", white(5600)),
        ("5600\N{NO-BREAK SPACE}K\N{NARROW NO-BREAK SPACE}Duv\N{NO-BREAK SPACE}0.003", white(5600, "0.003")),
        ("5600 K Duv +0.003", white(5600, "0.003")),
        ("5600 K Duv 0.003", white(5600, "0.003")),
        ("5600K  Duv  -0.003", white(5600, "-0.003")),
        ("5600 K Duv \N{MINUS SIGN}0.003", white(5600, "-0.003")),
        ("5600 K Duv 0", white(5600)),
        ("5600 K Duv -1/20", white(5600, "-0.05")),
        ("3200 K -137 mired", white(3200, mired="-137")),
        ("3200 K \N{MINUS SIGN}137 mired", white(3200, mired="-137")),
        ("5600 K +159mired", white(5600, mired="159")),
        ("5600 K 159 mired", white(5600, mired="159")),
        ("1000 K", white(1000)),
        ("40000 K", white(40000)),
        ("xy 0.3127 0.3290", Chromaticity(Fraction("0.3127"), Fraction("0.329"))),
        ("xy 0.3127, 0.3290", Chromaticity(Fraction("0.3127"), Fraction("0.329"))),
        ("xy 1/3 1/3", Chromaticity(Fraction(1, 3), Fraction(1, 3))),
        ("xy 0 1", Chromaticity(Fraction(0), Fraction(1))),
        ("sRGB 255 128 0", ScreenColour(Fraction(255), Fraction(128), Fraction(0))),
        ("sRGB 0 0 0.5", ScreenColour(Fraction(0), Fraction(0), Fraction(1, 2))),
    ],
)
def test_a_colour_is_read(text: str, colour: Colour) -> None:
    assert parse_colour(text) == colour


def test_a_filter_adds_its_mired_to_that_of_the_light() -> None:
    # 3200 K is 312.5 mired; with -137 it is 175.5 mired, 5698 K.
    assert parse_colour("3200 K -137 mired").filtered_kelvin == pytest.approx(1e6 / 175.5)
    assert parse_colour("5600 K").filtered_kelvin == 5600


XY_CURE = "x is 0 or more, y is above 0, and together they are at most 1"
SCREEN_CURE = "write red, green and blue such as sRGB 255 128 0"
NUMBER_CURE = "write a number such as 25 or 0.5"


@pytest.mark.parametrize(
    ("text", "what", "cure"),
    [
        ("", "'' is not a colour", CURE),
        ("5600", "'5600' has no unit", CURE),
        ("warm", "'warm' is not a colour", CURE),
        ("#ff8000", "'#ff8000' is not a colour", "write sRGB 255 128 0"),
        ("#F80", "'#F80' is not a colour", "write sRGB 255 136 0"),
        ("ff8000", "'ff8000' is not a colour", "write sRGB 255 128 0"),
        ("#ff80", "'#ff80' is not a colour", CURE),
        ("#000000", "'#000000' is not a colour", CURE),
        ("5600 K, Duv -0.004", "'5600 K, Duv -0.004' is not a colour", "write it without a comma: 5600 K Duv -0.004"),
        ("3200 K,-137 mired", "'3200 K,-137 mired' is not a colour", "write it without a comma: 3200 K -137 mired"),
        ("5600 k", "'5600 k' is not a colour", CURE),
        ("5600 K Duv", "'5600 K Duv' is not a colour", CURE),
        ("5600 K Duv 1e-3", "'5600 K Duv 1e-3' is not a colour", CURE),
        ("5600 K Duv nan", "'5600 K Duv nan' is not a colour", CURE),
        ("5600 K 20", "'5600 K 20' is not a colour", CURE),
        ("5600 K Duv 0.01 20 mired", "'5600 K Duv 0.01 20 mired' is not a colour", CURE),
        ("srgb 1 2 3", "'srgb 1 2 3' is not a colour", CURE),
        ("xy", "'xy' is not a colour", CURE),
        ("nan K", "'nan K' is not a colour temperature", "write a colour temperature such as 5600 K"),
        ("inf K", "'inf K' is not a colour temperature", "write a colour temperature such as 5600 K"),
        ("1e5 K", "'e5 K' is no unit for a colour temperature", "write a colour temperature such as 5600 K"),
        ("999 K", "999 K is out of range", "write a colour temperature of at least 1000 K"),
        ("0 K", "0 K is out of range", "write a colour temperature of at least 1000 K"),
        ("-5600 K", "-5600 K is out of range", "write a colour temperature of at least 1000 K"),
        ("40001 K", "40001 K is out of range", "write a colour temperature of at most 40000 K"),
        ("5600 K Duv 0.051", "a Duv of 0.051 is too far from white", "write -0.05 to 0.05, or the point itself as xy"),
        ("5600 K Duv 1/0", "'1/0' divides by zero", "write a number such as 1/50"),
        ("5600 K Duv 1.2.3", "'1.2.3' is not a number", NUMBER_CURE),
        ("xy 1 1", "x 1, y 1 is no chromaticity", XY_CURE),
        ("xy 0.3 0", "x 0.3, y 0 is no chromaticity", XY_CURE),
        ("xy -0.1 0.5", "x -0.1, y 0.5 is no chromaticity", XY_CURE),
        ("xy 0.3", "xy takes 2 numbers, not 1", "write a point such as xy 0.3127 0.3290"),
        ("xy 0.3 0.3 0.3", "xy takes 2 numbers, not 3", "write a point such as xy 0.3127 0.3290"),
        ("xy nan 0.3", "'nan' is not a number", NUMBER_CURE),
        ("xy inf 0.3", "'inf' is not a number", NUMBER_CURE),
        ("xy 3e-1 0.3", "'3e-1' is not a number", NUMBER_CURE),
        ("sRGB 0 0 0", "black has no colour", "write 'level: out' for no light"),
        ("sRGB 256 0 0", "sRGB takes 3 numbers from 0 to 255", SCREEN_CURE),
        ("sRGB -1 0 0", "sRGB takes 3 numbers from 0 to 255", SCREEN_CURE),
        ("sRGB 1 2", "sRGB takes 3 numbers from 0 to 255", SCREEN_CURE),
        ("sRGB 1 2 3 4 5 6", "'5 6' is not a number", NUMBER_CURE),
        ("sRGB #ff8000", "'#ff8000' is not a number", NUMBER_CURE),
    ],
)
def test_a_text_that_is_no_colour_is_refused_with_a_cure(text: str, what: str, cure: str) -> None:
    with pytest.raises(UnitError) as refused:
        parse_colour(text)
    assert (refused.value.what, refused.value.cure) == (what, cure)


@pytest.mark.parametrize("shift", ["-312.5", "-313", "-300", "+900", "-999999999999"])
def test_a_filter_that_leaves_no_white_is_refused(shift: str) -> None:
    # 3200 K is 312.5 mired: nothing is left at -312.5, more than 40000 K at -300, under 1000 K at +900.
    with pytest.raises(UnitError) as refused:
        parse_colour(f"3200 K {shift} mired")
    assert refused.value.what == f"a filter of {shift} mired makes no white of 3200 K"
    assert refused.value.cure.startswith("write one that ends between 1000 K and 40000 K")


@pytest.mark.parametrize(
    "text",
    [
        "K" * 200_000,
        "5" * 200_000 + " K",
        "5600" + " " * 200_000 + "k",
        "5600 K" + " " * 200_000 + "x",
        "5600 K " + "1" * 200_000,
        "5600 K " + "1 " * 100_000,
        "5600 K Duv " + "." * 200_000,
        "xy " + "0 " * 100_000,
        "sRGB" + " " * 200_000,
        "sRGB " + "9" * 200_000,
    ],
    ids=lambda text: f"{text[:8]} and so on",
)
def test_a_text_of_any_length_is_refused_in_one_short_line(text: str) -> None:
    # What takes a time that grows with the square of the length would hold the tests for minutes here.
    with pytest.raises(UnitError) as refused:
        parse_colour(text)
    assert len(refused.value.what) < 120
    assert refused.value.what.isprintable()


numbers = st.decimals(0, 1, places=4).map(Fraction)
colours = st.one_of(
    st.builds(
        WhiteColour,
        st.integers(1000, 40000).map(ColourTemperature.of),
        st.decimals("-0.05", "0.05", places=4).map(Fraction),
    ),
    st.integers(-100, 400).map(lambda mired: white(5000, mired=str(mired))),
    st.tuples(numbers, numbers).filter(lambda xy: xy[1] > 0 and sum(xy) <= 1).map(lambda xy: Chromaticity(*xy)),
    st.tuples(*3 * [st.integers(0, 255).map(Fraction)]).filter(any).map(lambda parts: ScreenColour(*parts)),
)


@given(colours)
def test_a_colour_prints_as_a_text_that_is_read_as_the_same_colour(colour: Colour) -> None:
    assert parse_colour(str(colour)) == colour


@given(st.text(alphabet="0123456789./+-eE KDuvmiredxysRGB,\N{MINUS SIGN}\u0663 naf", max_size=30))
def test_any_text_is_a_colour_or_is_refused_and_never_an_error_of_another_kind(text: str) -> None:
    colour = None
    with suppress(UnitError):
        colour = parse_colour(text)
    assert colour is None or parse_colour(str(colour)) == colour


def test_a_colour_is_refused_where_it_stands() -> None:
    (problem,) = load_show(b"cuedeck: 1\nlooks:\n  a: {key: {level: full, colour: xy 1 1}}\n").problems
    assert (problem.place.line, problem.place.column, problem.what) == (3, 34, "x 1, y 1 is no chromaticity")


@pytest.mark.parametrize("value", ["[5600 K]", "{white: 5600 K}"])
def test_a_colour_that_is_no_text_is_refused(value: str) -> None:
    (problem,) = load_show(f"cuedeck: 1\nlooks:\n  a: {{key: {{level: full, colour: {value}}}}}\n".encode()).problems
    assert (problem.place.line, problem.what, problem.cure) == (3, "a colour is expected here", CURE)
