"""Malformed messages: random bytes, and good messages with some bytes or fields changed."""

from __future__ import annotations

import json
import random
from typing import Any

from cuedeck.player.channel.requests import (
    AnyRequest,
    Begin,
    Control,
    Fire,
    Hold,
    Leave,
    Quit,
    Release,
    Reload,
    ShowLook,
    Start,
    StartBlackout,
    Stop,
    packed_texts,
)

GOOD_REQUESTS: list[AnyRequest] = [
    Begin(shot="1", to=("simulator", "sacn:1"), chase="ltc:card 1", axis_from="fired", count_s=5),
    Begin(shot="dial reveal", to=(), speed="1/2", attended=True, is_rehearsal=True, from_packet=44, osc=True, arm=True),
    Begin(shot="1", to=("simulator",), is_rehearsal=True, texts=packed_texts({"show.yaml": "é" * 99})),
    Start(id=1),
    Fire(cue="4"),
    Fire(id=2**53 - 1),
    Hold(is_held=True),
    Hold(),
    Stop(),
    Release(),
    Release(keeps_blackout=True),
    StartBlackout(id=7),
    Control(),
    ShowLook(to=("simulator",), universes=(1, 63_999), slots=bytes(range(256)) * 4),
    Reload(),
    Leave(),
    Quit(),
]
ODD_VALUES: list[Any] = [
    None,
    True,
    -1,
    0,
    2**53,
    10**400,
    1.5,
    "",
    "é" * 300,
    "\ud800",
    [],
    [[]],
    {},
    ["x"] * 100,
    "==",
]
ODD_TEXTS = ["1e999", "-0", "NaN", "Infinity", '"\\u0000"', '"\\ud800"', "[" * 300, '{"a":' * 300, "9" * 5000, "{}"]
KEYS = [
    "ask",
    "id",
    "shot",
    "to",
    "slots",
    "universes",
    "cue",
    "texts",
    "self",
    "is_held",
    "event",
    "",
    "__class__",
    "count_s",
]

GOOD_DATAGRAMS = (
    b"/cuedeck/start\0\0,\0\0\0",
    b"/cuedeck/cue\0\0\0\0,s\0\x003\0\0\0",
    b"/cuedeck/cue\0\0\0\0,i\0\0\0\0\0\3",
    b"/cuedeck/axis\0\0\0,sf\0slide\0\0\0\x42\xc8\0\0",
    b"#bundle\0\0\0\0\0\0\0\0\1\0\0\0\x14/cuedeck/start\0\0,\0\0\0",
)


def fuzzed_line(chance: random.Random) -> bytes:
    """Return one line that is most likely no request."""
    kind = chance.randrange(4)
    if kind == 0:
        return chance.randbytes(chance.randrange(80))
    line = chance.choice(GOOD_REQUESTS).to_line()
    if kind == 1 and chance.random() < 0.1:
        return line
    return _with_changed_fields(line, chance) if kind == 3 else _with_changed_bytes(line, chance)


def _with_changed_bytes(line: bytes, chance: random.Random) -> bytes:
    changed = bytearray(line)
    for _ in range(chance.choice((1, 1, 2, 8))):
        at = chance.randrange(len(changed) or 1)
        width = chance.choice((0, 1, 1, 5))
        changed[at : at + width] = chance.choice(
            (b"", b'"', b"\\", b"\n", b"}", b"{", chance.randbytes(1), changed[:9])
        )
    return bytes(changed)


def _with_changed_fields(line: bytes, chance: random.Random) -> bytes:
    fields = json.loads(line)
    for _ in range(chance.choice((1, 1, 2))):
        key = chance.choice([*fields, *KEYS])
        if chance.random() < 0.2:
            fields.pop(key, None)
        else:
            fields[key] = chance.choice(ODD_VALUES)
    changed = json.dumps(fields, ensure_ascii=chance.random() < 0.5)
    if chance.random() < 0.2:
        changed = changed.replace(json.dumps(chance.choice(list(fields.values()) or [0])), chance.choice(ODD_TEXTS), 1)
    return changed.encode(errors="surrogatepass") + b"\n"


def fuzzed_datagram(chance: random.Random) -> bytes:
    """Return one datagram that is most likely no OSC, or no message of a take."""
    if chance.random() < 0.3:
        return chance.randbytes(chance.randrange(120))
    changed = bytearray(chance.choice(GOOD_DATAGRAMS))
    for _ in range(chance.choice((0, 1, 1, 4))):
        at, width = chance.randrange(len(changed) or 1), chance.choice((0, 1, 1, 4))
        changed[at : at + width] = chance.choice((b"", b"\0", b"/", b",", b"\xff\xff\xff\xff", chance.randbytes(4)))
    return bytes(changed)
