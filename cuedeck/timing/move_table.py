"""A move as a rig records it: a table of times and positions, read from a CSV file, and written.

The header says what each column is, or the show says it for a header in foreign words. Nothing is guessed
that could shift a position: one sign parts the columns, one sign marks the decimals, all through the file.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from cuedeck.show.model import EaseName
from cuedeck.show.problems import Place, Problem, ProblemsFound, choice_of
from cuedeck.show.source import decode_text
from cuedeck.show.spelling import as_one
from cuedeck.show.units import Angle, Length, UnitError, parse_position, shorten
from cuedeck.timing.moves import Axis, Move, finished_move

RECORDING_HZ = 100
LONGEST_MOVE_S = 24 * 3600
MOST_MOVE_BYTES = 16_000_000
SEPARATORS = (",", ";", "\t")
_POINT = re.compile(r"\s*[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?\s*", re.ASCII)
_COMMA = re.compile(r"\s*[+-]?(?:\d+,\d*|,\d+)(?:[eE][+-]?\d+)?\s*", re.ASCII)
TIME_COLUMNS = "'time s', 'time ms' or 'frame'"


@dataclass(frozen=True)
class ColumnMap:
    """What the columns of a file with a foreign header are, as a show says it."""

    columns: Mapping[str, str]
    """From the name of a column in the file to what it is: frame, time s, slide mm."""
    place_of_key: Callable[[str], Place]
    place_of_value: Callable[[str], Place]


@dataclass(frozen=True)
class _AxisColumn:
    index: int
    name: str
    kind: type[Length] | type[Angle]
    factor: float


@dataclass(frozen=True)
class _Layout:
    time_index: int
    seconds_per_step: Fraction
    axes: tuple[_AxisColumn, ...]


def read_csv(file: str, raw: bytes, fps: Fraction, columns: ColumnMap | None = None) -> Move:
    """Return the move that a rig recorded.

    The first line names the columns: `time s` (or `time ms`, `frame`), then one a axis with its unit, such
    as `slide mm`. With `columns`, it may name them as it likes, in any order. Columns are parted by commas,
    or by semicolons or tabs, and then decimals may have a comma. `fps` is that of the camera on set.
    Raises ProblemsFound.
    """
    table = _Table(file, as_one(decode_text(file, raw, MOST_MOVE_BYTES)))
    rows = table.rows()
    header_line, header = next(rows, (1, [""]))
    layout = _Header(table, header_line, header, fps).layout(columns)
    times: list[float] = []
    positions: list[list[float]] = [[] for _ in layout.axes]
    step = layout.seconds_per_step
    for line, cells in rows:
        if len(cells) != len(header):
            what = f"this line has {len(cells)} values, the header has {len(header)} columns"
            raise table.refusal(line, 1, what, "write one value for each column")
        time_s = table.number(line, cells, layout.time_index) * step.numerator / step.denominator
        if times and time_s <= times[-1]:
            what = f"the time goes back or stands still: {cells[layout.time_index].strip()} after {times[-1]:g} s"
            raise table.refusal(line, 1, what, "take the line out, or put the lines in order of time")
        for column, axis in zip(positions, layout.axes, strict=True):
            column.append(table.number(line, cells, axis.index))
        if not 0 <= time_s <= LONGEST_MOVE_S:
            raise table.refusal(line, 1, f"the time {time_s:g} s is out of range", "let the move start at 0 s")
        times.append(time_s)
    if len(times) < 2:
        raise table.refusal(header_line, 1, "a move needs at least two lines of positions", "record it again")
    return finished_move(
        [
            Axis(axis.name, axis.kind, np.array(times), np.array(column) * axis.factor)
            for axis, column in zip(layout.axes, positions, strict=True)
        ]
    )


class _Table:
    """The lines of one file, and what is wrong with them."""

    def __init__(self, file: str, text: str) -> None:
        self._file = file
        self._lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
        self._separator = _separator_of(next((line for line in self._lines if line.strip()), ""))
        self._decimal_sign: str | None = "." if self._separator == "," else None

    def refusal(self, line: int, column: int, what: str, cure: str) -> ProblemsFound:
        return ProblemsFound([Problem(Place(self._file, line, column), what, cure)])

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Yield the number and the cells of each line that is not empty."""
        reader = csv.reader(self._lines, delimiter=self._separator)
        try:
            for cells in reader:
                if any(cell.strip() for cell in cells):
                    yield reader.line_num, cells
        except csv.Error as error:
            raise self.refusal(reader.line_num, 1, f"not a CSV line: {error}", "write plain numbers") from error

    def number(self, line: int, cells: Sequence[str], index: int) -> float:
        cell = cells[index]
        sign = "." if _POINT.fullmatch(cell) else "," if self._separator != "," and _COMMA.fullmatch(cell) else None
        number = math.nan if sign is None else float(cell.replace(",", "."))
        if not math.isfinite(number) or abs(number) > 1e9:
            what = f"'{shorten(cell.strip())}' is not a number"
            raise self.refusal(line, _column_of(cells, index), what, "write a plain number such as 120.5")
        if sign is not None and sign in cell:  # a whole number says nothing about the sign
            self._require_sign(sign, line, _column_of(cells, index), cell)
        return number

    def _require_sign(self, sign: str, line: int, column: int, cell: str) -> None:
        if self._decimal_sign not in (None, sign):
            number, before = shorten(cell.strip()), self._decimal_sign
            what = f"'{number}' has a decimal '{sign}', and the numbers before it a '{before}'"
            raise self.refusal(line, column, what, "write all decimals with the same sign")
        self._decimal_sign = sign


def _separator_of(line: str) -> str:
    """Return the sign that parts a header into the most columns, the comma where none parts it into more."""
    return max(SEPARATORS, key=line.count)


def _column_of(cells: Sequence[str], index: int) -> int:
    return sum(len(cell) + 1 for cell in cells[:index]) + 1


class _Header:
    def __init__(self, table: _Table, line: int, cells: Sequence[str], fps: Fraction) -> None:
        self._table, self._line, self._cells = table, line, cells
        self._steps = {"time s": Fraction(1), "time ms": Fraction(1, 1000), "frame": 1 / fps}

    def layout(self, columns: ColumnMap | None) -> _Layout:
        return self._of_own_words() if columns is None else self._of_map(columns)

    def _of_own_words(self) -> _Layout:
        first = _plain(self._cells[0])
        if first not in self._steps:
            what = f"the first column is called '{shorten(self._cells[0].strip())}'"
            cure = (
                "call it 'time s' or 'frame', and add one column an axis: 'slide mm'; or say in the show what the"
                " columns are: 'move: {file: FILE.csv, columns: {NAME IN THE FILE: time s, OTHER: slide mm}}'"
            )
            raise self._table.refusal(self._line, 1, what, cure)
        axes: list[_AxisColumn] = []
        for index, cell in enumerate(self._cells[1:], start=1):
            place = _column_of(self._cells, index)
            try:
                axes.append(_axis_of(index, cell, axes))
            except UnitError as error:
                raise self._table.refusal(self._line, place, error.what, error.cure) from error
        if not axes:
            raise self._table.refusal(self._line, 1, "the move has no axis", "add a column an axis, such as 'slide mm'")
        return _Layout(0, self._steps[first], tuple(axes))

    def _of_map(self, columns: ColumnMap) -> _Layout:
        names = [_plain(cell) for cell in self._cells]
        times: list[tuple[int, Fraction]] = []
        axes: list[_AxisColumn] = []
        for name, meaning in columns.columns.items():
            if names.count(_plain(name)) != 1:
                raise ProblemsFound([self._not_found(name, names, columns)])
            index = names.index(_plain(name))
            try:
                if _plain(meaning) in self._steps:
                    times.append((index, self._steps[_plain(meaning)]))
                else:
                    axes.append(_axis_of(index, meaning, axes))
            except UnitError as error:
                raise ProblemsFound([Problem(columns.place_of_value(name), error.what, error.cure)]) from error
        if len(times) != 1 or not axes:
            place = columns.place_of_value(next(iter(columns.columns), ""))
            what = f"{len(times) or 'none'} of the columns {'say' if len(times) > 1 else 'says'} the time"
            cure = f"write for one column that it is {TIME_COLUMNS}"
            if len(times) == 1:
                what, cure = "the move has no axis", "write for a column that it is an axis, such as 'slide mm'"
            raise ProblemsFound([Problem(place, what, cure)])
        return _Layout(*times[0], tuple(axes))

    def _not_found(self, name: str, names: Sequence[str], columns: ColumnMap) -> Problem:
        shown = [shorten(cell.strip()) for cell in self._cells]
        if _plain(name) in names:
            what = f"the file has {names.count(_plain(name))} columns called '{shorten(name)}'"
            return Problem(columns.place_of_key(name), what, "give them names of their own in the file")
        what = f"the file has no column called '{shorten(name)}'"
        return Problem(columns.place_of_key(name), what, choice_of(name, shown))


def _plain(cell: str) -> str:
    return " ".join(cell.split()).casefold()


def _axis_of(index: int, cell: str, before: Sequence[_AxisColumn]) -> _AxisColumn:
    """Return the axis that a column such as 'slide mm' is. Raises UnitError."""
    name, _, unit = " ".join(cell.split()).rpartition(" ")
    try:
        one = parse_position(f"1 {unit}")
    except UnitError as error:
        what = f"the column '{shorten(cell.strip())}' does not say which axis it is, and in which unit"
        raise UnitError(what, "write the axis and its unit, such as 'slide mm' or 'pan deg'") from error
    if not name:
        raise UnitError("the axis '' has no name", "give each axis a name of its own")
    if any(axis.name == name for axis in before):
        raise UnitError(f"two columns are called '{shorten(name)}'", "give each axis a name of its own")
    return _AxisColumn(index, name, type(one), float(one.base))


def eased_move(reaches: dict[str, Length | Angle], duration_s: Fraction, ease: EaseName = "ease") -> Move:
    """Return a move in which each axis travels from 0 to its reach in one go."""
    times_s = np.array([0.0, float(duration_s)])
    return Move(
        {name: Axis(name, type(to), times_s, np.array([0.0, float(to)]), ease) for name, to in reaches.items()},
        duration_s,
    )


def recorded(move: Move, rate_hz: int = RECORDING_HZ) -> str:
    """Return the CSV of a move: `time s` and a column an axis in mm or deg to a thousandth, so often a second.

    The last line is the end of the move, wherever it falls.
    """
    count = int(move.duration_s * rate_hz)
    times = [Fraction(number, rate_hz) for number in range(count + 1)]
    if times[-1] < move.duration_s:
        times.append(move.duration_s)
    return "".join(f"{','.join(cells)}\n" for cells in _rows(move, times))


def _rows(move: Move, times: list[Fraction]) -> Iterator[tuple[str, ...]]:
    times_s = np.array([float(time) for time in times])
    columns = [axis.at(times_s).tolist() for axis in move.axes.values()]
    yield ("time s", *(f"{axis.name} {axis.unit}" for axis in move.axes.values()))
    for time_s, *positions in zip(times_s.tolist(), *columns, strict=True):
        yield (repr(time_s), *(f"{position + 0:.3f}" for position in positions))
