"""`cuedeck looks`: what each look makes of each light: control, stops, colour, and how near it comes."""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from cuedeck.cli import exits
from cuedeck.cli.arguments import add_show
from cuedeck.cli.opening import print_errors
from cuedeck.cli.printing import print_table
from cuedeck.errors import Refusal
from cuedeck.show.spelling import as_one

if TYPE_CHECKING:
    from cuedeck.light.white import White
    from cuedeck.rig.sheet import LookRow


WARMEST_KELVIN = 2200.0
"""Warmer than this, a colour is an orange or a red: the warmest white that ANSI C78.377 names (from memory)."""
MOST_DUV = 0.02
"""Farther than this from the whites, a colour temperature says little of a colour that was not asked for as one."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_show(parser, may_be_here=True)
    one = "one look; all of them where none is named"
    parser.add_argument("look", metavar="LOOK", nargs="?", type=as_one, help=one)
    parser.add_argument("--json", action="store_true", help="print the sheet as JSON")


def run(options: argparse.Namespace) -> int:
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.rig.sheet import look_rows
    from cuedeck.show.problems import choice_of

    opened = ShowFolder(options.show).open()
    print_errors(opened)
    looks = [options.look] if options.look is not None else list(opened.show.looks)
    if options.look is not None and options.look not in opened.show.looks:
        raise Refusal(f"the show has no look '{options.look}': {choice_of(options.look, opened.show.looks)}")
    rows = [row for look in looks for row in look_rows(opened.show, opened.patch, look)]
    if options.json:
        print(json.dumps([_as_data(row) for row in rows], indent=2))
    else:
        heading = ("look", "light", "control", "stops", "colour", "reached", "Duv", "off u'v'", "channels")
        print_table(heading, map(_cells, rows))
        for line in _primaries(rows):
            print(line)
    return exits.WRONG if opened.errors else exits.DONE


def _primaries(rows: Sequence[LookRow]) -> Iterator[str]:
    """Yield by which primaries the colours of lights with hue and saturation were judged."""
    for primaries in dict.fromkeys(row.primaries for row in rows if row.primaries):
        lights = ", ".join(dict.fromkeys(f"'{row.fixture}'" for row in rows if row.primaries == primaries))
        by = "the red, green and blue of its type's emitters"
        if primaries == "sRGB":
            by = "the primaries of sRGB (IEC 61966-2-1), as its own are not known: hold a meter against them"
        yield f"hue and saturation of {lights} are judged by {by}"


def _cells(row: LookRow) -> tuple[str, ...]:
    channels = ", ".join(f"{name} {_percent(value)}" for name, value in row.channels.items())
    colour = "" if row.colour is None else str(row.colour)
    return (row.look, row.fixture, _control(row), _stops(row), colour, *_reached(row), channels)


def _percent(share: float) -> str:
    return f"{share:.1%}".replace("%", " %")


def _control(row: LookRow) -> str:
    """Return the control value that is reached, and what was asked where a limit of the light keeps it from that."""
    if row.control is None or row.asked_control is None:
        return "as it is"
    reached, asked = _percent(row.control), _percent(row.asked_control)
    return reached if asked == reached else f"{reached}, limited from {asked}"


def _stops(row: LookRow) -> str:
    if row.stops is None:
        return ""
    return f"{row.stops:.2f} stop" if math.isfinite(row.stops) else "out"


def _reached(row: LookRow) -> tuple[str, str, str]:
    if row.mixture is None:
        return "", "", ""
    white = _white_of(row)
    return (
        _place(row, white),
        "" if white is None else f"{white.duv + 0.0:+.4f}".replace("-0.0000", "+0.0000"),
        f"{row.mixture.distance_uv:.4f}",
    )


def _white_of(row: LookRow) -> White | None:
    """Return the white that a light reaches, where it was asked for one or comes near to one."""
    from cuedeck.show.colours import WhiteColour

    white = row.white
    if white is None or isinstance(row.colour, WhiteColour):
        return white
    return white if abs(white.duv) <= MOST_DUV and white.kelvin >= WARMEST_KELVIN else None


def _place(row: LookRow, white: White | None) -> str:
    """Return the colour that a light reaches in the words it was asked for: a white, or a point of the diagram."""
    from cuedeck.show.colours import WhiteColour

    kelvin = "" if white is None else f"{white.kelvin:.0f} K"
    if row.mixture is None or (kelvin and isinstance(row.colour, WhiteColour)):
        return kelvin
    x, y = row.mixture.reached_xy
    return f"xy {x:.4f} {y:.4f}" + (f", {kelvin}" if kelvin else "")


def _as_data(row: LookRow) -> dict[str, Any]:
    mixture, white = row.mixture, _white_of(row)
    return {
        "look": row.look,
        "light": row.fixture,
        "control": row.control,
        "control_asked": row.asked_control,
        "stops": row.stops if row.stops is not None and math.isfinite(row.stops) else None,
        "colour": None if row.colour is None else str(row.colour),
        "reached_xy": None if mixture is None else mixture.reached_xy,
        "reached_kelvin": None if white is None else white.kelvin,
        "reached_duv": None if white is None else white.duv,
        "distance_uv": None if mixture is None else mixture.distance_uv,
        "primaries": row.primaries,
        "luminance": None if mixture is None else mixture.luminance,
        "channels": dict(row.channels),
    }
