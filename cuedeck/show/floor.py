"""What reaches a shot from the floor, and what it tells the floor: contacts, a signal, OSC.

Which port a contact hangs on is a matter of the machine and not of the show, so no port is named here.
"""

from __future__ import annotations

import ipaddress
import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field, PlainSerializer, model_validator
from pydantic_core import core_schema

from cuedeck.show.schema_parts import NUMBER, JsonSchema, one_of, value_schema, whole_text
from cuedeck.show.units import Angle, Duration, Length, UnitError, parse_position, shorten, text_schema
from cuedeck.show.values import Model, refuse, text_reader

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler
    from pydantic_core import CoreSchema

LineIn = Literal["CTS", "DSR", "DCD", "RI"]
LineOut = Literal["RTS", "DTR"]
EdgeName = Literal["closing", "opening", "both"]
LOOPBACK = "127.0.0.1"
OSC_PORT = 8765
MOST_TRIGGERS = 16
LONGEST_DEBOUNCE = Duration.of(2)
SPEED_CURE = "write how far in a second, such as 300 mm/s or 60 deg/s"
DOES_CURE = "write what the contact does: start, next cue, or cue 4"


class FloorActionKind(StrEnum):
    """The kinds of thing that a contact does."""

    START = "start"
    NEXT_CUE = "next cue"
    CUE = "cue"


@dataclass(frozen=True)
class FloorAction:
    """What a contact does."""

    kind: FloorActionKind
    cue: str = ""
    """Which cue, where one is named."""

    def __str__(self) -> str:
        return f"cue {self.cue}" if self.kind is FloorActionKind.CUE else str(self.kind)

    @classmethod
    def parse(cls, text: str) -> FloorAction:
        """Return what a text such as "start" or "cue 4" means. Raises UnitError."""
        words = " ".join(text.split())
        if words in (FloorActionKind.START, FloorActionKind.NEXT_CUE):
            return cls(FloorActionKind(words))
        if words.startswith("cue ") and words.isprintable():
            return cls(FloorActionKind.CUE, words.removeprefix("cue "))
        raise UnitError(f"'{shorten(text)}' is nothing that a contact can do", DOES_CURE)

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return text_schema(cls, cls.parse, "what the contact does", DOES_CURE)

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: Any) -> JsonSchema:
        pattern = whole_text(rf"{one_of([FloorActionKind.START, FloorActionKind.NEXT_CUE])}|cue\s+\S.*")
        return value_schema("what a contact does", "start or next cue or cue 4", pattern, cure=DOES_CURE)


class ContactTrigger(Model):
    """A contact closure on the floor that is armed for this shot."""

    line: LineIn
    """The input of the serial port that the contact is wired to: CTS, DSR, DCD or RI."""
    edge: EdgeName = "closing"
    """Which change of the contact counts: closing, opening or both."""
    does: FloorAction
    """What it does: start, next cue, or a cue of the operator's by name, such as cue 4."""
    debounce: Duration = Duration.of(Fraction(20, 1000))
    """How long the contact must stay as it is before the change counts."""

    @property
    def edges(self) -> tuple[str, ...]:
        return ("closing", "opening") if self.edge == "both" else (self.edge,)

    @model_validator(mode="after")
    def _short_enough(self) -> ContactTrigger:
        if self.debounce.base > LONGEST_DEBOUNCE.base:
            raise refuse(
                f"a debounce time of {self.debounce} is out of range",
                f"write 0 ms to {LONGEST_DEBOUNCE}, such as 20 ms",
            )
        return self


class Signal(Model):
    """A line that tells the floor that the take runs, so that a rig can be started with it."""

    line: LineOut
    """The output of the serial port that is raised with the first packet: RTS or DTR."""
    lasts: Duration | None = None
    """How long it stays raised; left out, until the take ends."""


class _OneOrSeveral:
    """Reads one trigger as a list of one, and lets each edge of a line do one thing only."""

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        read = core_schema.no_info_after_validator_function(_each_edge_once, handler(source))
        return core_schema.no_info_before_validator_function(_as_list, read)

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: Any) -> JsonSchema:
        several = handler(schema)
        return {"anyOf": [several["items"], several]}


def _as_list(value: Any) -> Any:
    if isinstance(value, dict):
        return [value]
    if not isinstance(value, list):
        raise refuse("a trigger is a contact and what it does", "write 'trigger: {line: CTS, does: start}'")
    return value


def _each_edge_once(triggers: list[ContactTrigger]) -> list[ContactTrigger]:
    seen: set[tuple[str, str]] = set()
    for one in triggers:
        edges = {(one.line, edge) for edge in one.edges}
        if seen & edges:
            raise refuse(f"{one.line} has two triggers for one edge", "let each edge of a line do one thing")
        seen |= edges
    return triggers


ContactTriggers = Annotated[list[ContactTrigger], Field(max_length=MOST_TRIGGERS), _OneOrSeveral]


def _speed(text: str) -> Length | Angle:
    way, slash, second = text.rpartition("/")
    try:
        speed = parse_position(way) if slash and second.strip() == "s" else None
    except UnitError as error:
        raise UnitError(f"'{shorten(text)}' is no speed of an axis", SPEED_CURE) from error
    if speed is None or speed.base <= 0:
        raise UnitError(f"'{shorten(text)}' is no speed of an axis", SPEED_CURE)
    return speed


TopSpeed = Annotated[
    Length | Angle,
    text_reader(_speed, "a speed", "300 mm/s or 60 deg/s", rf"(?:{Length.pattern()}|{Angle.pattern()})\s*/\s*s\s*"),
    PlainSerializer(lambda speed: f"{speed}/s", return_type=str),
]
"""How far an axis goes in a second."""


def _address(text: str) -> str:
    try:
        return str(ipaddress.IPv4Address(text.strip()))
    except ValueError as error:
        raise UnitError(f"'{shorten(text)}' is no IPv4 address", "write one such as 192.168.1.20") from error


def _port(text: str) -> int:
    if not re.fullmatch(r"\d{1,5}", text, re.ASCII) or not 1 <= int(text) <= 65535:
        raise UnitError(f"'{shorten(text)}' is no UDP port", f"write a number from 1 to 65535, such as {OSC_PORT}")
    return int(text)


_ADDRESS = text_reader(_address, "an address", "192.168.1.20", r"\d{1,3}(?:\.\d{1,3}){3}")
_PORT = text_reader(_port, "a port", str(OSC_PORT), r"\d{1,5}", NUMBER, minimum=1, maximum=65535)
Address4 = Annotated[str, _ADDRESS]


class OscListening(Model):
    """Where OSC messages are listened for, and from whom they are taken."""

    bind: Address4 = LOOPBACK
    """The address of this computer that is listened on; 127.0.0.1 hears this computer alone."""
    port: Annotated[int, _PORT] = OSC_PORT
    """The UDP port."""
    allow: Annotated[list[Address4], Field(max_length=64)] = [LOOPBACK]
    """The addresses of the senders whose messages count; all others are ignored."""

    @model_validator(mode="after")
    def _names_its_senders(self) -> OscListening:
        if not ipaddress.IPv4Address(self.bind).is_loopback and "allow" not in self.model_fields_set:
            raise refuse(
                f"OSC on {self.bind} would hear the network, and nobody is allowed to send",
                "add 'allow: [192.168.1.20]' with the addresses of the senders",
            )
        return self
