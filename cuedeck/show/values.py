"""The base of all models of a show, and how they read single values from texts and refuse them with a cure."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    PlainSerializer,
    ValidationInfo,
    field_validator,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from cuedeck.show.frame_rates import TimecodeRate, parse_frame_rate, read_label
from cuedeck.show.schema_parts import NUMBER, ONE_LINE, TEXT, JsonSchema, value_schema, whole_text
from cuedeck.show.units import (
    NUMBER_PATTERN,
    Angle,
    CommaForPoint,
    Frequency,
    Length,
    Level,
    Percent,
    Stops,
    UnitError,
    parse_level,
    parse_number,
    parse_position,
    print_number,
    shorten,
)

MOST_NUMBER = 10**9


def refuse(what: str, cure: str) -> PydanticCustomError:
    """Return the error of a value, with its cure, in the form the loader prints."""
    return PydanticCustomError("cuedeck", "{what}", {"what": what, "cure": cure})


@dataclass(frozen=True, eq=False)
class TextReader:
    """How a value is read from its text, and how editors are told that it is written."""

    read: Callable[[Any], Any]
    written: JsonSchema

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Read the text first."""
        return core_schema.no_info_before_validator_function(self.read, handler(source))

    def __get_pydantic_json_schema__(self, _: CoreSchema, handler: Any) -> JsonSchema:
        """Describe the text, not what is read from it."""
        return dict(self.written)


def text_reader(
    parse: Any, expected: str, example: str, pattern: str | None = None, types: Iterable[str] = TEXT, **limits: Any
) -> TextReader:
    """Return how a value is read from its text by `parse`, which raises UnitError.

    The rest is for editors: `pattern` of the whole text, `types` and `limits` as in `written`.
    """

    def read(value: Any) -> Any:
        if not isinstance(value, str):
            if isinstance(value, (dict, list, type(None))):
                raise refuse(f"{expected} is expected here", f"write {expected} such as {example}")
            return value
        try:
            return parse(value)
        except UnitError as error:
            raise refuse(error.what, error.cure) from error

    about = value_schema(expected, example, None if pattern is None else whole_text(pattern), types, **limits)
    return TextReader(read, about)


def _above_zero(text: str) -> Fraction:
    number = parse_number(text)
    if not 0 < number <= MOST_NUMBER:
        raise UnitError(f"{print_number(number)} is out of range", "write a number above 0")
    return number


def _whole(text: str) -> int:
    number = parse_number(text)
    if number.denominator != 1 or not 0 <= number <= MOST_NUMBER:
        raise UnitError(f"'{shorten(text)}' is not a whole number", "write a whole number such as 800")
    return int(number)


def _coordinate(text: str) -> float:
    try:
        number = parse_number(text)
    except CommaForPoint:
        raise
    except UnitError as error:
        raise UnitError(error.what, "write metres as a plain number such as -0.9") from error
    if abs(number) > 1000:
        raise UnitError(f"{print_number(number)} m is out of range", "write metres from the product, -1000 to 1000")
    return float(number)


def _printed(printer: Any) -> PlainSerializer:
    return PlainSerializer(printer, return_type=str)


class _Printable:
    """Keeps a text to characters that print: it stands in messages and on screens."""

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(_printable, handler(source))

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: Any) -> JsonSchema:
        return {**handler(schema), "pattern": ONE_LINE}


def _printable(text: str) -> str:
    if not text.isprintable():
        raise refuse(f"'{shorten(text)}' has a character that does not print", "write it in letters, digits and spaces")
    return text


def _yes_or_no(text: str) -> bool:
    word = text.strip().lower()
    if word not in ("yes", "no", "true", "false"):
        raise UnitError(f"'{shorten(text)}' is neither yes nor no", "write yes or no")
    return word in ("yes", "true")


def parse_f_number(text: str) -> Fraction:
    """Return the number of a lens stop written f/32. Raises UnitError."""
    cleaned = text.strip().lower()
    cure = "write the lens stop as f/32"
    if not cleaned.startswith("f/"):
        if (bare := re.fullmatch(r"f?\s*/?(\d{1,4}(?:\.\d)?)", cleaned, re.ASCII)) is not None:
            cure = f"write it as 'f/{bare[1]}'"
        raise UnitError(f"'{shorten(text)}' is not a lens stop", cure)
    try:
        number = parse_number(cleaned[2:])
    except UnitError as error:
        raise UnitError(f"'{shorten(text)}' is not a lens stop", cure) from error
    if not 0 < number <= 1024:
        raise UnitError(f"'{shorten(text)}' is out of range", cure)
    return number


_YES_OR_NO = text_reader(
    _yes_or_no, "yes or no", "yes or no", "[Yy][Ee][Ss]|[Nn][Oo]|[Tt]rue|[Ff]alse", ("string", "boolean")
)
_ABOVE_ZERO = text_reader(
    _above_zero, "a number", "150", NUMBER_PATTERN, NUMBER, exclusiveMinimum=0, maximum=MOST_NUMBER
)
_WHOLE = text_reader(
    _whole, "a whole number", "800", NUMBER_PATTERN, ("string", "integer"), minimum=0, maximum=MOST_NUMBER
)
_RATE = text_reader(parse_frame_rate, "a frame rate", "25 or 23.976", NUMBER_PATTERN, NUMBER, minimum=1, maximum=1000)
_METRES = text_reader(_coordinate, "a number of metres", "-0.9", NUMBER_PATTERN, NUMBER, minimum=-1000, maximum=1000)
LEVEL_READER = text_reader(
    parse_level, "a level", "45 % or -1 stop or out or full", f"out|full|{Percent.pattern()}|{Stops.pattern()}"
)
_POSITION = text_reader(parse_position, "a position", "120 mm or 30 deg", f"{Length.pattern()}|{Angle.pattern()}")

_TIMECODE_RATE = text_reader(
    TimecodeRate.parse,
    "a rate of timecode",
    "25 or 29.97df",
    r"[\d.\s]+[A-Za-z\s]*",
    NUMBER,
)
_LABEL = text_reader(read_label, "a timecode", "01:00:00:00", r"\d{1,2}:\d{2}:\d{2}[:;]\d{2}")


CAMERA_LOCKED: Literal["camera"] = "camera"


def _refresh(text: str) -> Frequency | str:
    if text.strip() == CAMERA_LOCKED:
        return CAMERA_LOCKED
    try:
        return Frequency.parse(text)
    except UnitError as error:
        cure = error.cure if "at least" in error.cure or "at most" in error.cure else _REFRESH_CURE
        raise UnitError(error.what, cure) from error


_REFRESH_CURE = "write packets a second such as 44 Hz, or camera for whole packets to a camera frame"
_REFRESH = text_reader(_refresh, "a refresh", "40 Hz or camera", f"camera|{Frequency.pattern()}")


class StopsBetween(Stops):
    """How many stops lie between two lights, in either direction."""

    EXAMPLE = "1.3 stop"


YesOrNo = Annotated[bool, _YES_OR_NO, _printed(lambda yes: "yes" if yes else "no")]
PositiveNumber = Annotated[Fraction, _ABOVE_ZERO, _printed(print_number)]
WholeNumber = Annotated[int, _WHOLE, _printed(str)]
FrameRate = Annotated[Fraction, _RATE, _printed(print_number)]
FNumber = Annotated[
    Fraction,
    text_reader(parse_f_number, "a lens stop", "f/32", rf"[fF]/\s*{NUMBER_PATTERN}"),
    _printed(lambda n: f"f/{print_number(n)}"),
]
TimecodeRateText = Annotated[TimecodeRate, _TIMECODE_RATE, _printed(str)]
LabelText = Annotated[str, _LABEL]
Refresh = Annotated[Frequency | Literal["camera"], _REFRESH, _printed(str)]
LevelText = Annotated[Level, LEVEL_READER, _printed(str)]
Coordinate = Annotated[float, _METRES]
PositionText = Annotated[Length | Angle, _POSITION, _printed(str)]
Text = Annotated[str, Field(max_length=500), _Printable]
Name = Annotated[str, Field(min_length=1, max_length=80), _Printable]


def _read_point(value: Any) -> Any:
    if isinstance(value, list) and len(value) == 3:
        return value
    raise refuse("a place is three numbers", "write metres to the right, away and up: [-0.9, 0.7, 0.5]")


Place3D = Annotated[tuple[Coordinate, Coordinate, Coordinate], BeforeValidator(_read_point), Field(strict=False)]


class MayBeEmpty:
    """Marks a section whose key may stand with nothing behind it."""

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: Any, handler: Any) -> dict[str, Any]:
        return {"anyOf": [handler(core_schema), {"type": "null"}]}


class Model(BaseModel):
    """A part of a show: unknown keys are errors, values do not change, a key that is written has a value."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, use_attribute_docstrings=True)

    @field_validator("*", mode="before")
    @classmethod
    def _not_empty(cls, value: Any, info: ValidationInfo) -> Any:
        about = cls.model_fields[info.field_name or ""]
        if value is None and about.default is None and MayBeEmpty not in about.metadata:
            # Left out, the key would mean something; left empty, it is most often a slip.
            raise PydanticCustomError("empty", "this is empty")
        return value
