"""The programmed travel: where each axis is at a time, and when it passes a position.

A move is read from what a rig recorded (uneven steps, noise) or from keys that are written out. Both are
positions at rising times, joined by a shape; nothing is smoothed, so that what is on file is what counts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice

import numpy as np

from cuedeck.arrays import Values
from cuedeck.light.curves import EASES
from cuedeck.show.model import EaseName, MoveKeys
from cuedeck.show.problems import Problem, ProblemsFound
from cuedeck.show.source import Path, Source
from cuedeck.show.triggers import Direction, While
from cuedeck.show.units import Angle, Length, print_number, shorten


@dataclass(frozen=True, eq=False)
class Axis:
    """One axis of a move: positions in millimetres or degrees at rising times in seconds, shape (samples,)."""

    name: str
    kind: type[Length] | type[Angle]
    times_s: Values
    positions: Values
    ease: EaseName = "linear"

    @property
    def unit(self) -> str:
        return next(iter(self.kind.FACTORS))

    def position_at(self, time_s: float) -> float:
        return float(self.at(np.array([time_s]))[0])

    def at(self, time_s: Values) -> Values:
        """Return the positions at times; before the first and after the last the axis stands still."""
        after = np.clip(np.searchsorted(self.times_s, time_s, side="right"), 1, len(self.times_s) - 1)
        start, end = self.times_s[after - 1], self.times_s[after]
        share = EASES[self.ease].at(np.clip((time_s - start) / (end - start), 0.0, 1.0))
        low, high = self.positions[after - 1], self.positions[after]
        return np.asarray(low + (high - low) * share)

    def passes(self, position: float, direction: Direction = Direction.ANY) -> Iterator[float]:
        """Yield each time in seconds at which the axis passes a position, found between samples.

        Reaching it and turning back counts, as does leaving it where the axis stood on it from the start.
        """
        offset = self.positions - position
        first_off = int(np.argmax(offset != 0))
        touching = (offset[:-1] * offset[1:] <= 0) & (offset[:-1] != offset[1:])
        for index in np.flatnonzero(touching).tolist():
            before, after = float(offset[index]), float(offset[index + 1])
            if before == 0 and index != first_off - 1:
                continue  # the step before this one has reached it already
            rising = after > before
            if direction is not Direction.ANY and rising != (direction is Direction.RISING):
                continue
            share = EASES[self.ease].inverse(-before / (after - before))
            start, end = float(self.times_s[index]), float(self.times_s[index + 1])
            yield start + (end - start) * share

    def reach(self) -> str:
        """Return how far the axis travels, in words."""
        low, high = (f"{value:.4g}" for value in (self.positions.min(), self.positions.max()))
        return f"{low} to {high} {self.unit}"


@dataclass(frozen=True, eq=False)
class Move:
    """The axes of one move, and how long it takes."""

    axes: Mapping[str, Axis]
    duration_s: Fraction

    def counts(self, axis: str, position: Length | Angle) -> bool:
        """Whether the move has an axis, counted in the unit of a position."""
        return axis in self.axes and self.axes[axis].kind is type(position)

    def passes(
        self, axis: str, position: float, direction: Direction = Direction.ANY, while_: While | None = None
    ) -> Iterator[float]:
        """Yield when an axis passes a position, and another is where `while_` wants it; never where there is none."""
        if axis in self.axes and (while_ is None or while_.axis in self.axes):
            for time_s in self.axes[axis].passes(position, direction):
                if while_ is None or self.holds(while_, time_s):
                    yield time_s

    def holds(self, while_: While, time_s: float) -> bool:
        """Whether an axis is over, or under, a position at a time; on it, it is neither. Raises KeyError."""
        where = self.axes[while_.axis].position_at(time_s)
        limit = float(while_.position)
        return where > limit if while_.is_over else where < limit

    def first_pass(
        self,
        axis: str,
        position: float,
        direction: Direction = Direction.ANY,
        crossing: int = 1,
        while_: While | None = None,
    ) -> float | None:
        """Return when an axis passes a position for the n-th time, or None where it never does."""
        return next(islice(self.passes(axis, position, direction, while_), crossing - 1, None), None)

    def at_speed(self, speed: Fraction) -> Move:
        """Return the move as it runs so many times as fast: every time is divided by the speed."""
        if speed == 1:
            return self
        axes = [
            replace(axis, times_s=axis.times_s * speed.denominator / speed.numerator) for axis in self.axes.values()
        ]
        return Move({axis.name: axis for axis in axes}, self.duration_s / speed)


def finished_move(axes: Sequence[Axis]) -> Move:
    """Return the move of some axes, as long as the longest of them."""
    last = max(float(axis.times_s[-1]) for axis in axes)
    return Move({axis.name: axis for axis in axes}, Fraction(repr(last)))


def move_from_keys(source: Source, path: Path, keys: MoveKeys) -> Move:
    """Return the move that a show writes out. Raises ProblemsFound."""
    where = (*path, "keys")
    place = source.place_of_value
    for index in range(1, len(keys.keys)):
        before, after = keys.keys[index - 1].time, keys.keys[index].time
        if after.base <= before.base:
            what = f"the time goes back or stands still: {after} after {before}"
            raise ProblemsFound([Problem(place((*where, index, "time")), what, "put the keys in order of time")])
    names = list(dict.fromkeys(name for key in keys.keys for name in key.positions))
    if not names:
        raise ProblemsFound([Problem(place(where), "the move has no axis", "write {time: 2 s, slide: 120 mm}")])
    return finished_move([_axis_from_keys(source, where, keys, name) for name in names])


def _axis_from_keys(source: Source, where: Path, keys: MoveKeys, name: str) -> Axis:
    own = [(index, key) for index, key in enumerate(keys.keys) if name in key.positions]
    kind = type(own[0][1].positions[name])
    place = source.place_of_value((*where, own[-1][0], name))
    if len(own) < 2:
        what = f"the axis '{shorten(name)}' has one position only"
        raise ProblemsFound([Problem(place, what, "give it a position in at least two keys")])
    if any(type(key.positions[name]) is not kind for _, key in own):
        what = f"the axis '{shorten(name)}' is a length in one key and an angle in another"
        raise ProblemsFound([Problem(place, what, "keep to mm or to deg")])
    times = np.array([float(key.time) for _, key in own])
    return Axis(name, kind, times, np.array([float(key.positions[name]) for _, key in own]), keys.ease)


def print_position(value: float, unit: str) -> str:
    """Return a position in words, to a tenth."""
    return f"{print_number(Fraction(round(value * 10), 10))} {unit}"
