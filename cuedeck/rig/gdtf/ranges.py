"""Named ranges and defaults of a GDTF channel, in the 8-bit numbers of a show file.

A number on a wider channel stands for the bytes of itself repeated (DIN SPEC 15800: 255/1 is 65535), so a
range is written with the numbers that lie in it: what is sent never leaves the range of the file.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

from cuedeck.rig.gdtf.names import range_name, unused, words_of
from cuedeck.show.units import print_number

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
            name = range_name(words_of(function.name or "")) or words_of(str(function.attribute))
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
