"""A take as the log knows it: how it ended, how late its packets were, and what the person on set thought of it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Any

import numpy as np

from cuedeck.takes.carried import Run, read_runs
from cuedeck.timeline.fired import FiredCue

MOST_TAKES = 1_000_000
MOST_PACKETS = 20_000_000
"""Of a take: five days at 44 Hz. What says more is no take."""
_LONGEST_TEXT = 20_000
_LONGEST_RUNS = 60_000_000
_MOST_UNIVERSES = 1_500
_FRACTION = re.compile(r"\d{1,12}(/\d{1,12})?")


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
    BROKEN = "broken"
    """Its program was killed, or its log damaged; what it had written until then is kept."""

    @classmethod
    def _missing_(cls, value: object) -> Status | None:
        return cls.BROKEN if value == "lost" else None  # the word for it in logs of earlier versions


class TakeMark(StrEnum):
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
    mark: TakeMark = TakeMark.NONE
    """What the person on set thought of it."""
    note: str = ""
    """What the person on set wrote to it."""
    reason: str = ""
    """Why it is not the whole shot; empty where it is, or where it was only cut."""
    key: str = ""
    """What it is known by in every file that holds a part of it; empty in those of an older cuedeck."""
    log: str = ""
    """What was wrong with the log while it ran, and which packets of it are not kept."""
    slots_sent: int = 0
    """Slots of each universe that were sent."""

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


@dataclass(frozen=True)
class DamagedTake:
    """A take of which the row cannot be read."""

    id: int
    name: str
    """Its slate, where that can be read, or the number of its row."""
    reason: str
    row: tuple[object, ...] = ()
    """What was read of it; nothing where that is nothing."""


COLUMNS = (
    "id, shot, number, started_utc, refresh, universes, slots_sent, packets_due, packets_sent, outputs, fired, status,"
    " sha256, lateness_ms"
)
COLUMNS_SINCE = ((2, "chase, carried", "'', ''"), (3, "speed, axes_live", "'1', 0"), (5, "mark, note", "'', ''"),
                 (6, "key, log, reason", "'', '', ''"))  # fmt: skip
"""From which version on there are more columns, and what stands for them before."""


def row_of(take: Take) -> tuple[object, ...]:
    """Return the values of the columns of a take, from the shot on."""
    late = take.lateness
    return (
        take.shot,
        take.number,
        take.started_utc,
        str(take.refresh_hz),
        json.dumps(take.universes),
        take.slots_sent,
        take.packets_due,
        take.packets_sent,
        json.dumps(take.outputs),
        json.dumps([[one.cue, one.packet] for one in take.fired]),
        take.status.value,
        take.sha256,
        "" if late is None else json.dumps([late.median_ms, late.p99_ms, late.worst_ms]),
        take.chase,
        json.dumps(take.carried, separators=(",", ":")) if take.carried else "",
        str(take.speed),
        take.axes_live,
        take.mark.value,
        take.note,
        take.key,
        take.log,
        take.reason,
    )


def take_of(row: Sequence[object]) -> Take:
    """Return the take of a row of the log, which may hold anything. Raises ValueError, which says what is wrong."""
    take, problems = salvaged(row)
    if problems:
        raise ValueError("; ".join(problems.values()))
    return take


def salvaged(row: Sequence[object]) -> tuple[Take, dict[str, str]]:
    """Return what can be read of a row, with what stands for the rest, and what is wrong by the names of fields."""
    values: dict[str, Any] = {}
    problems: dict[str, str] = {}
    for (name, (read, instead)), value in zip(_FIELDS.items(), row, strict=True):
        try:
            values[name] = read(value)
        except (ValueError, TypeError, RecursionError) as error:
            what = str(error) if type(error) is ValueError else "cannot be read"
            values[name], problems[name] = instead, f"{_NAMES.get(name, name)} {what}"
    return Take(**values), problems


def _text(value: object, longest: int = _LONGEST_TEXT) -> str:
    if not isinstance(value, str) or len(value) > longest or "\0" in value or "\ufffd" in value:
        raise ValueError("is no text")
    return value


def _whole(most: int) -> Callable[[object], int]:
    def read(value: object) -> int:
        if type(value) is not int or not 0 <= value <= most:
            raise ValueError(f"is no number from 0 to {most}")
        return value

    return read


def _matching(pattern: str) -> Callable[[object], str]:
    def read(value: object) -> str:
        if not re.fullmatch(pattern, _text(value)):
            raise ValueError("is not written as it should be")
        return str(value)

    return read


def _fraction(value: object) -> Fraction:
    text = _text(value)
    fraction = Fraction(text) if _FRACTION.fullmatch(text) and not re.search("/0+$", text) else Fraction(0)
    if not Fraction(1, 10**6) <= fraction <= 10**6:
        raise ValueError("is no fraction")
    return fraction


def _list_of(*kinds: type, value: object) -> list[Any]:
    data = json.loads(_text(value))
    if not isinstance(data, list) or not all(type(one) in kinds for one in data):
        raise ValueError("is no such list")
    return data


def _universes(value: object) -> tuple[int, ...]:
    data = _list_of(int, value=value)
    if not 0 < len(data) <= _MOST_UNIVERSES or not all(0 < one < 64_000 for one in data):
        raise ValueError("are none that there are")
    return tuple(data)


def _fired(value: object) -> tuple[FiredCue, ...]:
    data = _list_of(list, value=value)
    if not all(len(one) == 2 and type(one[1]) is int and 0 <= one[1] <= MOST_PACKETS for one in data):
        raise ValueError("are no cues with packets")
    return tuple(FiredCue(_text(cue), packet) for cue, packet in data)


def _lateness(value: object) -> Lateness | None:
    if value == "":
        return None
    data = _list_of(float, int, value=value)
    if len(data) != 3 or not all(abs(one) < 1e12 for one in data):
        raise ValueError("is not three figures")
    return Lateness(*map(float, data))


_FIELDS: dict[str, tuple[Callable[[object], Any], Any]] = {
    "id": (_whole(2**53), 0),
    "shot": (_text, "?"),
    "number": (_whole(MOST_TAKES), 0),
    "started_utc": (_matching(r"\d{4}-\d\d-\d\dT[\d:.+]{5,40}"), "1970-01-01T00:00:00+00:00"),
    "refresh_hz": (_fraction, Fraction(1)),
    "universes": (_universes, (1,)),
    "slots_sent": (_whole(512), 512),
    "packets_due": (_whole(MOST_PACKETS), 0),
    "packets_sent": (_whole(MOST_PACKETS), 0),
    "outputs": (lambda value: tuple(map(_text, _list_of(str, value=value))), ()),
    "fired": (_fired, ()),
    "status": (lambda value: Status(_text(value)), Status.BROKEN),
    "sha256": (_matching("([0-9a-f]{64})?"), ""),
    "lateness": (_lateness, None),
    "chase": (_text, ""),
    "carried": (lambda value: read_runs(_text(value, _LONGEST_RUNS), MOST_PACKETS), ()),
    "speed": (_fraction, Fraction(1)),
    "axes_live": (lambda value: bool(_whole(1)(value)), False),
    "mark": (lambda value: TakeMark(_text(value)), TakeMark.NONE),
    "note": (_text, ""),
    "key": (_matching("([0-9a-f]{32})?"), ""),
    "log": (_text, ""),
    "reason": (_text, ""),
}
"""How each column is read, in their order, and what stands for it where it cannot be read."""
_NAMES = {
    "id": "its number in the log",
    "number": "its letter",
    "started_utc": "when it started",
    "carried": "the list of packets that it sent",
}
