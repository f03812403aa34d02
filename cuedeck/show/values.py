"""How single values of a show are read from their texts by the models, and refused with a cure."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, PlainSerializer
from pydantic_core import PydanticCustomError

from cuedeck.show.units import (
    Angle,
    Length,
    Level,
    UnitError,
    parse_f_number,
    parse_frame_rate,
    parse_level,
    parse_number,
    parse_position,
    print_number,
    shorten,
)


def refuse(what: str, cure: str) -> PydanticCustomError:
    """Return the error of a value, with its cure, in the form the loader prints."""
    return PydanticCustomError("cuedeck", "{what}", {"what": what, "cure": cure})


def text_reader(parse: Any, expected: str, example: str) -> BeforeValidator:
    """Return how a value is read from its text by `parse`, which raises UnitError."""

    def read(value: Any) -> Any:
        if not isinstance(value, str):
            if isinstance(value, (dict, list, type(None))):
                raise refuse(f"{expected} is expected here", f"write {expected} such as {example}")
            return value
        try:
            return parse(value)
        except UnitError as error:
            raise refuse(error.what, error.cure) from error

    return BeforeValidator(read)


def _above_zero(text: str) -> Fraction:
    number = parse_number(text)
    if not 0 < number <= 10**9:
        raise UnitError(f"{print_number(number)} is out of range", "write a number above 0")
    return number


def _whole(text: str) -> int:
    number = parse_number(text)
    if number.denominator != 1 or not 0 <= number <= 10**9:
        raise UnitError(f"'{shorten(text)}' is not a whole number", "write a whole number such as 800")
    return int(number)


def _coordinate(text: str) -> float:
    try:
        number = parse_number(text)
    except UnitError as error:
        raise UnitError(error.what, "write metres as a plain number such as -0.9") from error
    if abs(number) > 1000:
        raise UnitError(f"{print_number(number)} m is out of range", "write metres from the product, -1000 to 1000")
    return float(number)


def _printed(printer: Any) -> PlainSerializer:
    return PlainSerializer(printer, return_type=str)


def _printable(text: str) -> str:
    if not text.isprintable():
        raise refuse(f"'{shorten(text)}' has a character that does not print", "write it in letters, digits and spaces")
    return text


PositiveNumber = Annotated[Fraction, text_reader(_above_zero, "a number", "150"), _printed(print_number)]
WholeNumber = Annotated[int, text_reader(_whole, "a whole number", "800"), _printed(str)]
FrameRate = Annotated[Fraction, text_reader(parse_frame_rate, "a frame rate", "25"), _printed(print_number)]
FNumber = Annotated[
    Fraction, text_reader(parse_f_number, "a lens stop", "f/32"), _printed(lambda n: f"f/{print_number(n)}")
]
LevelText = Annotated[Level, text_reader(parse_level, "a level", "45 % or -1 stop"), _printed(str)]
Coordinate = Annotated[float, text_reader(_coordinate, "a number of metres", "-0.9")]
PositionText = Annotated[Length | Angle, text_reader(parse_position, "a position", "120 mm or 30 deg"), _printed(str)]
Text = Annotated[str, Field(max_length=500), AfterValidator(_printable)]
Name = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_printable)]


def _read_point(value: Any) -> Any:
    if isinstance(value, list) and len(value) == 3:
        return value
    raise refuse("a place is three numbers", "write metres to the right, away and up: [-0.9, 0.7, 0.5]")


Place3D = Annotated[tuple[Coordinate, Coordinate, Coordinate], BeforeValidator(_read_point), Field(strict=False)]
