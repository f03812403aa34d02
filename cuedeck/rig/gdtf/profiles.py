"""DMX profiles of a GDTF file: curves between a channel and what it sets (DIN SPEC 15800, DMX Profile).

A profile is a row of cubics, each from its point on. Its units are told apart by what comes out: files are found
with the channel counted to 1 and to 100.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from xml.etree.ElementTree import Element

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
