"""What was fired in a take. Apart from plans, so that a list of takes loads no show."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FiredCue:
    """A cue that the operator or a live axis fired, and the packet it was fired at."""

    cue: str
    packet: int
