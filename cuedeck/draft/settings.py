"""The setting of one light in a look, as texts: read from what a person types, and moved by steps.

A step of light is a tenth of a stop or a percent, and steps up and as many down come back to where they began. A
step of colour is some mired, written in whole kelvin: it comes back to within a kelvin or two.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from pydantic import ValidationError

from cuedeck.errors import Refusal
from cuedeck.rig.mixing import solve
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.show.channels import parse_channel_value
from cuedeck.show.colours import Colour, WhiteColour, parse_colour
from cuedeck.show.load import message_of
from cuedeck.show.model import Setting
from cuedeck.show.problems import choice_of
from cuedeck.show.units import ColourTemperature, Level, Percent, Stops, UnitError, parse_level, print_number

LEAST_STOPS = Fraction(-8)
"""What a light that is out comes up to first; below it, it goes out."""
_TENTH = Fraction(1, 10)
_LEVEL = re.compile(r"\s*(out|full|[+-]?[\d./]+\s*(?:%|stops?))(?=\s|,|$)")
LEVEL, COLOUR = "level", "colour"


@dataclass(frozen=True)
class LevelStep:
    """Light by so many stops, or by so much of the control value (1 is full)."""

    stops: Fraction | None = None
    percent: Fraction | None = None


@dataclass(frozen=True)
class ColourStep:
    """Colour by so many mired, warmer where it is above 0."""

    mired: int


@dataclass(frozen=True)
class LightState:
    """The output of a light now, from which a step begins where no look sets it."""

    level: float
    """Control value, 0 to 1."""
    kelvin: float | None


def setting_text(parts: Mapping[str, str]) -> str:
    """Return the setting of a light as it can be typed: -1 stop 5600 K."""
    named = [f"{key} {text}" for key, text in parts.items() if key not in (LEVEL, COLOUR)]
    return " ".join([text for key in (LEVEL, COLOUR) if (text := parts.get(key))] + named)


def typed_parts(fixture: PatchedFixture, text: str) -> dict[str, str]:
    """Return the setting that a typed text gives a light: a level, a colour, or channels of its own. Raises Refusal."""
    parts: dict[str, str] = {}
    rest = text.strip().strip(",").strip()
    if not rest:
        raise Refusal("type a level such as 45 % or -1.5 stop, a colour such as 5600 K, or both")
    try:
        if match := _LEVEL.match(rest):
            parse_level(match[1])
            parts[LEVEL], rest = " ".join(match[1].split()), rest[match.end() :].strip(" ,")
        if rest:
            parts |= _colour_or_channel(fixture, rest)
    except UnitError as error:
        raise Refusal(f"{error.what}: {error.cure}") from error
    return require_fits(fixture, parts)


def _colour_or_channel(fixture: PatchedFixture, text: str) -> dict[str, str]:
    own = [name for name in fixture.by_attribute if text.startswith(f"{name} ")]
    if own:
        name = max(own, key=len)
        value = text.removeprefix(name).strip()
        ranges = fixture.by_attribute[name].ranges
        asked = parse_channel_value(value).range_name
        if asked is not None and asked not in ranges:
            known = choice_of(asked, ranges, none="write a percentage such as 45 %")
            raise Refusal(f"'{name}' of '{fixture.name}' has no range '{asked}': {known}")
        return {name: value}
    return {COLOUR: str(parse_colour(text))}


def require_fits(fixture: PatchedFixture, parts: dict[str, str]) -> dict[str, str]:
    """Return parts that a light can take. Raises Refusal."""
    try:
        setting = Setting.model_validate(parts)
    except ValidationError as error:
        raise Refusal(message_of(error)) from error
    if setting.level is not None and not fixture.gives_light:
        raise Refusal(f"'{fixture.name}' gives no light: it has no level")
    if setting.colour is not None and solve(fixture.mixers, setting.colour) is None:
        raise Refusal(f"'{fixture.name}' cannot be set to a colour; it takes {_takes(fixture)}")
    return parts


def _takes(fixture: PatchedFixture) -> str:
    others = [name for name in fixture.by_attribute if name != "intensity"]
    return "a level" + (f", or one of its channels, such as '{others[0]} 40 %'" if others else "")


def stepped_parts(
    fixture: PatchedFixture, settings: Sequence[Setting], step: LevelStep | ColourStep, state: LightState
) -> dict[str, str]:
    """Return the setting of a light after a step from its present one. Raises Refusal.

    `settings` are those of the look and of the looks it is like, the later over the earlier.
    """
    if isinstance(step, ColourStep):
        colours = [setting.colour for setting in settings if setting.colour is not None]
        return {COLOUR: _stepped_colour(fixture, colours[-1] if colours else None, step.mired, state)}
    levels = [setting.level for setting in settings if setting.level is not None]
    level = levels[-1] if levels else None
    if step.stops is not None:
        return {LEVEL: _stepped_stops(fixture, level, step.stops, state)}
    control = fixture.dimmer.control_of(level) if level is not None else state.level
    percent = _snapped(Fraction(control) * 100, Fraction(1)) + (step.percent or 0) * 100
    return {LEVEL: "out" if percent <= 0 else f"{print_number(min(percent, Fraction(100)))} %"}


def _stepped_stops(fixture: PatchedFixture, level: Level | None, by: Fraction, state: LightState) -> str:
    now = stops_of(fixture, level, state.level)
    if now is None:
        return str(Stops.of(LEAST_STOPS)) if by > 0 else "out"
    after = min(_snapped(now, _TENTH) + by, Fraction(0))
    return "out" if after < LEAST_STOPS else str(Stops.of(after))


def stops_of(fixture: PatchedFixture, level: Level | None, control: float) -> Fraction | None:
    """Return a level in stops under full; None where it is out."""
    if isinstance(level, Stops):
        return level.base
    control = float(level) if isinstance(level, Percent) else control
    light = float(fixture.dimmer.light_from_control(np.array([control]))[0])
    return Fraction(math.log2(light)) if light > 0 else None


def _snapped(value: Fraction, grid: Fraction) -> Fraction:
    """Return the nearest multiple of a grid; a value on it is kept."""
    return round(value / grid) * grid


def _stepped_colour(fixture: PatchedFixture, colour: Colour | None, by_mired: int, state: LightState) -> str:
    if colour is None and state.kelvin is not None and fixture.white is not None:
        colour = WhiteColour(ColourTemperature.of(round(state.kelvin)))
    if colour is None:
        raise Refusal(f"'{fixture.name}' has no white to make warmer or cooler: enter types a colour, such as 5600 K")
    if not isinstance(colour, WhiteColour):
        raise Refusal(f"'{fixture.name}' is set to {colour}, which is no white: enter types a colour, such as 5600 K")
    if solve(fixture.mixers, colour) is None:
        raise Refusal(f"'{fixture.name}' cannot be set to a colour")
    mired = max(1_000_000 / colour.filtered_kelvin + by_mired, 1.0)
    kelvin = _within(fixture, 1_000_000 / mired)
    return str(WhiteColour(ColourTemperature.of(round(kelvin)), colour.duv))


def _within(fixture: PatchedFixture, kelvin: float) -> float:
    if fixture.white is None:
        return min(max(kelvin, 1000.0), 20000.0)
    return min(max(kelvin, fixture.white.warmest_kelvin), fixture.white.coolest_kelvin)
