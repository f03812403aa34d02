"""Channels: what a fixture listens to, slot by slot, and the values that a look gives them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from math import floor
from typing import Annotated, Any, Literal, NamedTuple, get_args

from pydantic import BeforeValidator, model_validator

from cuedeck.show.problems import choice_of
from cuedeck.show.schema_parts import WORD, JsonSchema, one_of, short_or, value_schema, whole_text
from cuedeck.show.spelling import nearest
from cuedeck.show.units import CommaForPoint, OutOfRange, Percent, UnitError, shorten
from cuedeck.show.values import Model, Name, refuse, text_reader

EmitterName = Literal["red", "green", "blue", "white", "amber", "lime", "cyan", "violet", "warm white", "cool white"]
EMITTERS: tuple[EmitterName, ...] = get_args(EmitterName)
"""Channels that drive one emitter each."""
ATTRIBUTES = ("intensity", "colour temperature", *EMITTERS, "hue", "saturation", "x", "y")
"""The channels whose meaning cuedeck knows; a fixture may have others of its own."""
SETTING_KEYS = ("level", "colour")
"""What a look calls the brightness and the colour of a light; no channel may have these names."""
WIDTHS = {" 8-bit": 1, " 16-bit": 2, " 24-bit": 3}

FULL_8_BIT = 255
_WIDTH_SLIP = re.compile(r" (?P<bits>[1-9]\d{0,3})[ -]?bits?$", re.ASCII | re.IGNORECASE)
"""A width at the end of a name, in other words than those that are read."""
SnapTime = Literal["start", "middle", "end", "never"]


class ChannelSpec(NamedTuple):
    """What the text of a channel says: 'intensity 16-bit inverted', or 'fixed 0'."""

    attribute: str | None
    width_slots: int = 1
    is_inverted: bool = False
    fixed_value: int = 0


class Range(NamedTuple):
    """The values of a channel, 0 to 255 and both included, in which a fixture does one thing."""

    first: int
    last: int


class ChannelValue(NamedTuple):
    """What a look or a default gives a channel: a share of it, of one of its ranges, or one value."""

    share: Percent | None = None
    """Share of the whole channel, or of the range where one is named; None is the middle of the range."""
    range_name: str | None = None
    value: int | None = None
    """A value of the coarse slot, 0 to 255."""

    def __str__(self) -> str:
        if self.value is not None:
            return f"value {self.value}"
        return " ".join(str(part) for part in (self.range_name, self.share) if part is not None)


def _parse_channel(text: str, names: Sequence[str] = ()) -> ChannelSpec:
    """Read the text of a channel; a cure suggests the nearest of some names. Raises UnitError."""
    words = " ".join(text.split())
    if words.startswith("fixed "):
        return ChannelSpec(None, fixed_value=_slot_value(words.removeprefix("fixed ")))
    name = words.removesuffix(" inverted")
    width = next((width for suffix, width in WIDTHS.items() if name.endswith(suffix)), 1)
    bare = re.sub(r" (8|16|24)-bit$", "", name)
    if bare.endswith((" inverted", *WIDTHS)):
        raise UnitError(f"'{shorten(text)}' is out of order", "write the name, then one width, then inverted")
    if (slip := _WIDTH_SLIP.search(bare)) is not None:
        raise UnitError(f"the width in '{shorten(text)}' is not known", _cure_of_width(words, slip, names))
    if bare in SETTING_KEYS:
        raise UnitError(f"a channel cannot be called '{bare}': looks use that word", "give it another name")
    if not 1 <= len(bare) <= 80 or not bare.isprintable():
        raise UnitError("a channel needs a name of 1 to 80 characters", "write a name such as strobe")
    return ChannelSpec(bare, width, name != words)


def _cure_of_width(words: str, slip: re.Match[str], names: Sequence[str]) -> str:
    width = f" {slip['bits']}-bit"
    if width not in WIDTHS:
        return "write 8-bit, 16-bit or 24-bit"
    name = slip.string[: slip.start()]
    return f"write '{shorten(nearest(name, names) or name)}{width}{words[slip.end() :]}'"


def _slot_value(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 3 and int(text) <= FULL_8_BIT):
        raise UnitError(f"'{shorten(text)}' is not a slot value", "write a whole number from 0 to 255")
    return int(text)


def _parse_range(text: str) -> Range:
    first, dash, last = (part.strip() for part in text.partition("-"))
    cure = "write values from 0 to 255 such as 0-10, or a single value"
    try:
        values = Range(_slot_value(first), _slot_value(last) if dash else _slot_value(first))
    except UnitError as error:
        raise UnitError(f"'{shorten(text)}' is not a range of values", cure) from error
    if values.first > values.last:
        raise UnitError(f"'{shorten(text)}' runs backwards", f"write {values.last}-{values.first}")
    return values


def parse_channel_value(text: str) -> ChannelValue:
    """Return what a look gives a channel. Raises UnitError."""
    cleaned = " ".join(text.split())
    cure = "write a percentage such as 45 %, the name of a range, or 'value 0' to 'value 255'"
    if cleaned.startswith("value "):
        return ChannelValue(value=_slot_value(cleaned.removeprefix("value ")))
    try:
        return ChannelValue(share=Percent.parse(cleaned))
    except OutOfRange:
        raise
    except UnitError as error:
        if isinstance(error, CommaForPoint) and cleaned.endswith("%"):
            raise
        if re.fullmatch(r"[+-]?[\d.]+", cleaned) or not cleaned:
            raise UnitError(error.what, cure) from error
    match = re.fullmatch(r"(?P<name>.+?)(?: (?P<share>[\d.]+ ?%))?", cleaned)
    share = Percent.parse(match["share"]) if match and match["share"] else None
    return ChannelValue(share=share, range_name=match["name"] if match else cleaned)


_RANGE = text_reader(
    _parse_range,
    "a range of values",
    "0-10",
    r"\d{1,3}\s*(?:-\s*\d{1,3})?",
    ("string", "integer"),
    minimum=0,
    maximum=FULL_8_BIT,
)
# The name of a range can be any word, but no number: most often that is a percentage without its sign.
_VALUE = text_reader(
    parse_channel_value,
    "a value",
    "45 % or value 37 or open",
    r"(?=\S)(?![+-]?[\d.]+\s*$)[\s\S]*",
    ("string", "boolean"),
)
_CHANNEL = text_reader(_parse_channel, "a channel", "intensity 16-bit or strobe", types=WORD, minLength=1)
ChannelText = Annotated[ChannelSpec, _CHANNEL]
RangeText = Annotated[Range, _RANGE]
ChannelValueText = Annotated[ChannelValue, _VALUE]


class Channel(Model):
    """One thing that a fixture listens to, one to three slots wide."""

    channel: ChannelText
    """What it sets, such as 'intensity 16-bit', or 'fixed 0' for a slot that is held."""
    default: ChannelValueText | None = None
    """Its value before any cue."""
    ranges: dict[Name, RangeText] = {}
    """The values that mean one thing each, such as open: 0-10."""
    snap: SnapTime | None = None
    """Where in a fade it jumps, or never; a channel with ranges jumps at the start unless this says otherwise."""

    @model_validator(mode="before")
    @classmethod
    def _from_words(cls, value: Any) -> Any:
        if not isinstance(value, str):
            return value
        try:
            words = _parse_channel(value, ATTRIBUTES)
        except UnitError as error:
            raise refuse(error.what, error.cure) from error
        if words.attribute is not None and words.attribute not in ATTRIBUTES:
            as_given = " ".join(value.split())
            close = nearest(words.attribute, ATTRIBUTES)
            behind = as_given.removeprefix(words.attribute)  # its width, and whether it is inverted
            known = f"'{close}{behind}'" if close else f"one of {', '.join(ATTRIBUTES)}, or 'fixed 0' to hold a slot"
            raise refuse(
                f"'{shorten(value)}' is not a channel that cuedeck knows",
                f"write {known}; or, for a channel of the light's own, {{channel: {shorten(as_given)}, default: 0 %}}",
            )
        return {"channel": value}

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: Any, handler: Any) -> JsonSchema:
        """Return the mapping, or its short form: the words of a channel that cuedeck knows."""
        known = rf"{one_of(ATTRIBUTES)}(?:\s+(?:8|16|24)-bit)?(?:\s+inverted)?|fixed\s+\d{{1,3}}"
        cure = f"write one of {', '.join(ATTRIBUTES)}, with 8-bit, 16-bit or 24-bit behind it; or {{channel: NAME}}"
        short = value_schema(
            "a channel", "intensity 16-bit or colour temperature or fixed 0", whole_text(known), cure=cure
        )
        return short_or(handler.resolve_ref_schema(handler(core_schema)), short)

    @model_validator(mode="after")
    def _consistent(self) -> Channel:
        if self.channel.attribute is None and (self.ranges or self.default is not None or self.snap is not None):
            raise refuse("a fixed slot has no default, ranges or snap", "take them out, or name the channel")
        for name in self.ranges:
            if re.fullmatch(r"[+-]?[\d.]+|value .*|.*%", name):
                raise refuse(f"a range cannot be called '{shorten(name)}'", "give it a name with a word in it")
        in_order = sorted(self.ranges.items(), key=lambda named: named[1])
        for (name, one), (other, following) in pairwise(in_order):
            if following.first <= one.last:
                what = f"the ranges '{shorten(name)}' and '{shorten(other)}' both hold {following.first}"
                raise refuse(what, "look up in the manual where each begins and ends, so that they do not overlap")
        if self.default is not None and self.default.range_name is not None:
            self.range_of(self.default)
        return self

    @property
    def attribute(self) -> str | None:
        """What it sets, or None where the slot is held at a fixed value."""
        return self.channel.attribute

    @property
    def width_slots(self) -> int:
        """1 for 8 bit, 2 for 16 bit, 3 for 24 bit, the coarse byte first."""
        return self.channel.width_slots

    @property
    def snaps_at(self) -> Fraction | None:
        """At which share of a fade it jumps; None where it fades."""
        snap = self.snap or ("start" if self.ranges else "never")
        return {"start": Fraction(0), "middle": Fraction(1, 2), "end": Fraction(1), "never": None}[snap]

    def range_of(self, value: ChannelValue) -> Range | None:
        """Return the range that a value names. Raises PydanticCustomError where there is none of that name."""
        if value.range_name is None:
            return None
        if value.range_name not in self.ranges:
            raise refuse(
                f"the channel '{self.attribute}' has no range '{shorten(value.range_name)}'",
                choice_of(value.range_name, self.ranges, none="write a percentage, or give the channel ranges"),
            )
        return self.ranges[value.range_name]

    def position(self, value: ChannelValue) -> float:
        """Return where a value lies on the channel, 0 to 1.

        A value n of 255 is n/255 on any width, the bytes mirrored as in DIN SPEC 15800. Values and ranges are
        what the line carries, so that they lie the other way round on an inverted channel.
        """
        slot = self._slot_value(value)
        if slot is None:
            return float(value.share or 0)
        return (FULL_8_BIT - slot if self.channel.is_inverted else slot) / FULL_8_BIT

    def _slot_value(self, value: ChannelValue) -> int | None:
        if value.value is not None:
            return value.value
        within = self.range_of(value)
        if within is None:
            return None
        share = Fraction(1, 2) if value.share is None else value.share.base
        return floor(within.first + share * (within.last - within.first) + Fraction(1, 2))


def width_of(channels: list[Channel]) -> int:
    return sum(channel.width_slots for channel in channels)


def _one_reading_a_control(value: Any) -> Any:
    if not isinstance(value, dict):
        return value
    seen: dict[Percent, str] = {}
    for key in value:
        try:
            control = Percent.parse(key)
        except UnitError:
            continue
        if control in seen:
            raise refuse(f"'{shorten(key)}' and '{shorten(seen[control])}' are the same", "keep one of the two")
        seen[control] = key
    return value


OneReadingAControl = BeforeValidator(_one_reading_a_control)
"""Two spellings of one control value would silently be one reading."""
