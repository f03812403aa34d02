"""Names, ranges and defaults of a GDTF file in the form of a show.

Names are printable, not long, no two alike, and no word of the format. A number on a wider channel stands for the
bytes of itself repeated (DIN SPEC 15800: 255/1 is 65535), so a range is written with the numbers that lie in it:
what is sent never leaves the range of the file.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterator, Sequence
from fractions import Fraction
from typing import Any

from cuedeck.show.units import print_number

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


def lower_case_words(name: str) -> str:
    """Return a name as words in lower case, in British spelling: 'ColorMacro1' is 'colour macro 1'."""
    words = clean(_SEAMS.sub(" ", name)).casefold().split()
    return " ".join("colour" if word == "color" else word for word in words)


def channel_name(attribute: str, pretty: str) -> str:
    """Return the name of a channel that a show has no word for."""
    letters = sum(one.isalpha() for one in pretty)
    name = lower_case_words(pretty if letters >= FEWEST_LETTERS else attribute)
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


_NOTHING = "NoFeature"


def ranges_of(functions: Sequence[Any], width: int, left_bytes: int) -> tuple[dict[str, str], int]:
    """Return the ranges of a channel as {name: 'FROM-TO'}, and how many could not be said.

    `width` is the number of bytes that are written, `left_bytes` how many finer ones the file has.
    """
    ranges: dict[str, str] = {}
    left_out, next_free = 0, 0
    step = _step(width) << 8 * left_bytes
    for name, first, last in sorted(_candidates(functions), key=lambda one: one[1:]):
        low, high = -(-first // step), last // step
        if not next_free <= low <= high:
            left_out += 1
            continue
        ranges[unused(name, ranges)] = str(low) if low == high else f"{low}-{high}"
        next_free = high + 1
    return ranges, left_out


def _candidates(functions: Sequence[Any]) -> Iterator[tuple[str, int, int]]:
    """Yield (name, first, last) of what is named: channel sets, else functions where there are several."""
    for function in functions:
        sets = [(range_name(one.name or ""), one.dmx_from.value, one.dmx_to.value) for one in function.channel_sets]
        named = [one for one in sets if one[0]]
        if named:
            yield from named
        elif len(functions) > 1 and str(function.attribute) != _NOTHING:
            name = range_name(lower_case_words(function.name or "")) or lower_case_words(str(function.attribute))
            yield name, function.dmx_from.value, function.dmx_to.value


def default_text(value: int, width: int, *, inverted: bool = False) -> str:
    """Return a default as 'value N' where that is exact, else as a percentage that comes back to it.

    `value N` is what the line carries, a percentage what the channel means: on an inverted one it counts from the top.
    """
    whole, rest = divmod(value, _step(width))
    if rest == 0:
        return f"value {whole}"
    full = (1 << 8 * width) - 1
    percent = round(Fraction(100 * (full - value if inverted else value), full), 3 * width)
    return f"{print_number(percent)} %"


def _step(width: int) -> int:
    """Return the DMX value of the 8-bit number 1 on `width` bytes: 1, 257, 65793."""
    return ((1 << 8 * width) - 1) // 255
