"""Names out of a GDTF file, made fit for a show: printable, not long, no two alike, no word of the format."""

from __future__ import annotations

import re
from collections.abc import Container

MOST_NAME_CHARACTERS = 80
MOST_OWN_CHARACTERS = 60
"""Of a channel, so that its width and its number still fit behind it."""
FEWEST_LETTERS = 4
"""A pretty name shorter than this, such as 'Sh1', says less than the attribute's own name."""

_SEAMS = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[^\W\d_])(?=\d)|(?<=\d)(?=[^\W\d_])|_")
_FORMAT_WORD = re.compile(r"\s+(?:\d+-bit|inverted)$|^fixed(?=\s+\d+$)")
_PERCENT = re.compile(r"\s*%")
_NUMBER = re.compile(r"[+-]?[\d.]+")


def clean(text: str, most: int = MOST_NAME_CHARACTERS) -> str:
    """Return a text of a file as one printable line of at most `most` characters."""
    line = " ".join("".join(one if one.isprintable() else " " for one in text).split())
    return line[:most].strip()


def words_of(name: str) -> str:
    """Return a name as words in lower case, in British spelling: 'ColorMacro1' is 'colour macro 1'."""
    words = clean(_SEAMS.sub(" ", name)).casefold().split()
    return " ".join("colour" if word == "color" else word for word in words)


def channel_name(attribute: str, pretty: str) -> str:
    """Return the name of a channel that a show has no word for."""
    letters = sum(one.isalpha() for one in pretty)
    name = words_of(pretty if letters >= FEWEST_LETTERS else attribute)
    while _FORMAT_WORD.search(name):
        name = _FORMAT_WORD.sub("", name).strip()
    return clean(name, MOST_OWN_CHARACTERS) or "channel"


def range_name(text: str) -> str:
    """Return the name of a range, so that a look cannot take it for a number, a percentage or a value."""
    name = clean(_PERCENT.sub(" percent", text), MOST_OWN_CHARACTERS).casefold()
    if _NUMBER.fullmatch(name):
        return f"number {name}"
    return f"the {name}" if name.startswith("value ") else name


def unused(name: str, taken: Container[str]) -> str:
    """Return a name that is not taken: the name itself, or with the first free number from 2 behind it."""
    if name not in taken:
        return name
    number = 2
    while f"{name} {number}" in taken:
        number += 1
    return f"{name} {number}"
