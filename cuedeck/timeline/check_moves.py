"""What is said about moves that no rig makes: most often a unit was taken for another.

The bounds are common practice, no source: generous for a table-top slide, a turntable and a fast arm alike.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from cuedeck.show.load import LoadedShow
from cuedeck.show.model import MoveKeys
from cuedeck.show.problems import Problem, Severity
from cuedeck.timing.moves import Axis, Move
from cuedeck.timing.survey import fastest, usual_step_s

FASTEST = {"mm": 10_000.0, "deg": 7_200.0}
"""Per second: 10 m, 20 turns."""
FARTHEST = {"mm": 100_000.0, "deg": 360_000.0}
"""From zero: 100 m, 1,000 turns."""
LOWEST_RATE_HZ = 2.0
HIGHEST_RATE_HZ = 10_000.0
LONGEST_S = 3600.0
FEWEST_SAMPLES, LONGEST_BY_HAND_S = 50, 600.0
"""A table of fewer lines, in less time, may have been written by hand."""

_TIME_CURE = "look at its column of time: where that counts milliseconds call it 'time ms', where frames, 'frame'"


def check_moves(loaded: LoadedShow, moves: Mapping[str, Move]) -> Iterator[Problem]:
    """Yield a warning for each shot whose move is slower, faster, longer or farther than rigs are."""
    for shot, move in moves.items():
        place = loaded.source.place_of_value(("shots", shot, "move"))
        is_recorded = not isinstance(loaded.show.shots[shot].move, MoveKeys)
        for what, cure in _oddities(move, is_recorded=is_recorded):
            yield Problem(place, f"the move of shot {shot} {what}", cure, Severity.WARNING)


def _oddities(move: Move, *, is_recorded: bool) -> Iterator[tuple[str, str]]:
    """Yield what is odd about a move, and what to look at; what follows from odd times is not told again."""
    times_s = next(iter(move.axes.values())).times_s
    rate_hz = 1 / usual_step_s(times_s)
    is_by_hand = len(times_s) < FEWEST_SAMPLES and move.duration_s < LONGEST_BY_HAND_S
    lasts = f"lasts {float(move.duration_s):,.6g} s"
    if is_recorded and rate_hz < LOWEST_RATE_HZ and not is_by_hand:
        yield f"{lasts} with {rate_hz:.3g} positions a second, which is no recording of a rig", _TIME_CURE
    elif is_recorded and rate_hz > HIGHEST_RATE_HZ:
        cure = "look at its column of time: where that counts seconds call it 'time s', where frames, 'frame'"
        yield f"{lasts} with {rate_hz:,.6g} positions a second, which is no recording of a rig", cure
    else:
        if move.duration_s > LONGEST_S:
            cure = _TIME_CURE if is_recorded else "look at the times of its keys: 2 s, 500 ms, 1.5 min, 40 frames"
            yield f"{lasts}, more than an hour", cure
        for axis in move.axes.values():
            yield from _of_axis(axis, is_recorded=is_recorded)


def _of_axis(axis: Axis, *, is_recorded: bool) -> Iterator[tuple[str, str]]:
    unit, peak = axis.unit, fastest(axis)
    others = "'mm', 'cm' or 'm'" if unit == "mm" else "'deg'"
    where = f"the unit of its column '{axis.name}', {others}" if is_recorded else f"its keys of '{axis.name}'"
    farthest = float(abs(axis.positions).max())
    if farthest > FARTHEST[unit]:
        yield f"goes to {axis.name} {farthest:,.6g} {unit}, farther than any rig", f"look at {where}"
    elif peak.value > FASTEST[unit]:
        what = f"reaches {peak.value:,.6g} {unit}/s on {axis.name} at {peak.time_s:.4g} s, faster than any rig"
        yield what, f"look at what stands there, and at {where}"
