"""A take as the log knows it: how it ended, how late its packets were, and what the person on set thought of it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

import numpy as np

from cuedeck.takes.carried import Run, read_runs
from cuedeck.timeline.plan import FiredCue


class Status(StrEnum):
    """How a take ended."""

    ROLLING = "rolling"
    """It runs, or its program was killed."""
    COMPLETE = "complete"
    """Every packet went out on every output."""
    INCOMPLETE = "incomplete"
    """It ran to its end, and is not the whole shot: its reason says why."""
    CUT = "cut"
    """It was stopped before its end."""
    LOST = "lost"
    """Its program was killed; what it had written until then is kept."""


class Mark(StrEnum):
    """What the person on set thought of a take."""

    NONE = ""
    CIRCLED = "circled"
    """Good: to be used."""
    REJECTED = "rejected"
    """Not to be used."""


@dataclass(frozen=True)
class Lateness:
    """How late packets left, in milliseconds."""

    median_ms: float
    p99_ms: float
    worst_ms: float

    @classmethod
    def of(cls, late_ns: Sequence[int]) -> Lateness:
        """Return the figures of a list of nanoseconds; zeros where it is empty."""
        if not late_ns:
            return cls(0.0, 0.0, 0.0)
        median, p99, worst = (float(value) for value in np.percentile(np.array(late_ns) / 1e6, [50, 99, 100]))
        return cls(median, p99, worst)

    def __str__(self) -> str:
        return f"median {self.median_ms:.3f} ms, p99 {self.p99_ms:.3f} ms, worst {self.worst_ms:.3f} ms"


@dataclass(frozen=True)
class Take:
    """One take as the store knows it."""

    id: int
    shot: str
    number: int
    started_utc: str
    refresh_hz: Fraction
    universes: tuple[int, ...]
    packets_due: int
    packets_sent: int
    outputs: tuple[str, ...]
    fired: tuple[FiredCue, ...]
    status: Status
    sha256: str
    lateness: Lateness | None
    chase: str
    """The source of the timecode that it followed, or nothing."""
    carried: tuple[Run, ...]
    """Which packets of the shot the sent ones were, where it followed timecode."""
    speed: Fraction = Fraction(1)
    """How many times as fast as it is written the shot ran."""
    axes_live: bool = False
    """Whether the cues tied to positions were fired by the rig itself, and not by the move on file."""
    mark: Mark = Mark.NONE
    """What the person on set thought of it."""
    note: str = ""
    """What the person on set wrote to it."""
    reason: str = ""
    """Why it is not the whole shot; empty where it is, or where it was only cut."""

    @property
    def slate(self) -> str:
        """What the clapper says: shot and letter."""
        return slate(self.shot, self.number)


def slate(shot: str, number: int) -> str:
    """Return the slate of the n-th take of a shot, counted from 1: 1-A, ... 1-Z, 1-AA."""
    letters = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return f"{shot}-{letters}"


def take_of(row: Sequence[str]) -> Take:
    """Return the take of a row of the log."""
    lateness = json.loads(row[12]) if row[12] else None
    return Take(
        id=int(row[0]),
        shot=row[1],
        number=int(row[2]),
        started_utc=row[3],
        refresh_hz=Fraction(row[4]),
        universes=tuple(json.loads(row[5])),
        packets_due=int(row[6]),
        packets_sent=int(row[7]),
        outputs=tuple(json.loads(row[8])),
        fired=tuple(FiredCue(cue, packet) for cue, packet in json.loads(row[9])),
        status=Status(row[10]),
        sha256=row[11],
        lateness=Lateness(*lateness) if lateness else None,
        chase=row[13],
        carried=read_runs(row[14]),
        speed=Fraction(row[15]),
        axes_live=bool(row[16]),
        mark=Mark(row[17]),
        note=row[18],
        reason=row[19],
    )
