"""The text of a new show: a rig, two looks and a shot that runs at once, for its author to change.

It is valid whatever the names in it are: every text that is not plainly a word is quoted.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cuedeck.show.channels import EMITTERS, width_of
from cuedeck.show.fixtures import FixtureType
from cuedeck.show.source import VERSION
from cuedeck.show.units import FULL_UNIVERSE, Address, Angle, Duration, Length, print_number

MOVE_FILE = "moves/{axis}.csv"
SLIDE, TURN = "slide", "turn"
STEP_SLOTS = 10
"""Lights start so many slots apart, or a multiple of it, so that one can be set to a wider mode later."""
COMMON_PLACES: Mapping[str, str] = {
    "key": "[-0.6, -0.8, 0.9]",
    "fill": "[0.6, -0.8, 0.9]",
    "rim left": "[-0.9, 0.7, 0.5]",
    "rim right": "[0.9, 0.7, 0.5]",
    "background": "[0, 1.2, 0.2]",
    "table": "[0.2, -0.1, 1.3]",
}
"""Lights by the names they often have, and where such lights often stand (common practice, no source)."""
RING_M = 1.4
"""Where any other lights are drawn: on a ring round the product."""
_VOLTS = {50: 230, 60: 120}
_WORD = re.compile(r"[A-Za-z][A-Za-z0-9]*(?:[ _-][A-Za-z0-9]+)*")
_NO_WORDS = ("null", "true", "false", "yes", "no", "on", "off", "y", "n")
"""What one or the other YAML takes for something else than a text."""


@dataclass(frozen=True)
class NewLight:
    """A light of a new show: its name, and a fixture type by name and as described."""

    name: str
    type_name: str
    type: FixtureType


@dataclass(frozen=True)
class NewShow:
    """What the author of a new show has said."""

    title: str
    fps: str
    hertz: int
    lights: Sequence[NewLight]
    reaches: Mapping[str, Length | Angle]
    """How far each axis of the move travels from 0; without any, the cues are timed in seconds."""
    length: Duration
    """How long the move, or else the shot, takes."""


def quoted(text: str) -> str:
    """Return a printable text as YAML reads it back: bare where it is plainly a word, else in single quotes."""
    if _WORD.fullmatch(text) and text.lower() not in _NO_WORDS:
        return text
    return "'" + text.replace("'", "''") + "'"


def show_text(new: NewShow) -> str:
    """Return the show file of a new show. Every name and the title must be printable and of one line."""
    return "".join(f"{line}\n" for line in (*_head(new), *_rig(new.lights), *_looks(new.lights), *_shot(new)))


def addresses(widths: Sequence[int]) -> list[Address]:
    """Return where lights of so many slots each start, one after another; none crosses into the next universe."""
    found: list[Address] = []
    universe, slot = 1, 1
    for width in widths:
        if slot + width - 1 > FULL_UNIVERSE:
            universe, slot = universe + 1, 1
        found.append(Address(universe, slot))
        slot += math.ceil(width / STEP_SLOTS) * STEP_SLOTS
    return found


def _head(new: NewShow) -> Iterator[str]:
    yield "# Metres, the product at the origin: [to camera right, away from the camera, up]."
    yield f"cuedeck: {VERSION}"
    yield f"title: {quoted(new.title)}"
    yield f"camera: {{fps: {new.fps}}}"
    yield f"mains: {{volts: {_VOLTS[new.hertz]}, hertz: {new.hertz}}}   # the supply of the room"
    yield ""


def _rig(lights: Sequence[NewLight]) -> Iterator[str]:
    yield "# Hang and power lights by your local codes, and measure where they stand: the places are a guess."
    yield f"# Address universe.slot: one light every {STEP_SLOTS} slots, so that a wider mode still fits."
    yield "rig:"
    starts = addresses([width_of(light.type.channels or []) for light in lights])
    for index, (light, start) in enumerate(zip(lights, starts, strict=True)):
        place = COMMON_PLACES.get(light.name) or _place(index, len(lights))
        yield f"  {quoted(light.name)}: {{type: {quoted(light.type_name)}, address: {start}, at: {place}}}"
    yield ""


def _place(index: int, count: int) -> str:
    """Return a place on a ring round the product, from the front left on."""
    angle = math.radians(225 - 360 * index / count)
    x_m, y_m = (round(RING_M * part, 2) + 0.0 for part in (math.cos(angle), math.sin(angle)))
    return f"[{x_m:g}, {y_m:g}, 0.8]"


def _looks(lights: Sequence[NewLight]) -> Iterator[str]:
    yield "# 45 % is the dimmer's control value, -1 stop is light under full."
    yield "looks:"
    yield "  black: {everything: out}"
    yield "  lit:"
    for light in lights:
        yield f"    {quoted(light.name)}: {_lit(light.type)}"
    yield ""


def _lit(kind: FixtureType) -> str:
    attributes = {channel.attribute for channel in kind.channels or []}
    if kind.colour_temperature is not None:
        return "{level: -1 stop, colour: 5600 K}"
    drives = [f", {name}: 100 %" for name in EMITTERS if name in attributes]
    return f"{{level: -1 stop{''.join(drives)}}}" if drives else "-1 stop"


def _shot(new: NewShow) -> Iterator[str]:
    axis = next(iter(new.reaches), None)
    fade = print_number(new.length.base / 4)  # from 85 % of an eased move to its end there is a little more
    yield "shots:"
    yield '  "1":'
    yield "    title: reveal"
    if axis is None:
        yield f"    length: {new.length}"
    else:
        yield f"    move: {MOVE_FILE.format(axis=axis)}   # record your own over it"
    yield "    cues:"
    yield "      - {cue: 1, at: 0 s, look: black}"
    if axis is not None:
        yield "      # Timed to places of the move: a slower move takes the light with it."
    yield f"      - {{cue: 2, at: {_start(new, 15)}, look: lit, fade: {fade} s, curve: even stops}}"
    yield f"      - {{cue: 3, at: {_start(new, 85)}, look: black, fade: {fade} s, curve: ease}}"


def _start(new: NewShow, percent: int) -> str:
    """Return the place at which the first axis has come so far; without one, about when it would have been there."""
    for axis, reach in new.reaches.items():
        return f"{axis} {type(reach)(reach.number * Fraction(percent, 100), reach.unit)}"
    share = Fraction(percent, 100) / 2 + Fraction(1, 4)  # an eased move is slow at both ends
    return f"{print_number(new.length.base * share)} s"
