"""The messages between the player and its clients: all of them, and how a line is read.

The invariant owned here: what comes in is a message with every field in its bounds, or BadMessage. Nothing
else is ever raised, whatever the bytes are, and nothing in a message is run.
"""

from __future__ import annotations

from typing import Annotated, TypeVar

from pydantic import Field, TypeAdapter, ValidationError

from cuedeck.errors import Refusal
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
from cuedeck.player.channel.message import LONGEST_EVENT, LONGEST_REQUEST, LONGEST_SHOW
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
    "packed",
    "request_in",
    "unpacked",
]

T = TypeVar("T")

_REQUESTS: TypeAdapter[AnyRequest] = TypeAdapter(Annotated[AnyRequest, Field(discriminator="ask")])
_EVENTS: TypeAdapter[AnyEvent] = TypeAdapter(Annotated[AnyEvent, Field(discriminator="event")])
_BEGINNING_OF_SHOW = ShowLook.model_construct(to=(), universes=(), slots=b"").to_line().partition(b"show")[0] + b'show"'


class BadMessage(Refusal):
    """What came over the channel is no message."""


def request_in(line: bytes) -> AnyRequest:
    """Return what a client asks in a line. Raises BadMessage."""
    longest = LONGEST_SHOW if line.startswith(_BEGINNING_OF_SHOW) else LONGEST_REQUEST
    return _message_in(line, _REQUESTS, longest)


def event_in(line: bytes) -> AnyEvent:
    """Return what the player says in a line. Raises BadMessage."""
    return _message_in(line, _EVENTS, LONGEST_EVENT)


def _message_in(line: bytes, kinds: TypeAdapter[T], longest: int) -> T:
    if len(line) > longest:
        raise BadMessage(f"a message of {len(line)} bytes is too long; {longest} is the most")
    try:
        return kinds.validate_json(line)
    except ValidationError as error:
        raise BadMessage(_first_problem(error)) from error


def _first_problem(error: ValidationError) -> str:
    first = error.errors(include_url=False, include_context=False, include_input=False)[0]
    place = ".".join(str(part) for part in first["loc"])
    return f"{place[:200]}: {first['msg'][:200]}" if place else f"this is no message: {first['msg'][:200]}"
