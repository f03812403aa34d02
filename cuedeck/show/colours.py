"""Colours as a look asks for them: a white with tint or filter, a chromaticity, or a colour in sRGB.

A colour is a chromaticity and nothing else: how bright it is, the level says.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import floor
from typing import Any

from cuedeck.show.schema_parts import JsonSchema, value_schema, whole_text
from cuedeck.show.units import (
    NUMBER_PATTERN,
    ColourTemperature,
    UnitError,
    parse_number,
    plain,
    print_number,
    shorten,
    text_schema,
)

CURE = (
    "write a colour such as 5600 K, 5600 K Duv -0.003, 3200 K -137 mired (through a filter),"
    " xy 0.3127 0.3290, or sRGB 255 128 0"
)
MOST_DUV = Fraction(5, 100)
"""CIE 15 defines a correlated colour temperature within this distance of the locus."""
_WHITE = re.compile(r"(?P<white>\S+\s*K)(?:\s+(?:(?P<shift>[+-]?[\d./]+)\s*mired|Duv\s+(?P<duv>[+-]?[\d./]+)))?")
_PARTS = re.compile(r"(?P<space>xy|sRGB)\s+(?P<numbers>.+)")


@dataclass(frozen=True)
class WhiteColour:
    """A white on the Planckian locus, beside it by a tint, or as a filter makes it."""

    kelvin: ColourTemperature
    duv: Fraction = Fraction(0)
    """Distance from the locus: above it is greenish, below it pinkish (ANSI C78.377)."""
    filter_mired: Fraction = Fraction(0)
    """What a correction filter adds to the mired of the light behind it."""

    @cached_property
    def filtered_kelvin(self) -> float:
        """The colour temperature behind the filter."""
        return float(1_000_000 / (1_000_000 / self.kelvin.base + self.filter_mired))

    def __str__(self) -> str:
        words = [str(self.kelvin)]
        if self.duv:
            words.append(f"Duv {_signed(self.duv)}")
        if self.filter_mired:
            words.append(f"{_signed(self.filter_mired)} mired")
        return " ".join(words)


@dataclass(frozen=True)
class Chromaticity:
    """A point of the CIE 1931 diagram."""

    x: Fraction
    y: Fraction

    def __str__(self) -> str:
        return f"xy {print_number(self.x)} {print_number(self.y)}"


@dataclass(frozen=True)
class ScreenColour:
    """A colour in sRGB (IEC 61966-2-1), each part 0 to 255."""

    red: Fraction
    green: Fraction
    blue: Fraction

    @property
    def as_if_of_one(self) -> ScreenColour | None:
        """The colour that was meant where the parts look like shares, 0 to 1; None where they do not."""
        parts = (self.red, self.green, self.blue)
        if max(parts) > 1 or all(part.denominator == 1 for part in parts):
            return None
        return ScreenColour(*(Fraction(floor(255 * part + Fraction(1, 2))) for part in parts))

    def __str__(self) -> str:
        return f"sRGB {print_number(self.red)} {print_number(self.green)} {print_number(self.blue)}"


Colour = WhiteColour | Chromaticity | ScreenColour


def parse_colour(text: str) -> Colour:
    """Return the colour that a text stands for. Raises UnitError."""
    cleaned = plain(text)
    if match := _WHITE.fullmatch(cleaned):
        return _white(match)
    if match := _PARTS.fullmatch(cleaned):
        numbers = [parse_number(word) for word in match["numbers"].replace(",", " ").split(maxsplit=4)]
        return _chromaticity(numbers) if match["space"] == "xy" else _screen_colour(numbers)
    if re.fullmatch(r"[\d.]+", cleaned):
        raise UnitError(f"'{shorten(text)}' has no unit", CURE)
    raise UnitError(f"'{shorten(text)}' is not a colour", _cure(cleaned))


def _cure(text: str) -> str:
    if (colour := screen_colour_of_hex(text)) is not None:
        return f"write {colour}"
    without_comma = " ".join(text.replace(",", " ").split())
    if text != without_comma and _WHITE.fullmatch(without_comma):
        return f"write it without a comma: {shorten(without_comma)}"
    return CURE


def screen_colour_of_hex(text: str) -> ScreenColour | None:
    """Return the colour of a text such as #ff8000 or #f80, without the # too; None where it is black or none."""
    digits = text.removeprefix("#")
    if re.fullmatch(r"[0-9a-fA-F]{3}", digits):
        digits = "".join(2 * digit for digit in digits)
    if not re.fullmatch(r"[0-9a-fA-F]{6}", digits) or int(digits, 16) == 0:
        return None
    return ScreenColour(*(Fraction(int(digits[start : start + 2], 16)) for start in (0, 2, 4)))


def _white(match: re.Match[str]) -> WhiteColour:
    kelvin = ColourTemperature.parse(match["white"])
    duv, shift = (parse_number(match[name]) if match[name] else Fraction(0) for name in ("duv", "shift"))
    if abs(duv) > MOST_DUV:
        raise UnitError(
            f"a Duv of {print_number(duv)} is too far from white", "write -0.05 to 0.05, or the point itself as xy"
        )
    mired = 1_000_000 / kelvin.base + shift
    if mired <= 0 or not ColourTemperature.LEAST <= 1_000_000 / mired <= ColourTemperature.MOST:
        raise UnitError(
            f"a filter of {_signed(shift)} mired makes no white of {kelvin}",
            "write one that ends between 1000 K and 40000 K; warming filters count up, cooling ones down",
        )
    return WhiteColour(kelvin, duv, shift)


def _chromaticity(numbers: list[Fraction]) -> Chromaticity:
    if len(numbers) != 2:
        raise UnitError(f"xy takes 2 numbers, not {len(numbers)}", "write a point such as xy 0.3127 0.3290")
    check_chromaticity(*numbers)
    return Chromaticity(*numbers)


def check_chromaticity(x: Fraction, y: Fraction) -> None:
    """Raise UnitError where a point lies outside the CIE 1931 diagram."""
    if x < 0 or y <= 0 or x + y > 1:
        raise UnitError(
            f"x {print_number(x)}, y {print_number(y)} is no chromaticity",
            "x is 0 or more, y is above 0, and together they are at most 1",
        )


def _screen_colour(numbers: list[Fraction]) -> ScreenColour:
    if len(numbers) != 3 or not all(0 <= number <= 255 for number in numbers):
        raise UnitError("sRGB takes 3 numbers from 0 to 255", "write red, green and blue such as sRGB 255 128 0")
    if not any(numbers):
        raise UnitError("black has no colour", "write 'level: out' for no light")
    return ScreenColour(*numbers)


def _signed(number: Fraction) -> str:
    return f"{'+' if number > 0 else ''}{print_number(number)}"


class ColourText:
    """The pydantic type of a colour."""

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: Any) -> Any:
        return text_schema(Colour, parse_colour, "a colour", CURE)

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: Any, handler: Any) -> JsonSchema:
        number = NUMBER_PATTERN
        ways = (
            rf"{ColourTemperature.pattern()}(?:\s+(?:{number}\s*mired|Duv\s+{number}))?",
            rf"xy(?:[\s,]+{number}){{2}}[\s,]*",
            rf"sRGB(?:[\s,]+{number}){{3}}[\s,]*",
        )
        examples = "5600 K or 5600 K Duv -0.003 or 3200 K -137 mired or xy 0.3127 0.3290 or sRGB 255 128 0"
        return value_schema("a colour", examples, whole_text("|".join(ways)), cure=CURE)
