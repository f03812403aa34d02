"""What starts a cue: the kinds of trigger and how a show writes them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from cuedeck.show.frame_rates import read_label
from cuedeck.show.schema_parts import JsonSchema, value_schema, whole_text
from cuedeck.show.units import (
    FRAMES,
    FRAMES_PATTERN,
    Angle,
    CommaForPoint,
    Duration,
    Length,
    Percent,
    UnitError,
    parse_position,
    plain,
    shorten,
    text_schema,
)

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler
    from pydantic_core import CoreSchema


class Direction(StrEnum):
    """Which way an axis must be going when it passes a position."""

    ANY = "any"
    RISING = "rising"
    FALLING = "falling"


@dataclass(frozen=True)
class AtTime:
    """So long after the start of the shot."""

    time: Duration

    def __str__(self) -> str:
        return str(self.time)


@dataclass(frozen=True)
class AtFrame:
    """So many camera frames after the start of the shot."""

    frames: int

    def __str__(self) -> str:
        return f"{self.frames} frames"


@dataclass(frozen=True)
class AtShare:
    """At a share of the time the move takes."""

    share: Percent

    def __str__(self) -> str:
        return f"{self.share} of the move"


@dataclass(frozen=True)
class AtTimecode:
    """At a label of the picture's timecode; which frame that is, the camera and the shot say."""

    label: str

    def __str__(self) -> str:
        return self.label


@dataclass(frozen=True)
class While:
    """On which side of a position another axis must be."""

    axis: str
    is_over: bool
    position: Length | Angle

    def __str__(self) -> str:
        return f"{self.axis} {'over' if self.is_over else 'under'} {self.position}"


@dataclass(frozen=True)
class AtPosition:
    """Where an axis of the move passes a position, on the n-th pass in the direction asked for.

    With `while_`, only passes count at which that holds too.
    """

    axis: str
    position: Length | Angle
    direction: Direction = Direction.ANY
    crossing: int = 1
    while_: While | None = None

    @property
    def places(self) -> tuple[tuple[str, Length | Angle], ...]:
        """Every axis that it names, and where."""
        own = ((self.axis, self.position),)
        return own if self.while_ is None else (*own, (self.while_.axis, self.while_.position))

    def __str__(self) -> str:
        words = [self.axis, str(self.position)]
        if self.direction is not Direction.ANY:
            words.append(self.direction)
        if self.crossing != 1:
            words.append(f"pass {self.crossing}")
        if self.while_ is not None:
            words.append(f"while {self.while_}")
        return " ".join(words)


@dataclass(frozen=True)
class ByOperator:
    """When the operator says so."""

    def __str__(self) -> str:
        return "operator"


@dataclass(frozen=True)
class AfterCue:
    """So long after another cue's fade has ended, or after that cue has started."""

    cue: str
    wait: Duration
    from_start: bool = False

    def __str__(self) -> str:
        return f"{self.wait} {'into' if self.from_start else 'after'} cue {self.cue}"


StartTrigger = AtTime | AtFrame | AtTimecode | AtShare | AtPosition | ByOperator
"""The triggers that `at:` writes."""
Trigger = StartTrigger | AfterCue

_SHARE = re.compile(r"(.*%)\s*(?:of (?:the )?move)?", re.ASCII)
_POSITION = re.compile(
    r"(?P<axis>[^\W\d][\w -]*?)\s+(?P<position>[+-]?(?:\d+\.?\d*|\.\d+)(?:\s*/\s*\d+)?\s*(?:[^\W\d]+|°))"
    r"(?:\s+(?P<direction>rising|falling))?(?:\s+pass\s+(?P<crossing>[1-9]\d{0,3}))?"
)
_AFTER = re.compile(
    r"(after|with)\s+(?:cue\s+)?(.+?)(?:[\s,;+]+(?:(?:and|then)\s+)?(?:wait:?\s+)?(\d.*)|[\s,;]*)$", re.DOTALL
)
_WHILE = re.compile(r"(?P<start>.+?)\s+while\s+(?P<axis>.+?)\s+(?P<side>over|under)\s+(?P<position>.+)")
CURE = (
    "write when it starts: a time (2 s), frames (50 frames), timecode (01:00:04:12), a share of the move "
    "(40 % of the move), a position (slide 60 mm, slide 60 mm falling, slide 60 mm pass 2, "
    "pan 30 deg while slide over 100 mm), or operator"
)
WHILE_CURE = "write it as: pan 30 deg while slide over 100 mm (or under)"


def parse_trigger(text: str) -> StartTrigger:
    """Return the trigger that the text after `at:` stands for. Raises UnitError."""
    cleaned = plain(text)
    if cleaned == "operator":
        return ByOperator()
    if match := FRAMES.fullmatch(cleaned):
        return AtFrame(int(match[1]))
    if match := _SHARE.fullmatch(cleaned):
        return AtShare(Percent.parse(match[1]))
    if re.match(r"\d+:", cleaned):
        return AtTimecode(read_label(cleaned))
    if re.search(r"\swhile\s", cleaned):
        return _parse_while(cleaned)
    if match := _AFTER.match(cleaned):
        cure = f"write '{match[1]}: {shorten(match[2])}'"
        if match[3]:
            cure += f" and 'wait: {shorten(match[3])}'"
        raise UnitError(f"'at' does not say '{match[1]}'", f"{cure} in its place")
    if match := _POSITION.fullmatch(cleaned):
        return _at_position(match)
    if re.search(r"\s[+-]?\d+,\d", cleaned):
        raise UnitError(f"'{shorten(text)}' has a comma in its number", "write numbers with a point, such as 0.5")
    try:
        return AtTime(Duration.parse(cleaned))
    except CommaForPoint:
        raise
    except UnitError as error:
        if cleaned[:1].isdigit() or cleaned[:1] in "-+":
            raise UnitError(error.what, CURE) from error
        raise UnitError(f"'{shorten(text)}' does not say when the cue starts", CURE) from error


def _at_position(match: re.Match[str], while_: While | None = None) -> AtPosition:
    direction, crossing = Direction(match["direction"] or "any"), int(match["crossing"] or 1)
    try:
        position = parse_position(match["position"])
    except UnitError as error:
        axis = shorten(match["axis"])
        raise UnitError(error.what, f"write a position such as '{axis} 120 mm' or '{axis} 30 deg'") from error
    return AtPosition(match["axis"], position, direction, crossing, while_)


def _parse_while(text: str) -> AtPosition:
    whole_match = _WHILE.fullmatch(text)
    start = None if whole_match is None else _POSITION.fullmatch(whole_match["start"])
    if whole_match is None or start is None:
        raise UnitError(f"'{shorten(text)}' does not say what must hold while", WHILE_CURE)
    try:
        position = parse_position(whole_match["position"])
    except UnitError as error:
        raise UnitError(error.what, WHILE_CURE) from error
    return _at_position(start, While(whole_match["axis"], whole_match["side"] == "over", position))


class At:
    """The pydantic type of the text after `at:`."""

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return text_schema(StartTrigger, parse_trigger, "a start", CURE)

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: CoreSchema, handler: Any) -> JsonSchema:
        position = f"(?:{Length.pattern()}|{Angle.pattern()})"
        ways = (
            "operator",
            Duration.pattern(),
            FRAMES_PATTERN,
            rf"{Percent.pattern()}\s*(?:of\s(?:the\s)?move)?",
            r"\d{1,2}:\d{2}:\d{2}[:;]\d{2}",
            rf"\S.*?\s+{position}(?:\s+(?:rising|falling))?(?:\s+pass\s+[1-9]\d{{0,3}})?(?:\s+while\s.*)?",
        )
        examples = (
            "2 s or 50 frames or 01:00:04:12 or 40 % of the move or slide 60 mm or slide 60 mm falling"
            " or pan 30 deg while slide over 100 mm or operator"
        )
        return value_schema("a start", examples, whole_text("|".join(ways)), cure=CURE)
