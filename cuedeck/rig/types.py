"""The fixture types that need no description in a show. Slots in order, as such lights commonly listen.

The layouts and colour ranges are common practice, no source; a show describes its own lights under
`types:` where theirs differ. A type is also written here as the text of a types file, in the form that a person
would write: a channel on one line where it fits, quotes only where YAML needs them.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

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


LONGEST_LINE = 110
_PLAIN = re.compile(r"[^\W_](?:[\w .+/()°-]*[\w.+/()°%-])?")
_PLAIN_PERCENT = re.compile(r"[\d.]+ %")
_OTHER_MEANING = frozenset({"null", "true", "false", "yes", "no", "on", "off"})
"""Plain words that YAML, or a person, would not take for a text."""


def types_file_text(name: str, description: Mapping[str, Any], comments: Sequence[str]) -> str:
    """Return the text of a file with one fixture type, its comments at the top."""
    lines = [f"# {' '.join(comment.split())}" for comment in comments]
    lines += ["types:", f"  {_key(name)}:", *_mapping(description, "    ")]
    return "\n".join(lines) + "\n"


def _mapping(data: Mapping[str, Any], indent: str) -> Iterator[str]:
    for key, value in data.items():
        yield from _entry(f"{indent}{_key(key)}:", value, indent)


def _entry(head: str, value: Any, indent: str) -> Iterator[str]:
    """Yield a value behind its head: on the same line where it is flat and short, else below it."""
    line = f"{head} {_flow(value)}"
    if isinstance(value, str) or (len(line) <= LONGEST_LINE and _is_flat(value)):
        yield line
    elif isinstance(value, Mapping):
        yield head
        yield from _mapping(value, indent + "  ")
    else:
        yield head
        for item in value:
            yield from _item(item, indent + "  ")


def _item(item: Any, indent: str) -> Iterator[str]:
    line = f"{indent}- {_flow(item)}"
    if isinstance(item, str) or len(line) <= LONGEST_LINE:
        yield line
        return
    first, *rest = _mapping(item, indent + "  ")
    yield f"{indent}- {first.lstrip()}"
    yield from rest


def _is_flat(value: Any) -> bool:
    parts = value.values() if isinstance(value, Mapping) else ()
    return isinstance(value, Mapping) and all(isinstance(part, str) for part in parts)


def _flow(value: Any) -> str:
    if isinstance(value, str):
        return _scalar(value)
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_key(key)}: {_flow(part)}" for key, part in value.items()) + "}"
    return "[" + ", ".join(_flow(part) for part in value) + "]"


def _key(text: str) -> str:
    """Return a key; one that is a number stands in quotes, as names of shots do."""
    return f'"{text}"' if re.fullmatch(r"[\d.]+", text) else _scalar(text)


def _scalar(text: str) -> str:
    """Return a text as a YAML scalar, in quotes where it would mean something else without."""
    if text.casefold() in _OTHER_MEANING or not (_PLAIN.fullmatch(text) or _PLAIN_PERCENT.fullmatch(text)):
        return json.dumps(text, ensure_ascii=False)
    return text
