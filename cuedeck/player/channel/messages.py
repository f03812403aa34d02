"""The messages between the player and its clients: all of them, and how a line is read.

The invariant owned here: what comes in is a message with every field in its bounds, or BadMessage. Nothing
else is ever raised, whatever the bytes are, and nothing in a message is run.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar, get_args

from cuedeck.player.channel.events import (
    AnyEvent,
    Done,
    Ended,
    LastTake,
    Notice,
    OutputState,
    Refused,
    Snapshot,
    Welcome,
    packed,
    unpacked,
)
from cuedeck.player.channel.message import LONGEST_EVENT, BadMessage, Message, in_json
from cuedeck.player.channel.requests import (
    AnyRequest,
    Begin,
    Control,
    Expect,
    Fire,
    Hold,
    Leave,
    Quit,
    Release,
    Reload,
    Request,
    ShowLook,
    Start,
    StartBlackout,
    Stop,
    packed_texts,
    unpacked_texts,
)

__all__ = [
    "AnyEvent",
    "AnyRequest",
    "BadMessage",
    "Begin",
    "Control",
    "Done",
    "Ended",
    "Expect",
    "Fire",
    "Hold",
    "LastTake",
    "Leave",
    "Notice",
    "OutputState",
    "Quit",
    "Refused",
    "Release",
    "Reload",
    "Request",
    "ShowLook",
    "Snapshot",
    "Start",
    "StartBlackout",
    "Stop",
    "Welcome",
    "event_in",
    "longest_of",
    "packed",
    "packed_texts",
    "request_in",
    "unpacked",
    "unpacked_texts",
]

E = TypeVar("E", bound=Message)

_REQUESTS: dict[str, type[AnyRequest]] = {kind.ask: kind for kind in get_args(AnyRequest)}
_EVENTS: dict[str, type[AnyEvent]] = {kind.event: kind for kind in get_args(AnyEvent)}


def request_in(line: bytes) -> AnyRequest:
    """Return what a client asks in a line. Raises BadMessage."""
    return _message_in(line, "ask", _REQUESTS, longest_of(line))


def longest_of(beginning: bytes | bytearray) -> int:
    """Return how long a request may be that begins like this."""
    kind = beginning[:40].removeprefix(b'{"ask":"').partition(b'"')[0].decode(errors="replace")
    return _REQUESTS.get(kind, Request).longest


def event_in(line: bytes) -> AnyEvent:
    """Return what the player says in a line. Raises BadMessage."""
    return _message_in(line, "event", _EVENTS, LONGEST_EVENT)


def _message_in(line: bytes, key: str, kinds: Mapping[str, type[E]], longest: int) -> E:
    if len(line) > longest:
        raise BadMessage(f"a message of {len(line)} bytes is too long; {longest} is the most")
    try:
        values = in_json(line.decode())
    except (ValueError, RecursionError) as error:
        raise BadMessage(f"this is no message: {str(error)[:200]}") from error
    name = values.pop(key, None) if isinstance(values, dict) else None
    kind = kinds.get(name) if isinstance(name, str) else None
    if kind is None:
        raise BadMessage(f"this is no message: '{str(name)[:40]}' is no {key} that is known")
    try:
        return kind(**values)
    except BadMessage as bad:
        raise bad.inside(str(name)) from None
