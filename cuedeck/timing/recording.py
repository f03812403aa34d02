"""A move as the table that a rig records: what `read_csv` reads, written."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import numpy as np

from cuedeck.show.model import EaseName
from cuedeck.show.units import Angle, Length
from cuedeck.timing.moves import Axis, Move

RECORDING_HZ = 100


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
