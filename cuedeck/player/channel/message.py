"""What every message between player and clients has in common, and how much of anything one may hold.

The invariant owned here: every field of a message is of its type and in its bounds, or BadMessage is raised.
Nothing else is ever raised, whatever the bytes of a line are, and nothing in a message is run. What a client says is
refused where it is too long. What the player says is cut instead: words must not stop it.

The types are checked here and by no library, because a client that says one word would spend its time on loading that.
"""

from __future__ import annotations

import base64
import json
import zlib
from collections.abc import Callable, Mapping
from functools import cache, reduce
from types import UnionType
from typing import (
    Annotated,
    Any,
    ClassVar,
    Self,
    TypeVar,
    Union,
    dataclass_transform,
    get_args,
    get_origin,
    get_type_hints,
)

from cuedeck.errors import Refusal

LONGEST_EVENT = 16 * 1024 * 1024
"""Bytes of a line of the player's, with the new line at its end."""
MOST_UNIVERSES = 1_500
MOST_OUTPUTS = 64
MOST_FIRED = 20_000
MOST_TOLD = 1_000
LONGEST_WORDS = 2_000
LARGEST = 2**53 - 1
"""The largest whole number that every reader of JSON keeps exactly."""

NOTHING: dict[Any, Any] = {}
"""What a field of names and values holds where nothing is said; every message has its own."""
Check = Callable[[Any], Any]
"""Returns a value as a message holds it. Raises BadMessage."""


class BadMessage(Refusal):
    """What came over the channel, or was to go over it, is no message."""

    def __init__(self, what: str, place: str = "") -> None:
        super().__init__(f"{place}: {what}" if place else what)
        self._what, self._place = what, place

    def inside(self, name: str) -> BadMessage:
        """Return the same of a field, or of a place in it."""
        return BadMessage(self._what, f"{name[:100]}.{self._place}" if self._place else name[:100])


@dataclass_transform(kw_only_default=True, frozen_default=True)
class Message:
    """A message: one JSON object on a line. Unknown keys are errors, values are not converted.

    It is a frozen dataclass without that library, which would take longer to make the kinds than a client has to say.
    """

    KIND: ClassVar = ""
    """The key that says what kind of message it is; first in a line, so that its length is judged before it is read."""

    def __init__(self, /, **values: Any) -> None:
        own = vars(self)
        for name, check in _checks(type(self)).items():
            value = values.pop(name) if name in values else getattr(type(self), name, _MISSING)
            own[name] = _at(name, check, value)
        for name in values:
            raise BadMessage("there is no such field").inside(name)
        self.check_whole()

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"a message does not change: {name}")

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and vars(self) == vars(other)

    def __hash__(self) -> int:
        return hash(tuple(vars(self).values()))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(f'{name}={value!r}' for name, value in vars(self).items())})"

    def check_whole(self) -> None:
        """Check what no field shows by itself. Raises BadMessage."""

    def changed(self, **values: Any) -> Self:
        """Return the message with other values in some fields. Raises BadMessage."""
        return type(self)(**{**vars(self), **values})

    def to_line(self) -> bytes:
        """Return the message as it goes over the channel, with the new line at its end."""
        return _TO_JSON.encode({self.KIND: getattr(self, self.KIND), **vars(self)}).encode() + b"\n"


M = TypeVar("M", bound=Message)


def message_in(line: bytes, kinds: Mapping[str, type[M]], longest: int) -> M:
    """Return the message in a line, which is one of some kinds by their names. Raises BadMessage."""
    if len(line) > longest:
        raise BadMessage(f"a message of {len(line)} bytes is too long; {longest} is the most")
    try:
        values = _FROM_JSON.decode(line.decode())
    except (ValueError, RecursionError) as error:
        raise BadMessage(f"this is no message: {str(error)[:200]}") from error
    key = next(iter(kinds.values())).KIND
    name = values.pop(key, None) if isinstance(values, dict) else None
    kind = kinds.get(name) if isinstance(name, str) else None
    if kind is None:
        raise BadMessage(f"this is no message: '{str(name)[:40]}' is no {key} that is known")
    try:
        return kind(**values)
    except BadMessage as bad:
        raise bad.inside(str(name)) from None


def unpacked_bytes(packed: bytes, most: int) -> bytes:
    """Return what `zlib` has packed; no more than so much of it is ever made. Raises ValueError."""
    reader = zlib.decompressobj()
    try:
        whole = reader.decompress(packed, most)
    except zlib.error as error:
        raise ValueError("these are no packed bytes") from error
    if not reader.eof:
        raise ValueError("these are no packed bytes, or too many")
    return whole


def _as_json(value: Any) -> Any:
    return base64.b64encode(value).decode() if isinstance(value, bytes) else vars(value)


def _no_number(name: str) -> Any:
    raise ValueError(f"{name} is no number")


_TO_JSON = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":"), default=_as_json)
# Python's own reading would take NaN and Infinity, which JSON does not know.
_FROM_JSON = json.JSONDecoder(parse_constant=_no_number)


# Types.


_MISSING = object()


def _checks_of(kind: Any) -> dict[str, Check]:
    hints = get_type_hints(kind, include_extras=True)
    return {name: _check_of(hint) for name, hint in hints.items() if ClassVar not in (hint, get_origin(hint))}


_checks: Callable[[Any], dict[str, Check]] = cache(_checks_of)
"""What checks each field. Made with the first message of a kind: a client that says one word needs few of them."""


def _check_of(hint: Any) -> Check:
    """Return what checks a value of a type. What an Annotated type names is asked in turn, for a number alone."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Annotated:
        own, *others = inner[1:] if inner[0] in (int, float) else (_check_of(inner[0]), *inner[1:])
        check: Check = reduce(_then, others, own)
        return check
    if origin in (Union, UnionType):
        check = _check_of(inner[0])
        return lambda value: None if value is None else check(value)
    if origin is dict:
        key, value_of = map(_check_of, inner)
        return _then(_a(dict), lambda found: {key(name): _at(name, value_of, found[name]) for name in found})
    if origin is tuple and inner[1] is ...:
        each = _check_of(inner[0])
        return _then(_a(list, tuple), lambda row: _row(row, each))
    if origin is tuple:
        parts = [_check_of(one) for one in inner]
        return _then(_a(list, tuple), lambda row: _parts(row, parts))
    if issubclass(hint, Message):
        return lambda value: value if isinstance(value, hint) else hint(**_a(dict)(value))
    return _bytes_of if hint is bytes else _a(hint)


def _at(name: str, check: Check, value: Any) -> Any:
    try:
        return check(value)
    except BadMessage as bad:
        raise bad.inside(name) from None


def _then(one: Check, other: Check) -> Check:
    return lambda value: other(one(value))


def _a(*kinds: type) -> Check:
    def check(value: Any) -> Any:
        if not isinstance(value, kinds):
            raise BadMessage(f"{' or '.join(kind.__name__ for kind in kinds)} is needed")
        return value

    return check


def _row(row: Any, each: Check) -> tuple[Any, ...]:
    try:
        return tuple(map(each, row))
    except BadMessage:  # once more, to say where
        return tuple(_at(str(n), each, one) for n, one in enumerate(row))


def _parts(row: Any, checks: list[Check]) -> tuple[Any, ...]:
    if len(row) != len(checks):
        raise BadMessage(f"{len(checks)} parts are needed")
    return tuple(_at(str(n), check, one) for n, (check, one) in enumerate(zip(checks, row, strict=True)))


def _bytes_of(value: Any) -> bytes:
    """Return bytes, which are base64 in JSON, in either alphabet."""
    if isinstance(value, bytes):
        return value
    try:
        return base64.b64decode(_a(str)(value).replace("-", "+").replace("_", "/"), validate=True)
    except ValueError:
        raise BadMessage("this is no base64") from None


# Bounds.


def most(count: int) -> Check:
    """Return what refuses more than so many characters, bytes or things in a row, and what is no text."""

    def check(value: Any) -> Any:
        if len(value) > count:
            raise BadMessage(f"{count} is the most, and this has {len(value)}")
        if isinstance(value, str) and not value.isascii() and value.encode(errors="replace").decode() != value:
            raise BadMessage("this is no text")  # half a character, as the name of a file may hold
        return value

    return check


def between(least: float, largest: float, *kinds: type) -> Check:
    """Return what refuses all but a number in these bounds: a whole one, where no other kinds are named."""
    kinds = kinds or (int,)

    def check(value: Any) -> Any:
        is_number = isinstance(value, kinds) and value is not True and value is not False
        if not is_number or not least <= value <= largest:
            raise BadMessage(f"a number from {least:g} to {largest:g} is needed")
        return value

    return check


def first(count: int) -> Check:
    """Return what cuts a row to the first of its things."""
    return lambda row: row[:count]


def _cut(words: str) -> str:
    whole = words if words.isascii() else words.encode(errors="replace").decode()
    return whole if len(whole) <= LONGEST_WORDS else whole[: LONGEST_WORDS - 1] + "…"


Name = Annotated[str, most(200)]
"""Of a shot or a cue."""
Argument = Annotated[str, most(4096)]
"""What a user wrote behind an option; it may hold the path of a file."""
Arguments = Annotated[tuple[Argument, ...], most(MOST_OUTPUTS)]
Universe = Annotated[int, between(1, 63_999)]
Universes = Annotated[tuple[Universe, ...], most(MOST_UNIVERSES)]
Whole = Annotated[int, between(-LARGEST, LARGEST)]
Count = Annotated[int, between(0, LARGEST)]
Number = Annotated[float, between(-1e15, 1e15, int, float)]
Words = Annotated[str, _cut]
"""Of the player's, cut where they are too long."""
