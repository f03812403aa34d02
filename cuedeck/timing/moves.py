"""The programmed travel: where each axis is at a time, and when it passes a position.

A move is read from what a rig recorded (uneven steps, noise) or from keys that are written out. Both are
positions at rising times, joined by a shape; nothing is smoothed, so that what is on file is what counts.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from cuedeck.show.model import EaseName, MoveKeys
from cuedeck.show.problems import Place, Problem, ProblemsFound
from cuedeck.show.source import Path, Source, decode_text
from cuedeck.show.triggers import Direction
from cuedeck.show.units import Angle, Length, UnitError, parse_position, print_number, shorten
from cuedeck.timing.shapes import Values, linear, minimum_jerk, minimum_jerk_inverse

LONGEST_MOVE_S = 24 * 3600
MOST_MOVE_BYTES = 16_000_000
_PLAIN_NUMBER = re.compile(r"\s*[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?\s*", re.ASCII)


@dataclass(frozen=True)
class Ease:
    """How an axis travels between two positions, and the inverse for one value."""

    shape: Callable[[Values], Values]
    inverse: Callable[[float], float]


EASES: Mapping[EaseName, Ease] = {
    "linear": Ease(linear, lambda progress: progress),
    "ease": Ease(minimum_jerk, minimum_jerk_inverse),
}


@dataclass(frozen=True, eq=False)
class Axis:
    """One axis of a move: positions in millimetres or degrees at rising times in seconds, shape (samples,)."""

    name: str
    kind: type[Length] | type[Angle]
    times_s: npt.NDArray[np.float64]
    positions: npt.NDArray[np.float64]
    ease: EaseName = "linear"

    @property
    def unit(self) -> str:
        """The unit of the positions: mm or deg."""
        return next(iter(self.kind.FACTORS))

    def at(self, time_s: Values) -> Values:
        """Return the positions at times; before the first and after the last the axis stands still."""
        after = np.clip(np.searchsorted(self.times_s, time_s, side="right"), 1, len(self.times_s) - 1)
        start, end = self.times_s[after - 1], self.times_s[after]
        share = EASES[self.ease].shape(np.clip((time_s - start) / (end - start), 0.0, 1.0))
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

    def first_pass(
        self, axis: str, position: float, direction: Direction = Direction.ANY, crossing: int = 1
    ) -> float | None:
        """Return when an axis passes a position for the n-th time, or None where it never does."""
        if axis not in self.axes:
            return None
        for number, time_s in enumerate(self.axes[axis].passes(position, direction), start=1):
            if number == crossing:
                return time_s
        return None


def _finished(axes: Sequence[Axis]) -> Move:
    last = max(float(axis.times_s[-1]) for axis in axes)
    return Move({axis.name: axis for axis in axes}, Fraction(repr(last)))


def read_csv(file: str, raw: bytes, fps: Fraction) -> Move:
    """Return the move that a rig recorded.

    The first line names the columns: `time s` (or `frame`), then one a axis with its unit, such as
    `slide mm`. Raises ProblemsFound.
    """
    rows = _rows(file, decode_text(file, raw, MOST_MOVE_BYTES))
    header_line, header = next(rows, (1, [""]))
    axes, seconds_per_step = _read_header(file, header_line, header, fps)
    times: list[float] = []
    columns: list[list[float]] = [[] for _ in axes]
    for line, cells in rows:
        if len(cells) != len(header):
            what = f"this line has {len(cells)} values, the header has {len(header)} columns"
            raise _refusal(file, line, 1, what, "write one value for each column")
        numbers = [_cell(file, line, cells, index) for index in range(len(cells))]
        time_s = numbers[0] * seconds_per_step.numerator / seconds_per_step.denominator
        if times and time_s <= times[-1]:
            what = f"the time goes back or stands still: {cells[0].strip()} after {times[-1]:g} s"
            raise _refusal(file, line, 1, what, "take the line out, or put the lines in order of time")
        if not 0 <= time_s <= LONGEST_MOVE_S:
            raise _refusal(file, line, 1, f"the time {time_s:g} s is out of range", "let the move start at 0 s")
        times.append(time_s)
        for column, number in zip(columns, numbers[1:], strict=True):
            column.append(number)
    if len(times) < 2:
        raise _refusal(file, header_line, 1, "a move needs at least two lines of positions", "record it again")
    return _finished(
        [
            Axis(name, kind, np.array(times), np.array(column) * factor)
            for (name, kind, factor), column in zip(axes, columns, strict=True)
        ]
    )


def _refusal(file: str, line: int, column: int, what: str, cure: str) -> ProblemsFound:
    return ProblemsFound([Problem(Place(file, line, column), what, cure)])


def _rows(file: str, text: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"))
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield reader.line_num, cells
    except csv.Error as error:
        raise _refusal(file, reader.line_num, 1, f"not a CSV line: {error}", "write plain numbers") from error


def _column_of(cells: Sequence[str], index: int) -> int:
    return sum(len(cell) + 1 for cell in cells[:index]) + 1


def _read_header(
    file: str, line: int, header: Sequence[str], fps: Fraction
) -> tuple[list[tuple[str, type[Length] | type[Angle], float]], Fraction]:
    steps = {"time s": Fraction(1), "time ms": Fraction(1, 1000), "frame": 1 / fps}
    first = " ".join(header[0].split()).casefold()
    if len(header) == 1 and (";" in first or "\t" in header[0]):
        what = "the columns are not separated by commas"
        raise _refusal(file, line, 1, what, "export the move with commas between columns, and decimal points")
    if first not in steps:
        what = f"the first column is called '{shorten(header[0].strip())}'"
        raise _refusal(file, line, 1, what, "call it 'time s' or 'frame', and add one column an axis: 'slide mm'")
    axes: list[tuple[str, type[Length] | type[Angle], float]] = []
    for index, cell in enumerate(header[1:], start=1):
        name, _, unit = " ".join(cell.split()).rpartition(" ")
        try:
            one = parse_position(f"1 {unit}")
        except UnitError as error:
            what = f"the column '{shorten(cell.strip())}' does not say which axis it is, and in which unit"
            cure = "write the axis and its unit, such as 'slide mm' or 'pan deg'"
            raise _refusal(file, line, _column_of(header, index), what, cure) from error
        if not name or name in (other for other, _, _ in axes):
            what = (
                f"the axis '{shorten(name)}' has no name" if not name else f"two columns are called '{shorten(name)}'"
            )
            raise _refusal(file, line, _column_of(header, index), what, "give each axis a name of its own")
        axes.append((name, type(one), float(one.base)))
    if not axes:
        raise _refusal(file, line, 1, "the move has no axis", "add a column an axis, such as 'slide mm'")
    return axes, steps[first]


def _cell(file: str, line: int, cells: Sequence[str], index: int) -> float:
    number = float(cells[index]) if _PLAIN_NUMBER.fullmatch(cells[index]) else math.nan
    if not math.isfinite(number) or abs(number) > 1e9:
        what = f"'{shorten(cells[index].strip())}' is not a number"
        raise _refusal(file, line, _column_of(cells, index), what, "write a plain number such as 120.5")
    return number


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
    return _finished([_axis_from_keys(source, where, keys, name) for name in names])


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
