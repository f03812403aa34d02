"""Reads datagrams of OSC 1.0. Pure; any bytes are safe to read.

Bundles are read here and not by python-osc 1.10: its reader never returns from a bundle with an element of negative
size, and it writes a warning to standard error for each argument of an unknown type. It does read the messages
themselves. Addresses are no patterns, since a stray '*' must not start a take.

The time tag of a bundle is ignored: its messages act in order when they arrive. The clock of the sender is not ours,
and a fired cue counts from the packet it was fired at.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

BUNDLE = b"#bundle\0"
TIME_TAG_BYTES = 8
DEEPEST = 8
"""Levels of bundles within bundles that are read: no sender means more."""
KNOWN_ARGUMENTS = frozenset("ifhds")
"""Whole numbers, fractions and texts: the messages of a take use no others."""

Argument = int | float | str


class Malformed(ValueError):
    """Bytes that are no OSC 1.0, or have arguments of a kind that no message here takes."""


@dataclass(frozen=True)
class OscMessage:
    """One OSC message."""

    address: str
    arguments: tuple[Argument, ...]


def read_datagram(datagram: bytes) -> list[OscMessage]:
    """Return the messages of a datagram, those of bundles in their order. Raises Malformed."""
    return list(_messages(datagram, DEEPEST))


def _messages(part: bytes, deepest: int) -> Iterator[OscMessage]:
    if not part or len(part) % 4:
        raise Malformed("the size is no multiple of 4")
    if not part.startswith(BUNDLE):
        yield _message(part)
        return
    if deepest == 0 or len(part) < len(BUNDLE) + TIME_TAG_BYTES:
        raise Malformed("no whole bundle")
    at = len(BUNDLE) + TIME_TAG_BYTES
    while at < len(part):
        size = int.from_bytes(part[at : at + 4], "big", signed=True)
        if not 0 < size <= len(part) - at - 4:
            raise Malformed("an element of a bundle is larger than what is left")
        yield from _messages(part[at + 4 : at + 4 + size], deepest - 1)
        at += 4 + size


def _message(part: bytes) -> OscMessage:
    from pythonosc import osc_message
    from pythonosc.parsing import osc_types

    if not part.startswith(b"/"):
        raise Malformed("an address begins with '/'")
    try:
        _, behind = osc_types.get_string(part, 0)
        tags = osc_types.get_string(part, behind)[0] if part[behind:] else ","
        if not set(tags[1:]) <= KNOWN_ARGUMENTS:
            raise Malformed("an argument of a kind that is not taken")
        message = osc_message.OscMessage(part)
    except (osc_types.ParseError, osc_message.ParseError, UnicodeDecodeError) as error:
        raise Malformed("no OSC message") from error
    return OscMessage(message.address, tuple(message.params))
