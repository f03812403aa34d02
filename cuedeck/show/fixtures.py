"""Fixtures as a show describes them: types with their modes and emitters, and the lights as hung."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Discriminator, Field, Tag, model_validator

from cuedeck.light.emitters import MOST_EMITTERS
from cuedeck.show.channels import Channel, EmitterName, OneReadingAControl, width_of
from cuedeck.show.colours import check_chromaticity
from cuedeck.show.schema_parts import NUMBER, JsonSchema, key_condition
from cuedeck.show.units import (
    FULL_UNIVERSE,
    NUMBER_PATTERN,
    Address,
    ColourTemperature,
    Percent,
    UnitError,
    parse_number,
    shorten,
)
from cuedeck.show.values import LevelText, Model, Name, Place3D, PositiveNumber, StopsBetween, refuse, text_reader

MOST_READINGS = 1000
MOST_READING = 10**9

DimmerName = Literal["linear", "square", "s-curve"]
Channels = Annotated[list[Channel], Field(min_length=1, max_length=512)]


def _read_meter(text: str) -> Fraction:
    if match := re.fullmatch(r"\s*(?P<number>[\d.]+)\s*(?!lux|lx)(?P<unit>[^\W\d][\w.-]*)\s*", text):
        what = f"'{shorten(match['unit'])}' is no unit for a reading"
        raise UnitError(what, f"write lux, or plain numbers, all of them in one unit: {match['number']}")
    number = parse_number(text.strip().removesuffix("lux").removesuffix("lx").strip())
    if not 0 <= number <= MOST_READING:
        raise UnitError(f"'{shorten(text)}' is no reading of a light meter", "write 0 or more, such as 1180 lux")
    return number


_METER = text_reader(
    _read_meter, "a reading", "1180 lux", rf"{NUMBER_PATTERN}\s*(?:lux|lx)?", NUMBER, minimum=0, maximum=MOST_READING
)
_X = text_reader(parse_number, "a chromaticity", "0.69", NUMBER_PATTERN, NUMBER, minimum=0, maximum=1)
_Y = text_reader(parse_number, "a chromaticity", "0.31", NUMBER_PATTERN, NUMBER, exclusiveMinimum=0, maximum=1)
Reading = Annotated[Fraction, _METER]
Readings = Annotated[dict[Percent, Reading], Field(min_length=1, max_length=MOST_READINGS), OneReadingAControl]
WhiteReadings = Annotated[
    dict[Percent, ColourTemperature], Field(min_length=2, max_length=MOST_READINGS), OneReadingAControl
]


class ColourRange(Model):
    """The two ends of a two-tone light, which mixes evenly in mired between them."""

    low: ColourTemperature
    """The warm end."""
    high: ColourTemperature
    """The cool end."""
    even_in: Annotated[Literal["mired", "kelvin"], Field(alias="even in")] = "mired"
    """In what equal steps of the channel are equal; most lights mix evenly in mired."""

    @model_validator(mode="after")
    def _in_order(self) -> ColourRange:
        if self.low.base >= self.high.base:
            raise refuse(f"low {self.low} is not below high {self.high}", "swap them: the warm end is low")
        return self


def _kind_of_range(value: Any) -> str:
    readings = isinstance(value, dict) and any("%" in str(key) for key in value)
    return "readings" if readings else "ends"


WhiteRange = Annotated[
    Annotated[ColourRange, Tag("ends")] | Annotated[WhiteReadings, Tag("readings")], Discriminator(_kind_of_range)
]


def _kind_of_dimmer(value: Any) -> str:
    return "measured" if isinstance(value, dict) else "named"


DimmerCurve = Annotated[
    Annotated[DimmerName, Tag("named")] | Annotated[Readings, Tag("measured")], Discriminator(_kind_of_dimmer)
]


class Emitter(Model):
    """One emitter of a light, at full drive."""

    x: Annotated[Fraction, _X]
    """CIE 1931 x."""
    y: Annotated[Fraction, _Y]
    """CIE 1931 y."""
    luminance: PositiveNumber
    """How much light it gives beside the other emitters, in any unit."""

    @model_validator(mode="after")
    def _on_the_diagram(self) -> Emitter:
        try:
            check_chromaticity(self.x, self.y)
        except UnitError as error:
            raise refuse(error.what, error.cure) from error
        return self


class FixtureType(Model):
    """What a fixture of this type listens to, and what it gives."""

    channels: Channels | None = None
    """The channels in the order of their slots: what each sets, '16-bit' where two slots wide."""
    modes: dict[Name, Channels] = {}
    """For a light with several modes, instead of `channels`: the channels of each."""
    colour_temperature: Annotated[WhiteRange | None, Field(alias="colour temperature")] = None
    """The ends between which a colour temperature channel mixes, or readings: {0 %: 2810 K, 100 %: 6480 K}."""
    emitters: Annotated[dict[EmitterName, Emitter], Field(max_length=MOST_EMITTERS)] = {}
    """Where its emitters stand on the CIE 1931 diagram, and how bright each is."""
    dimmer: DimmerCurve = "linear"
    """Light against control value: linear, square, s-curve, or meter readings: {10 %: 42 lux, 100 %: 5210 lux}."""
    lux_at_1_m: Annotated[PositiveNumber | None, Field(alias="lux at 1 m")] = None
    """Illuminance at full output, one metre in front of it."""
    watts: PositiveNumber | None = None
    """Power drawn at full output."""
    lumens: PositiveNumber | None = None
    """Luminous flux at full output."""
    white: ColourTemperature | None = None
    """The white of a light that has no channel for its colour."""
    size: PositiveNumber | None = None
    """How wide the part is that shines, in metres."""
    tenth_switch: Annotated[Literal["on", "off"] | None, Field(alias="tenth switch")] = None
    """How the tenth DIP switch must stand, where there is one."""

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: Any, handler: Any) -> JsonSchema:
        schema = handler.resolve_ref_schema(handler(core_schema))
        return {**schema, "oneOf": [key_condition("channels"), key_condition("modes", minProperties=1)]}

    @model_validator(mode="after")
    def _complete(self) -> FixtureType:
        if (self.channels is None) != bool(self.modes):
            what = "a type has channels or modes, not both" if self.modes else "the type has no channels"
            raise refuse(what, "write 'channels: [intensity]', or several lists of channels under 'modes:'")
        for where, channels in self.variants():
            _check_channels(where, channels, self)
        driven = {channel.attribute for _, channels in self.variants() for channel in channels}
        for name in self.emitters:
            if name not in driven:
                raise refuse(f"the emitter '{name}' has no channel", f"add the channel {name}, or take the emitter out")
        return self

    def variants(self) -> Iterator[tuple[str, list[Channel]]]:
        """Yield the channels of each mode, with the name of the mode; '' where there are no modes."""
        if self.channels is not None:
            yield "", self.channels
        yield from self.modes.items()

    def channels_in(self, mode: str | None) -> list[Channel] | None:
        """Return the channels in a mode; None where the type does not say which is meant."""
        if self.channels is not None:
            return self.channels if mode is None else None
        if mode is None:
            return next(iter(self.modes.values())) if len(self.modes) == 1 else None
        return self.modes.get(mode)


def _check_channels(mode: str, channels: list[Channel], kind: FixtureType) -> None:
    where = f"mode '{mode}': " if mode else ""
    attributes = [channel.attribute for channel in channels if channel.attribute]
    for attribute in attributes:
        if attributes.count(attribute) > 1:
            raise refuse(f"{where}'{shorten(attribute)}' stands twice in the channels", "keep one of them")
    width = width_of(channels)
    if width > FULL_UNIVERSE:
        raise refuse(f"{where}the channels take {width} slots", f"keep them to {FULL_UNIVERSE}, one universe")
    if not attributes:
        raise refuse(f"{where}no channel can be set", "add a channel such as intensity")
    for attribute in ("colour temperature", "hue", "saturation", "x", "y"):
        if attribute in attributes and "intensity" not in attributes:
            what = f"{where}a light with a channel '{attribute}' needs an intensity too"
            raise refuse(what, "add the channel intensity")
    for one, other in (("hue", "saturation"), ("saturation", "hue"), ("x", "y"), ("y", "x")):
        if one in attributes and other not in attributes:
            raise refuse(f"{where}the channel {one} needs {other} beside it", f"add the channel {other}")
    if "colour temperature" in attributes and kind.colour_temperature is None:
        raise refuse(
            f"{where}a colour temperature channel needs its two ends",
            "add 'colour temperature: {low: 2800 K, high: 6500 K}' to the type",
        )


def _not_negative(stops: StopsBetween) -> StopsBetween:
    if stops.base < 0:
        raise refuse(f"a loss of {stops} is a gain", "write how many stops are lost, such as 1.3 stop")
    return stops


class Fixture(Model):
    """A light as hung."""

    type: Name
    """Its fixture type: a built-in one, or one from `types`."""
    mode: Name | None = None
    """Which mode it is set to, where its type has several."""
    address: Address | None = None
    """Its first slot, as universe.slot."""
    at: Place3D = (0.0, 0.0, 1.0)
    """Where it stands, in metres from the product."""
    rides: Name | None = None
    """The axis of the move that carries it: a length moves it to the right, an angle turns it about the product."""
    circuit: Name | None = None
    """The circuit that feeds it, from `mains`."""
    loss: Annotated[StopsBetween, AfterValidator(_not_negative)] = StopsBetween.of(0)
    """Light lost in diffusion or filter before the product."""
    never_above: Annotated[LevelText | None, Field(alias="never above")] = None
    """The most that its intensity is ever sent, whatever a look asks: percent of control, or stops under full."""
    never_below: Annotated[LevelText | None, Field(alias="never below")] = None
    """The least that its intensity is ever sent, also where it is out: the hold level of a lamp that must stay lit."""
