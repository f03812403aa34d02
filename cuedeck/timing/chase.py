"""Labels as they arrive from outside, whatever carried them."""

from __future__ import annotations

from dataclasses import dataclass

from cuedeck.timing.timecode import Timecode


@dataclass(frozen=True)
class Arrival:
    """A label, and when the frame that it stands on begins."""

    at_s: float
    """When the start of the labelled frame passed, in either direction, on the clock of the reader."""
    label: Timecode
    is_reverse: bool = False
