"""What every message between player and clients has in common, and how much of anything one may hold.

What a client says is refused where it is too long. What the player says is cut instead: words must not stop it.
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

LONGEST_REQUEST = 64 * 1024
"""Bytes of a line, with the new line at its end."""
LONGEST_SHOW = 1024 * 1024
"""Bytes of the line of a `show`, which carries slots."""
LONGEST_EVENT = 16 * 1024 * 1024
"""Bytes of a line of the player's."""
MOST_UNIVERSES = 1_500
MOST_OUTPUTS = 64
MOST_FIRED = 20_000
MOST_TOLD = 1_000
LONGEST_WORDS = 2_000
LARGEST = 2**53 - 1
"""The largest whole number that every reader of JSON keeps exactly."""


class Message(BaseModel):
    """A message: one JSON object on a line. Unknown keys are errors, values do not change and are not converted."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        ser_json_bytes="base64",
        val_json_bytes="base64",
        use_attribute_docstrings=True,
    )

    is_immediate: ClassVar[bool] = True

    def to_line(self) -> bytes:
        """Return the message as it goes over the channel, with the new line at its end."""
        return self.model_dump_json().encode() + b"\n"


def _cut(words: Any) -> Any:
    if not isinstance(words, str):
        return words
    whole = words.encode(errors="replace").decode()  # the name of a file may hold what is no text
    return whole if len(whole) <= LONGEST_WORDS else whole[: LONGEST_WORDS - 1] + "…"


def first(most: int) -> BeforeValidator:
    """Return what cuts a row of things to the first of them."""
    return BeforeValidator(lambda row: tuple(row[:most]) if isinstance(row, list | tuple) else row)


Name = Annotated[str, Field(max_length=200)]
"""Of a shot or a cue."""
Argument = Annotated[str, Field(max_length=4096)]
"""What a user wrote behind an option; it may hold the path of a file."""
Arguments = Annotated[tuple[Argument, ...], Field(max_length=MOST_OUTPUTS)]
Universe = Annotated[int, Field(ge=1, le=63_999)]
Universes = Annotated[tuple[Universe, ...], Field(max_length=MOST_UNIVERSES)]
Whole = Annotated[int, Field(ge=-LARGEST, le=LARGEST)]
Count = Annotated[int, Field(ge=0, le=LARGEST)]
Number = Annotated[float, Field(ge=-1e15, le=1e15)]
Words = Annotated[str, BeforeValidator(_cut)]
"""Of the player's, cut where they are too long."""
