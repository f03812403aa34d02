"""Slips of the pen after which YAML reads something else than what was meant, and what to write instead.

A # begins a comment, a colon needs a space behind it, and a comma in braces begins another key.
"""

from __future__ import annotations

import re
from itertools import islice

from cuedeck.show.colours import screen_colour_of_hex
from cuedeck.show.source import Path, Source
from cuedeck.show.units import shorten

EMPTY_CURE = "write a value, or take the key out"
NEAR = 80
"""How many characters of a line are looked at: a file may be one long line."""
_COMMENT = r"['\"]?[ \t]*:[ \t]+#(?P<text>[^\s#].*)"
_WHOLE = re.compile(r":\s+(?P<number>[+-]?\d{1,12}),\s*$", re.ASCII)
_PART_OF_COLOUR = re.compile(r"(?:Duv )?[+-]?[\d.]+(?: ?mired)?")
_BY_KEY = {
    "colour": "write a colour such as 5600 K or sRGB 255 128 0, or take the key out",
    "address": "write one such as 1.1, or let 'cuedeck patch SHOW --auto' propose it",
}


def cure_of_missing_space(key: str) -> str | None:
    """Return the cure of a key that holds its value too, since no space follows the colon."""
    before, _, after = (part.strip() for part in key.partition(":"))
    return f"put a space after the colon: '{shorten(before)}: {shorten(after)}'" if before and after else None


def cure_of_split_number(source: Source, path: Path) -> str | None:
    """Return the cure of a key that is the rest of a number, whose comma in braces has begun another key."""
    name, place = str(path[-1]), source.place_of_key(path)
    start = place.column - 1
    before = _WHOLE.search(source.line(place)[max(0, start - NEAR) : start])
    if before is None or source.node(path) is not None or not name[:1].isdigit():
        return None
    return f"write numbers with a point: '{before['number']}.{shorten(name)}'"


def cure_of_empty(source: Source, path: Path) -> str | None:
    """Return the cure of a key with nothing behind it, where more can be said than that a value is wanted."""
    name = str(path[-1])
    return (
        cure_of_missing_space(name)
        or cure_of_split_number(source, path)
        or _cure_of_commas(source, path, name)
        or _cure_of_comment(source, path, name)
        or _BY_KEY.get(name)
    )


def cure_of_comment(name: str, text: str) -> str:
    """Return the cure of a value that is a comment, since it starts with a #; the text is what stands behind it."""
    colour = screen_colour_of_hex(text.split(maxsplit=1)[0].rstrip(",}]"))
    if colour is not None:
        return f"a # starts a comment: write '{colour}'"
    if name == "colour":
        return "a # starts a comment: put the colour in words, such as sRGB 255 128 0"
    return f"a # starts a comment: put quotes around the text, '{name}: \"#{shorten(text)}\"'"


def _cure_of_comment(source: Source, path: Path, name: str) -> str | None:
    place = source.place_of_key(path)
    start = place.column - 1
    behind = source.line(place)[start : start + len(name) + NEAR]
    found = re.match(rf"['\"]?{re.escape(name)}{_COMMENT}", behind)
    return None if found is None else cure_of_comment(name, found["text"])


def _cure_of_commas(source: Source, path: Path, name: str) -> str | None:
    colour, beside = source.node((*path[:-1], "colour")), source.node(path[:-1])
    if not _PART_OF_COLOUR.fullmatch(name) or not isinstance(colour, str) or not isinstance(beside, dict):
        return None
    parts = (key for key, value in beside.items() if value is None and _PART_OF_COLOUR.fullmatch(key))
    return f"write the colour without a comma: '{shorten(' '.join([colour, *islice(parts, 2)]))}'"
