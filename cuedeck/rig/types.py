"""The fixture types that need no description in a show. Slots in order, as such lights commonly listen.

The layouts and colour ranges are common practice, no source; a show describes its own lights under
`types:` where theirs differ.
"""

from __future__ import annotations

from collections.abc import Mapping

from cuedeck.show.fixtures import FixtureType
from cuedeck.show.model import Show

_TWO_TONE = {"low": "2700 K", "high": "6500 K"}

BUILT_IN: Mapping[str, FixtureType] = {
    name: FixtureType.model_validate(description)
    for name, description in {
        "dimmer": {"channels": ["intensity"]},
        "dimmer 16-bit": {"channels": ["intensity 16-bit"]},
        "two-tone": {"channels": ["intensity", "colour temperature"], "colour temperature": _TWO_TONE},
        "two-tone 16-bit": {
            "channels": ["intensity 16-bit", "colour temperature 16-bit"],
            "colour temperature": _TWO_TONE,
        },
    }.items()
} | {
    f"{name}{width}": FixtureType.model_validate({"channels": [f"{channel}{width}" for channel in channels]})
    for name, channels in {
        "rgb": ["red", "green", "blue"],
        "rgbw": ["red", "green", "blue", "white"],
        "rgba": ["red", "green", "blue", "amber"],
        "rgbww": ["red", "green", "blue", "warm white", "cool white"],
        "hue-saturation": ["intensity", "hue", "saturation"],
        "xy": ["intensity", "x", "y"],
    }.items()
    for width in ("", " 16-bit")
}


def types_of(show: Show) -> dict[str, FixtureType]:
    """Return every type that a show can name; its own ones replace built-in ones of the same name."""
    return {**BUILT_IN, **show.types}
