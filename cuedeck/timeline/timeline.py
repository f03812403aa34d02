"""The timeline: a pure function from time to levels, and from packet numbers to slots.

Packet n is for t = n / refresh, counted from the start of the take. Between two cue starts the set of
running fades does not change, so the timeline is a row of spans; in each, every parameter either stands
still or belongs to one fade. Evaluating one time and a whole run is the same computation.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from cuedeck.rig.patch import Patch
from cuedeck.show.slots import FULL_UNIVERSE
from cuedeck.timeline.paths import Path

if TYPE_CHECKING:
    from cuedeck.show.model import Cue

Values = npt.NDArray[np.float64]
Slots = npt.NDArray[np.uint8]
Index = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]

BLOCK_PACKETS = 4096
"""Packets rendered at once where a run is longer than memory should hold."""
PACKETS_AHEAD, BYTES_AHEAD = 8, 96_000
"""Packets rendered at once while a take runs, and bytes in all of them: what is larger is asked of the system anew each
time, which may wait for a disk that another thread writes to; and a large rig must not be late for the next packet."""


def packet_times_s(packets: Sequence[int] | npt.NDArray[np.int64], refresh_hz: Fraction) -> Values:
    """Return the time of each packet from the start of its take: its number over the refresh, the nearest double."""
    numbers = np.asarray(packets, dtype=np.int64) * refresh_hz.denominator
    return np.asarray(numbers / refresh_hz.numerator, dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Fade:
    """Some parameters on their way, along one path."""

    columns: Index
    start_s: float
    duration_s: float
    end_s: float
    shape: Callable[[Values], Values]
    path: Path
    origin: Values
    """Where each started, in the terms of the path; shape (columns,)."""
    aim: Values
    """Where each is going, in the terms of the path."""
    picked: Index | None = None
    """Which columns of the path are meant, where others have left it."""

    def values(self, time_s: Values) -> Values:
        """Return control values 0 to 1 at times from start to end; shape (times, columns)."""
        share = self.shape(np.clip((time_s - self.start_s) / self.duration_s, 0.0, 1.0))
        values = np.clip(self.path.at(self.origin, self.aim, share), 0.0, 1.0)
        return values if self.picked is None else values[:, self.picked]

    def kept(self, kept: Mask) -> Fade:
        """Return the fade of those columns alone that a mask keeps."""
        if kept.all():
            return self
        if self.path.is_each_alone:
            return replace(self, columns=self.columns[kept], origin=self.origin[kept], aim=self.aim[kept])
        picked = np.arange(len(self.origin)) if self.picked is None else self.picked
        return replace(self, columns=self.columns[kept], picked=picked[kept])


@dataclass(frozen=True, eq=False)
class Span:
    """From one cue start to the next: what stands still, and the fades that run."""

    exact_start_s: Fraction
    still: Values
    """The value of every parameter; those of running fades hold their targets."""
    fades: tuple[Fade, ...]

    @cached_property
    def start_s(self) -> float:
        """When it starts, to the nearest double."""
        return float(self.exact_start_s)

    def levels(self, time_s: Values) -> Values:
        """Return the levels at times in this span; shape (times, parameters)."""
        levels = np.empty((len(time_s), len(self.still)))
        levels[:] = self.still
        for fade in self.fades:
            running = int(np.searchsorted(time_s, fade.end_s))
            if running:
                levels[:running, fade.columns] = fade.values(time_s[:running])
        return levels


@dataclass(frozen=True)
class StartedCue:
    """A cue that happens, and when."""

    name: str
    look: str
    start_s: Fraction
    fade_s: Fraction

    @cached_property
    def end_s(self) -> Fraction:
        """When its fade has ended."""
        return self.start_s + self.fade_s


Happening = tuple[Fraction, Fraction, "Cue", Values | None]
"""A start and how long the fade lasts, the cue that starts then, and what its look asks of each parameter."""
MadeOf = tuple[Happening, ...]


@dataclass(frozen=True, eq=False)
class Timeline:
    """A compiled shot, with what the operator has fired so far."""

    patch: Patch
    refresh_hz: Fraction
    length_s: Fraction
    cues: tuple[StartedCue, ...]
    """The cues that happen, in order."""
    spans: tuple[Span, ...] = field(repr=False)
    made_of: MadeOf = field(default=(), repr=False)
    """What it was compiled from, so that a timeline that is much like it need not be compiled anew."""
    after_cues: tuple[Span, ...] = field(default=(), repr=False)
    """The span before any cue, and the one that each cue leaves."""

    @cached_property
    def packet_count(self) -> int:
        """Packets from the start of the shot to the first at or after its end, that one included."""
        return ceil(self.length_s * self.refresh_hz) + 1

    @cached_property
    def _starts(self) -> Values:
        return np.array([span.start_s for span in self.spans])

    @cached_property
    def _first_packets(self) -> npt.NDArray[np.int64]:
        """The number of the first packet at or after the start of each span, exactly."""
        return np.array([ceil(span.exact_start_s * self.refresh_hz) for span in self.spans], dtype=np.int64)

    def times_s(self, packets: Sequence[int] | npt.NDArray[np.int64]) -> Values:
        """Return the time of each packet."""
        return packet_times_s(packets, self.refresh_hz)

    def levels(self, time_s: Values) -> Values:
        """Return the value 0 to 1 of every parameter at rising times; shape (times, parameters)."""
        return self._levels(np.searchsorted(self._starts, time_s, side="right") - 1, time_s)

    def _levels(self, span_of: Index, time_s: Values) -> Values:
        if len(time_s) and span_of[0] == span_of[-1]:
            return self.spans[int(span_of[0])].levels(time_s)
        first = np.searchsorted(span_of, np.arange(len(self.spans) + 1))
        levels = np.empty((len(time_s), len(self.patch.parameters)))
        for span, start, end in zip(self.spans, first, first[1:], strict=False):
            if end > start:
                levels[start:end] = span.levels(time_s[start:end])
        return levels

    def slots(self, packets: Sequence[int] | npt.NDArray[np.int64]) -> Slots:
        """Return the slots of packets, their numbers rising; shape (packets, universes, 512).

        Which span a packet lies in is decided in whole numbers: two instants may share one double.
        """
        span_of = np.searchsorted(self._first_packets, np.asarray(packets, dtype=np.int64), side="right") - 1
        time_s = np.maximum(self.times_s(packets), self._starts[span_of])
        return self.patch.encode(self._levels(span_of, time_s))

    def blocks(self) -> Iterator[tuple[int, Slots]]:
        """Yield the slots of the whole shot in blocks, each with the number of its first packet."""
        for first in range(0, self.packet_count, BLOCK_PACKETS):
            yield first, self.slots(np.arange(first, min(first + BLOCK_PACKETS, self.packet_count)))


class RenderedAhead:
    """The packets of a take, a few of them rendered together: one alone costs half as much as eight."""

    def __init__(self) -> None:
        self._timeline: Timeline | None = None
        self._first = 0
        self._slots: Sequence[Slots] = ()

    def slots(self, timeline: Timeline, number: int) -> Slots:
        """Return the slots of a packet, shape (universes, 512). Another timeline, as after a cue was fired, counts."""
        place = number - self._first
        if timeline is not self._timeline or not 0 <= place < len(self._slots):
            patch = timeline.patch
            most_bytes = max(FULL_UNIVERSE * len(patch.universes), 8 * len(patch.parameters))
            count = min(max(BYTES_AHEAD // most_bytes, 1), PACKETS_AHEAD)
            self._timeline, self._first, place = timeline, number, 0
            self._slots = tuple(timeline.slots(range(number, number + count)))
        return self._slots[place]
