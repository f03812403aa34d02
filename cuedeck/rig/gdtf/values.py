"""Numbers in a GDTF description: which texts are sound, and DMX values at the width of their channel.

Owns DMXValue of DIN SPEC 15800: what leaves here has no mirroring and no shift left in it, so that nothing
after it needs to know of them (pygdtf reads '255/1s' without its shift).

A DMX profile is a row of cubics, each from its point on (DIN SPEC 15800, DMX Profile). Its units are told apart by
what comes out: files are found with the channel counted to 1 and to 100.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from math import isfinite
from xml.etree.ElementTree import Element

FARTHEST_OFFSET = 65_536
_DMX_VALUES = ("DMXFrom", "Default")

_DMX_VALUE = re.compile(r"(\d{1,10})/([1-4])(s?)", re.ASCII)
_NUMBER = re.compile(r"[+-]?(?:\d{1,30}\.?\d{0,30}|\.\d{1,30})(?:[eE][+-]?\d{1,3})?", re.ASCII)
_DMX_ADDRESS = re.compile(r"(?:(\d{1,4})\.)?(\d{1,6})", re.ASCII)


def _dmx_value(text: str) -> str | None:
    if text.casefold() == "none":
        return ""
    match = _DMX_VALUE.fullmatch(text)
    return text if match and int(match[1]) < 256 ** int(match[2]) else None


def _number(text: str) -> str | None:
    return text if _NUMBER.fullmatch(text) and isfinite(float(text)) and abs(float(text)) < 1e12 else None


def _offsets(text: str) -> str | None:
    if text == "None":
        return ""
    parts = [part.strip() for part in text.split(",")]
    sound = all(re.fullmatch(r"\d{1,6}", part, re.ASCII) and 1 <= int(part) <= FARTHEST_OFFSET for part in parts)
    return ",".join(parts) if sound and len(parts) <= 4 and len(set(parts)) == len(parts) else None


def _break(text: str) -> str | None:
    if text == "Overwrite":
        return text
    return str(int(text)) if re.fullmatch(r"\d{1,3}", text, re.ASCII) and int(text) >= 1 else None


def _address(text: str) -> str | None:
    match = _DMX_ADDRESS.fullmatch(text)
    if not match:
        return None
    absolute = (max(1, int(match[1] or 1)) - 1) * 512 + int(match[2])
    return str(absolute) if 1 <= absolute <= FARTHEST_OFFSET else None


CHECKS: Mapping[str, tuple[Callable[[str], str | None], str]] = {
    **dict.fromkeys(("DMXFrom", "Default", "ModeFrom", "ModeTo"), (_dmx_value, "a DMX value such as 128/1 or 65535/2")),
    **dict.fromkeys(
        (
            *("PhysicalFrom", "PhysicalTo", "Min", "Max", "DMXPercentage", "CFC0", "CFC1", "CFC2", "CFC3"),
            *("PowerConsumption", "ElectricalPayLoad", "LuminousFlux", "ColorTemperature", "BeamRadius"),
        ),
        (_number, "a number such as 0.5"),
    ),
    "Offset": (_offsets, "one to four different slots such as '1,2', most significant first, or None"),
    "DMXBreak": (_break, "a number from 1 to 999, or Overwrite"),
    "DMXOffset": (_address, "an address such as 5 or 1.5"),
}
"""For each attribute that is no name: what gives its sound text, or None, and what to write instead."""


def write_out_values(channel: Element) -> None:
    """Write the DMX values in a channel out at its width, as '65535/2', so that no shift or mirroring is left."""
    width = len(channel.get("Offset", "").split(",")) if channel.get("Offset") else None
    for element in channel.iter():
        for name in _DMX_VALUES:
            text = element.get(name)
            if text == "":
                del element.attrib[name]
            elif text is not None:
                element.set(name, _written_out(text, width))
        for name in ("ModeFrom", "ModeTo"):
            if element.get(name) is not None:
                element.set(name, (element.get(name) or "0/1").removesuffix("s"))


def _written_out(text: str, width: int | None) -> str:
    value, byte_count = text.removesuffix("s").split("/")
    wanted = width or int(byte_count)
    return f"{resized(int(value), int(byte_count), wanted, shifts=text.endswith('s'))}/{wanted}"


def resized(value: int, byte_count: int, width: int, *, shifts: bool) -> int:
    """Return a DMX value of `byte_count` bytes on a channel of `width` bytes (DIN SPEC 15800, DMXValue).

    255/1 on two bytes is 65535 (the bytes repeat); 255/1s is 65280 (they shift). A narrower channel keeps
    the most significant bytes.
    """
    if width <= byte_count:
        return value >> (8 * (byte_count - width))
    if shifts:
        return value << (8 * (width - byte_count))
    pattern = value.to_bytes(byte_count, "big") * width
    return int.from_bytes(pattern[:width], "big")


STEPS = 32
"""In how many parts a profile is written down."""
_SLACK = 0.001
_COEFFICIENTS = ("CFC0", "CFC1", "CFC2", "CFC3")

Shares = tuple[float, ...]
"""What a profile gives at 0, 1/STEPS, ... 1 of the channel: 0 to 1."""


def profiles_of(fixture_type: Element) -> Mapping[str, Shares | None]:
    """Return the profiles of a fixture type by name; None for one that leaves the range of what it sets."""
    found = fixture_type.iterfind("PhysicalDescriptions/DMXProfiles/DMXProfile")
    return {profile.get("Name", ""): _shares(profile) for profile in found}


def _shares(profile: Element) -> Shares | None:
    points = sorted(
        (float(point.get("DMXPercentage", "0")), *(float(point.get(name, "0")) for name in _COEFFICIENTS))
        for point in profile.iterfind("Point")
    )
    for whole in (1.0, 100.0):
        given = [_output(points, whole * step / STEPS) for step in range(STEPS + 1)]
        for full in (1.0, 100.0):
            if min(given) >= -_SLACK * full and full / 2 < max(given) <= (1 + _SLACK) * full:
                return tuple(min(max(one / full, 0.0), 1.0) for one in given)
    return None


def _output(points: Sequence[tuple[float, ...]], x: float) -> float:
    place = bisect_right(points, (x, *(float("inf"),) * len(_COEFFICIENTS)))
    if place == 0:
        return 0.0
    start, *coefficients = points[place - 1]
    return sum(coefficient * (x - start) ** power for power, coefficient in enumerate(coefficients))
