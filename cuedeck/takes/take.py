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
from cuedeck.timeline.plan import FiredCue

MOST_TAKES = 1_000_000
MOST_PACKETS = 20_000_000
"""Of a take: five days at 44 Hz. What says more is no take."""
_LONGEST_TEXT = 20_000
LONGEST_RUNS = 60_000_000
_MOST_UNIVERSES = 1_500
_FRACTION = re.compile(r"\d{1,12}(/\d{1,12})?")


class Status(StrEnum):
    """How a take ended."""

    ROLLING = "rolling"
    """It runs, or its program was killed."""
    COMPLETE = "complete"
    """Every packet went out on every output."""
    INCOMPLETE = "incomplete"
    """It ran to its end, and packets were missed or an output was lost."""
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


COLUMNS = (
    "id, shot, number, started_utc, refresh, universes, slots_sent, packets_due, packets_sent, outputs, fired, status,"
    " sha256, lateness_ms"
)
COLUMNS_SINCE = ((2, "chase, carried", "'', ''"), (3, "speed, axes_live", "'1', 0"), (5, "mark, note", "'', ''"),
                 (6, "key, log", "'', ''"))  # fmt: skip
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
    )


def take_of(row: Sequence[object]) -> Take:
    """Return the take of a row of the log, which may hold anything. Raises ValueError, which says what is wrong."""
    try:
        return _take_of(row)
    except RecursionError as error:
        raise ValueError("it holds lists in lists without end") from error


def _take_of(row: Sequence[object]) -> Take:
    late = _read(row[13], "its lateness", _is_lateness)
    fired = _read(row[10], "its fired cues", lambda data: all(_is_fired(*one) for one in data))
    return Take(
        id=_whole(row[0], "its number in the log", 2**53),
        shot=_text(row[1], "its shot"),
        number=_whole(row[2], "its number", MOST_TAKES),
        started_utc=_matching(row[3], "when it started", r"\d{4}-\d\d-\d\dT[\d:.+]{5,40}"),
        refresh_hz=_fraction(row[4], "its refresh"),
        universes=tuple(_read(row[5], "its universes", _are_universes)),
        slots_sent=_whole(row[6], "its slots", 512),
        packets_due=_whole(row[7], "how many packets were due", MOST_PACKETS),
        packets_sent=_whole(row[8], "how many packets were sent", MOST_PACKETS),
        outputs=tuple(_read(row[9], "its outputs", lambda data: _are(data, str))),
        fired=tuple(FiredCue(cue, packet) for cue, packet in fired),
        status=Status(_one_of(row[11], "its status", Status)),
        sha256=_matching(row[12], "its digest", r"([0-9a-f]{64})?"),
        lateness=Lateness(*(float(one) for one in late)) if late else None,
        chase=_text(row[14], "its timecode"),
        carried=read_runs(_text(row[15], "which packets of the shot it sent", longest=LONGEST_RUNS), MOST_PACKETS),
        speed=_fraction(row[16], "its speed"),
        axes_live=bool(_whole(row[17], "whether its axes were live", 1)),
        mark=Mark(_one_of(row[18], "its mark", Mark)),
        note=_text(row[19], "its note"),
        key=_matching(row[20], "its key", r"([0-9a-f]{32})?"),
        log=_text(row[21], "what was said of its log"),
    )


def _text(value: object, name: str, longest: int = _LONGEST_TEXT) -> str:
    if not isinstance(value, str) or len(value) > longest or "\0" in value or "\ufffd" in value:
        raise ValueError(f"{name} is no text")
    return value


def _whole(value: object, name: str, most: int) -> int:
    if type(value) is not int or not 0 <= value <= most:
        raise ValueError(f"{name} is no number from 0 to {most}")
    return value


def _matching(value: object, name: str, pattern: str) -> str:
    if not re.fullmatch(pattern, _text(value, name)):
        raise ValueError(f"{name} is not written as it should be")
    return str(value)


def _one_of(value: object, name: str, kinds: type[StrEnum]) -> str:
    if value not in list(kinds):
        raise ValueError(f"{name} is none that there is")
    return str(value)


def _fraction(value: object, name: str) -> Fraction:
    text = _text(value, name)
    fraction = Fraction(text) if _FRACTION.fullmatch(text) and not text.endswith("/0") else Fraction(0)
    if not Fraction(1, 10**6) <= fraction <= 10**6:
        raise ValueError(f"{name} is no fraction")
    return fraction


def _read(value: object, name: str, is_right: Callable[[Any], bool]) -> Any:
    """Return the data of a text in JSON; None for an empty one."""
    if not isinstance(value, str):
        raise ValueError(f"{name} is no text")
    try:
        data = json.loads(value) if value else None
        is_as_it_should = is_right(data)
    except (ValueError, TypeError) as error:
        raise ValueError(f"{name} cannot be read") from error
    if not is_as_it_should:
        raise ValueError(f"{name} is not as it should be")
    return data


def _are(data: object, *kinds: type) -> bool:
    return isinstance(data, list) and all(type(one) in kinds for one in data)


def _are_universes(data: Any) -> bool:
    return _are(data, int) and 0 < len(data) <= _MOST_UNIVERSES and all(0 < one < 64_000 for one in data)


def _is_lateness(data: Any) -> bool:
    return data is None or (_are(data, float, int) and len(data) == 3 and all(abs(one) < 1e12 for one in data))


def _is_fired(cue: object, packet: object) -> bool:
    return type(cue) is str and "\0" not in cue and type(packet) is int and 0 <= packet <= MOST_PACKETS
