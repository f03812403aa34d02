"""Units: the one place where "-1.5 stop", "2 s" or "120 mm" becomes a value, and is printed back.

A quantity keeps the number and the unit as they were written, so that it prints in the words of its
author; it compares by its exact value in the base unit. Numbers are fractions: 1/3 s is 1/3 s.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, total_ordering
from types import UnionType
from typing import TYPE_CHECKING, Any, ClassVar, Self

from cuedeck.show.schema_parts import NUMBER, JsonSchema, one_of, value_schema, whole_text
from cuedeck.visible import visible_line

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler
    from pydantic_core import CoreSchema

FULL_UNIVERSE = 512
"""ANSI E1.11: slots behind the start code at most."""
FEWEST_SLOTS = 24
"""The least that is sent: as many as fill the shortest time from break to break that ANSI E1.11 allows."""
_NUMBER = r"[+-]?(?:\d{1,12}(?:\.\d{0,12})?|\.\d{1,12})(?:\s*/\s*\d{1,24})?"
_QUANTITY = re.compile(rf"({_NUMBER})\s*(.*)", re.ASCII | re.DOTALL)
_WHOLE_NUMBER = re.compile(rf"{_NUMBER}", re.ASCII)
_COMMA = re.compile(r"^(\s*[+\N{MINUS SIGN}-]?\d+),(\d)")
_THOUSANDS = re.compile(r"\s*[+-]?[1-9]\d*,\d{3}(?!\d)")
_OF_A_KEYBOARD = str.maketrans({"\N{MINUS SIGN}": "-", "\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " "})
NUMBER_PATTERN = _NUMBER.replace("[+-]", "[+\N{MINUS SIGN}-]")
"""A number in the dialect that Python and ECMA-262, the one of JSON Schema, share."""


FRAMES_PATTERN = r"\d{1,9}\s*(?:frames?|f)"
FRAMES = re.compile(FRAMES_PATTERN.replace(r"\d{1,9}", r"(\d{1,9})"), re.ASCII)


class UnitError(ValueError):
    """A text that is not a value of the kind asked for. The message says what to write instead."""

    def __init__(self, what: str, cure: str) -> None:
        super().__init__(what)
        self.what = what
        self.cure = cure


class OutOfRange(UnitError):
    """A value of the kind asked for, outside its limits."""


class CommaForPoint(UnitError):
    """A number with a comma in it."""

    def __init__(self, text: str) -> None:
        pointed = _COMMA.sub(r"\1.\2", text.strip())
        cure = f"write it with a point: '{shorten(pointed)}'"
        if _THOUSANDS.match(text):
            cure = "write a point before decimals, and nothing between thousands"
        super().__init__(f"'{shorten(text)}' has a comma in its number", cure)


def plain(text: str) -> str:
    """Return a text without blanks around it, its spaces and minus signs those of a keyboard."""
    return text.strip().translate(_OF_A_KEYBOARD)


def refuse_comma(text: str) -> None:
    """Raise CommaForPoint where a number is written with a comma for its point."""
    if _COMMA.search(text):
        raise CommaForPoint(text)


def parse_number(text: str) -> Fraction:
    """Return the exact value of a decimal number or a fraction such as "1/50".

    Raises UnitError for anything else.
    """
    refuse_comma(text)
    cleaned = plain(text)
    if not _WHOLE_NUMBER.fullmatch(cleaned):
        raise UnitError(f"'{shorten(text)}' is not a number", "write a number such as 25 or 0.5")
    return _fraction(cleaned)


def print_number(number: Fraction) -> str:
    """Return a number as a decimal where that is exact in twelve places, else as a fraction."""
    scaled = number * 10**12
    if scaled.denominator != 1:
        return f"{number.numerator}/{number.denominator}"
    sign = "-" if scaled < 0 else ""
    whole, rest = divmod(abs(scaled.numerator), 10**12)
    decimals = f"{rest:012d}".rstrip("0")
    return f"{sign}{whole}.{decimals}" if decimals else f"{sign}{whole}"


def shorten(text: str, limit: int = 40) -> str:
    """Return a text from a file in a form that fits into a message: one line, printable, not long."""
    line = visible_line(text)
    return line if len(line) <= limit else line[: limit - 3] + "..."


def _tidy(number: Fraction | float) -> Fraction:
    """Return a number as a fraction; a float, to nine places, so that it prints as a person would write it."""
    return Fraction(str(round(number, 9))) if isinstance(number, float) else Fraction(number)


def _fraction(text: str) -> Fraction:
    above, slash, below = text.partition("/")
    if slash and not int(below):
        raise UnitError(f"'{text}' divides by zero", "write a number such as 1/50")
    return Fraction(above.strip()) / (int(below) if slash else 1)


@total_ordering
@dataclass(frozen=True, eq=False)
class Quantity:
    """A number with a unit. Subclasses say which units there are; the first is the base unit."""

    number: Fraction
    unit: str

    KIND: ClassVar[str] = "a quantity"
    """What it is, in a message: "a time"."""
    EXAMPLE: ClassVar[str] = ""
    """What it looks like, in a message: "2 s"."""
    FACTORS: ClassVar[Mapping[str, Fraction]] = {}
    """Base units in one of each unit."""
    SPELLINGS: ClassVar[Mapping[str, str]] = {}
    """Other ways to write a unit, and the one that is printed."""
    LEAST: ClassVar[Fraction | None] = None
    """The smallest allowed value in base units."""
    MOST: ClassVar[Fraction | None] = None
    """The largest allowed value in base units."""

    @classmethod
    def parse(cls, text: str) -> Self:
        """Return the quantity that a text stands for. Raises UnitError."""
        refuse_comma(text)
        match = _QUANTITY.fullmatch(plain(text))
        if match is None:
            raise cls._refusal(text)
        unit = cls.SPELLINGS.get(match[2], match[2])
        if unit not in cls.FACTORS:
            if unit:
                raise UnitError(f"'{shorten(unit)}' is no unit for {cls.KIND}", cls._cure())
            raise UnitError(f"'{shorten(text)}' has no unit", cls._cure())
        return cls(_fraction(match[1]), unit).within_limits()

    @classmethod
    def of(cls, base: Fraction | int | float) -> Self:
        """Return the quantity of so many base units."""
        return cls(_tidy(base), next(iter(cls.FACTORS)))

    @cached_property
    def base(self) -> Fraction:
        """The exact value in the base unit."""
        return self.number * self.FACTORS[self.unit]

    def within_limits(self) -> Self:
        """Return the quantity itself. Raises UnitError where it is outside LEAST to MOST."""
        for limit, is_past, word in (
            (self.LEAST, self.LEAST is not None and self.base < self.LEAST, "least"),
            (self.MOST, self.MOST is not None and self.base > self.MOST, "most"),
        ):
            if limit is not None and is_past:
                allowed = type(self).of(limit)
                raise OutOfRange(f"{self} is out of range", f"write {self.KIND} of at {word} {allowed}")
        return self

    def __str__(self) -> str:
        return f"{print_number(self.number)} {self.unit}"

    def __float__(self) -> float:
        return float(self.base)

    def __eq__(self, other: object) -> bool:
        return type(other) is type(self) and other.base == self.base

    def __lt__(self, other: Self) -> bool:
        return self.base < other.base

    def __hash__(self) -> int:
        return hash((type(self), self.base))

    @classmethod
    def _cure(cls) -> str:
        return f"write {cls.KIND} such as {cls.EXAMPLE}"

    @classmethod
    def _refusal(cls, text: str) -> UnitError:
        return UnitError(f"'{shorten(text)}' is not {cls.KIND}", cls._cure())

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return text_schema(cls, cls.parse, cls.KIND, cls._cure())

    @classmethod
    def pattern(cls) -> str:
        """Return a pattern of its texts, without what may stand around them."""
        return rf"{NUMBER_PATTERN}\s*{one_of([*cls.FACTORS, *cls.SPELLINGS])}"

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: CoreSchema, handler: Any) -> JsonSchema:
        return value_schema(cls.KIND, cls.EXAMPLE, whole_text(cls.pattern()))


def text_schema(cls: type | UnionType, parse: Any, kind: str, cure: str) -> CoreSchema:
    """Return how pydantic reads a value that the file writes as a text."""
    from pydantic_core import PydanticCustomError, core_schema

    def read(value: object) -> object:
        if isinstance(value, cls):
            return value
        if not isinstance(value, str):
            raise PydanticCustomError("unit", "{what}", {"what": f"{kind} is expected here", "cure": cure})
        try:
            return parse(value)
        except UnitError as error:
            raise PydanticCustomError("unit", "{what}", {"what": error.what, "cure": error.cure}) from error

    return core_schema.no_info_plain_validator_function(read, serialization=core_schema.to_string_ser_schema())


class Duration(Quantity):
    """A length of time; base unit second."""

    KIND = "a time"
    EXAMPLE = "2 s or 500 ms"
    FACTORS: ClassVar = {"s": Fraction(1), "ms": Fraction(1, 1000), "min": Fraction(60)}
    SPELLINGS: ClassVar = {"sec": "s", "second": "s", "seconds": "s"}
    LEAST = Fraction(0)
    MOST = Fraction(24 * 3600)


class Length(Quantity):
    """A distance; base unit millimetre."""

    KIND = "a length"
    EXAMPLE = "120 mm"
    FACTORS: ClassVar = {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000)}


class Angle(Quantity):
    """An angle; base unit degree."""

    KIND = "an angle"
    EXAMPLE = "30 deg"
    FACTORS: ClassVar = {"deg": Fraction(1)}
    SPELLINGS: ClassVar = {"°": "deg", "degree": "deg", "degrees": "deg"}


class Percent(Quantity):
    """A share of the whole, for a light its dimmer's control value; base value 0 to 1."""

    KIND = "a percentage"
    EXAMPLE = "45 %"
    FACTORS: ClassVar = {"%": Fraction(1, 100)}
    LEAST = Fraction(0)
    MOST = Fraction(1)

    @classmethod
    def of(cls, base: Fraction | int | float) -> Self:
        """Return the share 0 to 1 as percent."""
        return cls(_tidy(base) * 100, "%")


class Stops(Quantity):
    """Light relative to full output in factors of two."""

    KIND = "a number of stops"
    EXAMPLE = "-1.5 stop"
    FACTORS: ClassVar = {"stop": Fraction(1)}
    SPELLINGS: ClassVar = {"stops": "stop"}
    LEAST = Fraction(-40)
    MOST = Fraction(40)


class ColourTemperature(Quantity):
    """A correlated colour temperature; base unit kelvin."""

    KIND = "a colour temperature"
    EXAMPLE = "5600 K"
    FACTORS: ClassVar = {"K": Fraction(1)}
    LEAST = Fraction(1000)
    MOST = Fraction(40000)


class Frequency(Quantity):
    """A rate; base unit hertz."""

    KIND = "a frequency"
    EXAMPLE = "44 Hz"
    FACTORS: ClassVar = {"Hz": Fraction(1)}
    LEAST = Fraction(1)
    MOST = Fraction(100_000)


class Current(Quantity):
    """An electric current; base unit ampere."""

    KIND = "a current"
    EXAMPLE = "16 A"
    FACTORS: ClassVar = {"A": Fraction(1)}
    LEAST = Fraction(0)


Level = Percent | Stops
"""How bright: percent is the dimmer's control value, stops are light relative to full output."""


def parse_level(text: str) -> Level:
    """Return the level that a text stands for: percent, stops, "out" or "full". Raises UnitError."""
    cleaned = text.strip()
    cure = "write a level such as 45 %, -1.5 stop, out or full"
    if cleaned in ("out", "full"):
        return Percent.of(int(cleaned == "full"))
    kind: type[Percent] | type[Stops] = Stops if "stop" in cleaned else Percent
    try:
        level = kind.parse(cleaned)
    except (OutOfRange, CommaForPoint):
        raise
    except UnitError as error:
        raise UnitError(error.what, cure) from error
    if isinstance(level, Stops) and level.base > 0:
        raise UnitError(f"{level} is brighter than full", "write 0 stop for full, or a negative number of stops")
    return level


def parse_position(text: str) -> Length | Angle:
    """Return a position on an axis, in millimetres or degrees. Raises UnitError."""
    refuse_comma(text)
    for kind in (Length, Angle):
        try:
            return kind.parse(text)
        except UnitError:
            continue
    raise UnitError(f"'{shorten(text)}' is not a position", "write a position such as 120 mm or 30 deg")


@dataclass(frozen=True, order=True)
class Address:
    """Where a fixture listens: universe 1 to 63999 (ANSI E1.31), slot 1 to 512 (ANSI E1.11)."""

    universe: int
    slot: int

    @classmethod
    def parse(cls, text: str) -> Self:
        """Return the address that "1.21" stands for. Raises UnitError."""
        match = re.fullmatch(r"(\d{1,6})\.(\d{1,6})", text.strip(), re.ASCII)
        cure = "write universe.slot such as 1.21"
        if match is None:
            raise UnitError(f"'{shorten(text)}' is not an address", cure)
        universe, slot = int(match[1]), int(match[2])
        if not 1 <= universe <= 63999:
            raise UnitError(f"universe {universe} is out of range", "write a universe from 1 to 63999")
        if not 1 <= slot <= 512:
            raise UnitError(f"slot {slot} is out of range", "write a slot from 1 to 512")
        return cls(universe, slot)

    def __str__(self) -> str:
        return f"{self.universe}.{self.slot}"

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return text_schema(cls, cls.parse, "an address", "write universe.slot such as 1.21")

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: CoreSchema, handler: Any) -> JsonSchema:
        pattern = whole_text(r"\d{1,6}\.\d{1,6}")
        cure = "write universe.slot such as 1.21"
        # As a number it has a part behind the point, since slots count from 1.
        return value_schema("an address", "1.21", pattern, NUMBER, cure, **{"not": {"type": "integer"}})
