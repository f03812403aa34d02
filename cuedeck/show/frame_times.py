"""Times of a shot that are counted in frames: how long they are, the camera says."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from cuedeck.show.camera import Camera
from cuedeck.show.schema_parts import JsonSchema, value_schema, whole_text
from cuedeck.show.units import FRAMES, FRAMES_PATTERN, Duration, UnitError, plain
from cuedeck.show.values import refuse

_FRAME_S = "frame_s"
Context = dict[str, Fraction]
"""What a value must know of the rest of the show to be read."""


@dataclass(frozen=True, eq=False)
class Frames(Duration):
    """So many frames that the camera takes on set."""

    frame_s: Fraction = Fraction(1)

    @cached_property
    def base(self) -> Fraction:
        """The time in seconds on set."""
        return self.number * self.frame_s


def context_of(camera: Camera) -> Context:
    """Return what the times of a show must know of its camera."""
    return {_FRAME_S: 1 / camera.fps_on_set}


def parse_time_in_shot(text: str, context: Context) -> Duration:
    """Return the time that a text such as 2 s or 40 frames stands for. Raises UnitError."""
    match = FRAMES.fullmatch(plain(text))
    return Frames(Fraction(match[1]), "frames", context[_FRAME_S]).within_limits() if match else Duration.parse(text)


class _InShot:
    """Reads frames too, where the camera is known."""

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        def read(value: object, then: Any, info: ValidationInfo) -> object:
            if not isinstance(value, str) or info.context is None:
                return then(value)
            try:
                return parse_time_in_shot(value, info.context)
            except UnitError as error:
                raise refuse(error.what, error.cure) from error

        return core_schema.with_info_wrap_validator_function(read, handler(source))

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: Any) -> JsonSchema:
        return value_schema(
            Duration.KIND, f"{Duration.EXAMPLE} or 40 frames", whole_text(f"{Duration.pattern()}|{FRAMES_PATTERN}")
        )


TimeInShot = Annotated[Duration, _InShot]
