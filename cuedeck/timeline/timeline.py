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
from itertools import pairwise, takewhile
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from cuedeck.arrays import Index, Mask, Numbers, Slots, Values
from cuedeck.light.curves import CURVES
from cuedeck.rig.patch import Patch
from cuedeck.show.units import FULL_UNIVERSE
from cuedeck.timeline.groups import groups_of
from cuedeck.timeline.paths import Path

if TYPE_CHECKING:
    from cuedeck.show.model import Cue


BLOCK_PACKETS = 4096
"""Packets rendered at once where a run is longer than memory should hold."""
PACKETS_AHEAD, BYTES_AHEAD = 8, 96_000
"""Packets rendered at once while a take runs, and bytes in all of them: what is larger is asked of the system anew each
time, which may wait for a disk that another thread writes to; and a large rig must not be late for the next packet."""


def packet_times_s(packets: Sequence[int] | Numbers, refresh_hz: Fraction) -> Values:
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

    def only(self, kept: Mask) -> Fade:
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

    cue: Cue
    start_s: Fraction
    fade_s: Fraction
    first_packet: int
    """The first packet at or after its start, exactly."""
    target: Values | None = field(repr=False, compare=False)
    """What its look asks of each parameter."""

    @property
    def name(self) -> str:
        return self.cue.cue

    @property
    def look(self) -> str:
        return self.cue.look

    @cached_property
    def end_s(self) -> Fraction:
        return self.start_s + self.fade_s

    def is_same(self, other: StartedCue) -> bool:
        """Whether another one does the same to light at the same time."""
        return self is other or (self.target is other.target and self == other)

    def span(self, before: Span, patch: Patch) -> Span:
        """Return the span that it begins: its fades start from what is on stage at that instant."""
        start_s = float(self.start_s)
        wanted = np.full(len(before.still), np.nan) if self.target is None else self.target
        moved = ~np.isnan(wanted)
        fades = [fade.only(~moved[fade.columns]) for fade in before.fades if fade.end_s > start_s]
        if self.fade_s:
            fades += self._fades(before.levels(np.array([start_s]))[0], wanted, patch)
        still = np.where(moved, wanted, before.still)
        return Span(self.start_s, still, tuple(fade for fade in fades if fade.columns.size))

    def _fades(self, on_stage: Values, wanted: Values, patch: Patch) -> Iterator[Fade]:
        curve = CURVES[self.cue.curve]
        travels = ~np.isnan(wanted)
        aims = np.where(travels, wanted, on_stage)
        for journey in groups_of(patch).journeys(on_stage, wanted, curve, self.cue.colour_path):
            columns, path = journey.columns, journey.path
            duration_s = self.fade_s * journey.share_of_fade
            yield Fade(
                columns,
                float(self.start_s),
                float(duration_s),
                float(self.start_s + duration_s),
                curve.shape.at,
                path,
                path.entry(on_stage[columns]),
                path.entry(aims[columns]),
            ).only(travels[columns])


class Timeline:
    """A compiled shot, with what the operator has fired so far.

    A span is compiled when it is first asked for, so a cue that is fired costs what it changes until the next one.
    """

    def __init__(
        self,
        patch: Patch,
        refresh_hz: Fraction,
        length_s: Fraction,
        cues: Sequence[StartedCue],
        like: Timeline | None = None,
    ) -> None:
        """Reuse the spans of a timeline that is `like` it, up to the first difference."""
        self.patch = patch
        self.refresh_hz = refresh_hz
        self.length_s = length_s
        self.cues = tuple(cues)
        """The cues that happen, in order."""
        self._left = {0: Span(Fraction(0), patch.defaults, ())}
        """The span before any cue and those that each of the first cues leaves, by how many cues there were.

        Two threads that compile at once put the same into it.
        """
        if like is not None and like.patch is patch:
            same = sum(1 for _ in takewhile(lambda pair: pair[0].is_same(pair[1]), zip(cues, like.cues, strict=False)))
            self._left = {count: like._left[count] for count in range(min(same + 1, len(like._left)))}

    def _span(self, cues: int) -> Span:
        for count in range(len(self._left), cues + 1):
            self._left[count] = self.cues[count - 1].span(self._left[count - 1], self.patch)
        return self._left[cues]

    def compiled(self) -> Timeline:
        """Compile all of it now, and return it: what is read then costs no more than reading."""
        self._span(len(self.cues))
        return self

    @cached_property
    def spans(self) -> tuple[Span, ...]:
        """The spans that last, all of them compiled: of those that start at one instant, the last."""
        left = [self._span(count) for count in range(len(self.cues) + 1)]
        return (*(span for span, later in pairwise(left) if later.exact_start_s > span.exact_start_s), left[-1])

    @cached_property
    def packet_count(self) -> int:
        """Packets from the start of the shot to the first at or after its end, that one included."""
        return ceil(self.length_s * self.refresh_hz) + 1

    @cached_property
    def _starts(self) -> Values:
        return np.array([0.0, *(float(cue.start_s) for cue in self.cues)])

    @cached_property
    def _first_packets(self) -> Numbers:
        return np.array([0, *(cue.first_packet for cue in self.cues)], dtype=np.int64)

    def times_s(self, packets: Sequence[int] | Numbers) -> Values:
        return packet_times_s(packets, self.refresh_hz)

    def levels(self, time_s: Values) -> Values:
        """Return the value 0 to 1 of every parameter at rising times; shape (times, parameters)."""
        return self._levels(np.searchsorted(self._starts, time_s, side="right") - 1, time_s)

    def _levels(self, span_of: Index, time_s: Values) -> Values:
        if len(time_s) and span_of[0] == span_of[-1]:
            return self._span(int(span_of[0])).levels(time_s)
        levels = np.empty((len(time_s), len(self.patch.parameters)))
        counts, first = np.unique(span_of, return_index=True)
        for count, start, end in zip(counts.tolist(), first, (*first[1:], len(time_s)), strict=False):
            levels[start:end] = self._span(count).levels(time_s[start:end])
        return levels

    def slots(self, packets: Sequence[int] | Numbers) -> Slots:
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
