"""The camera, as the show file says it: its rates, its exposure and where it stands."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Annotated, Any

from pydantic import Field, GetCoreSchemaHandler, ValidationInfo, model_validator
from pydantic_core import CoreSchema, core_schema

from cuedeck.show.frame_rates import TimecodeRate
from cuedeck.show.schema_parts import JsonSchema, key_condition, value_schema, whole_text
from cuedeck.show.units import FRAMES, FRAMES_PATTERN, Duration, UnitError, plain
from cuedeck.show.values import (
    FNumber,
    FrameRate,
    MayBeEmpty,
    Model,
    Place3D,
    StopsBetween,
    TimecodeRateText,
    WholeNumber,
    refuse,
)


class Holds(Model):
    """How far from the exposure the camera still holds detail."""

    below: StopsBetween | None = None
    """Stops under the exposure at which the shadows sink."""
    above: StopsBetween | None = None
    """Stops over the exposure at which the highlights clip."""


class Camera(Model):
    """The camera and where it stands."""

    frame_rate: Annotated[FrameRate, Field(alias="fps")] = Fraction(25)
    """Frames a second, as they are played and counted; 23.976 means 24000/1001."""
    play_fps: Annotated[FrameRate | None, Field(alias="play fps")] = None
    """The same as fps, for those who write it beside 'shoot fps'."""
    shoot_fps: Annotated[FrameRate | None, Field(alias="shoot fps")] = None
    """Frames a second that the camera takes on set, where they are played at another rate."""
    timecode: TimecodeRateText | None = None
    """How its timecode counts, such as 29.97df; left out, as fps does, without drop-frame."""
    shutter: Duration | None = None
    """Exposure time of one frame, such as 1/50 s."""
    iso: WholeNumber | None = None
    """Sensitivity as ISO index."""
    stop: FNumber | None = None
    """The lens stop, such as f/32."""
    holds: Annotated[Holds | None, MayBeEmpty] = None
    """What range of light the camera holds."""
    at: Place3D = (0.0, -1.6, 0.4)
    """Where the camera stands, in metres from the product."""

    @model_validator(mode="after")
    def _one_rate(self) -> Camera:
        if self.play_fps is not None and "frame_rate" in self.model_fields_set:
            raise refuse("'fps' and 'play fps' say the same thing", "keep one of them")
        return self

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: Any, handler: Any) -> JsonSchema:
        schema = handler.resolve_ref_schema(handler(core_schema))
        return {**schema, "not": {"allOf": [{"required": ["fps"]}, key_condition("play fps")]}}

    @property
    def fps(self) -> Fraction:
        """Frames a second, as they are played and counted."""
        return self.play_fps or self.frame_rate

    @property
    def has_rate(self) -> bool:
        """Whether the show says how fast frames are counted, or leaves it at 25."""
        return "frame_rate" in self.model_fields_set or self.play_fps is not None or self.timecode is not None

    @property
    def fps_on_set(self) -> Fraction:
        """Frames that the camera takes in a second on set."""
        return self.shoot_fps or self.fps

    @property
    def timecode_rate(self) -> TimecodeRate:
        return self.timecode or TimecodeRate.counting(self.fps)

    def screen_s(self, set_s: Fraction) -> Fraction:
        """Return how many seconds of the screen a time on set becomes."""
        return set_s * self.fps_on_set / self.fps


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
