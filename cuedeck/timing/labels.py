"""Labels of the camera frames of a shot: timecode where the show has a rate for it, else the number of the frame.

Frames that are played at any rate can be counted; a timecode stands for a frame only at a rate of SMPTE ST 12-1.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from cuedeck.show.camera import Camera
from cuedeck.show.frame_rates import RATES, TimecodeRate
from cuedeck.show.model import Shot
from cuedeck.show.units import UnitError
from cuedeck.timing.timecode import Timecode


def frame_at(time_s: Fraction, fps: Fraction) -> int:
    """Return the number of the frame that a time falls into, the first frame being 0."""
    return int(time_s * fps // 1)


def frame_count(length_s: Fraction, fps: Fraction) -> int:
    """Return how many frames a shot of some length has; the instant at which it ends belongs to none."""
    return max(ceil(length_s * fps), 1)


@dataclass(frozen=True)
class ShotLabels:
    """How the frames of one shot are labelled."""

    rate: TimecodeRate
    start: str | None = None
    """The timecode of the first frame; None counts from 00:00:00:00."""
    has_timecode: bool = True
    """Whether the show says at which rate timecode counts, or where it starts; else none is made up."""

    @classmethod
    def of(cls, camera: Camera, shot: Shot) -> ShotLabels:
        has_rate = camera.has_rate or shot.starts_at is not None
        return cls(camera.timecode_rate, shot.starts_at, has_rate and camera.timecode_rate.is_standard)

    @property
    def first(self) -> Timecode:
        """The label of the first frame. Raises UnitError where the shot starts at none that the rate has."""
        if self.start is None:
            return Timecode(0, self.rate)
        self._require_standard(self.start)
        return Timecode.parse(self.start, self.rate)

    def label(self, frame: int) -> str:
        """Return what a frame is called, the first being 0: its timecode, else its number."""
        return self.timecode(frame) if self.has_timecode else f"frame {frame}"

    def timecode(self, frame: int) -> str:
        """Return the timecode of a frame, the first being 0; counted from 0 where the start is none."""
        try:
            return str(self.first + frame)
        except UnitError:
            return str(Timecode(frame, self.rate))

    def frame_of(self, label: str) -> int:
        """Return the frame that a label stands for, the first being 0. Raises UnitError.

        A label more than twelve hours on is taken for one before the start: a shot may pass midnight.
        """
        self._require_standard(label)
        first = self.first
        frame = Timecode.parse(label, self.rate).frames_since(first)
        if self.start is not None and frame > self.rate.frames_per_day // 2:
            raise UnitError(f"{label} is before the start of the shot, {first}", f"write {first} or a later timecode")
        return frame

    def _require_standard(self, label: str) -> None:
        if not self.rate.is_standard:
            raise UnitError(
                f"{label} stands for no frame: {self.rate} frames a second is no rate of timecode",
                f"count from the start of the shot, such as '50 frames', or film at one of {', '.join(RATES)}",
            )
