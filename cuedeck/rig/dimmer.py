"""Dimmer curves: how much light a fixture gives at a control value, and the inverse.

Control and light are 0 to 1, arrays of any shape. No published standard fixes these curves; light at
half control through a square-law dimmer is a quarter (shape: common in dimmer literature).

Dimmers are compared by what they do, not by which object they are: lights with the same readings fade
together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from cuedeck.arrays import Values
from cuedeck.light.monotone import MonotoneCubic
from cuedeck.light.scales import ratio_from_stops
from cuedeck.show.fixtures import DimmerName
from cuedeck.show.units import Level, Percent

Readings = tuple[tuple[float, float], ...]
"""Control value 0 to 1 and what the meter read there, rising."""

FEWEST_READINGS = 3


@dataclass(frozen=True)
class Dimmer:
    """One dimmer curve, both ways."""

    light_from_control: Callable[[Values], Values] = field(compare=False)
    control_from_light: Callable[[Values], Values] = field(compare=False)
    law: str | Readings
    """What it is compared by: the name of its law, or its points (control, light)."""

    def control_of(self, level: Level) -> float:
        """Return the control value, 0 to 1, of a level: percent are control, stops go through the curve."""
        if isinstance(level, Percent):
            return float(level)
        return float(self.control_from_light(np.array([ratio_from_stops(float(level))]))[0])


class ReadingProblem(NamedTuple):
    """What is wrong with one reading of a dimmer, and its cure."""

    position: int | None
    """Which of the readings it is, as they were given; None where one is missing."""
    what: str
    cure: str


def _same(values: Values) -> Values:
    return values


def _square(values: Values) -> Values:
    return values * values


_SMOOTHSTEP = MonotoneCubic((0.0, 1.0), (0.0, 1.0), (0.0, 0.0))
"""3 x^2 - 2 x^3: the cubic that is level at both ends (trade shape; formula from memory)."""

DIMMERS: Mapping[DimmerName, Dimmer] = {
    "linear": Dimmer(_same, _same, "linear"),
    "square": Dimmer(_square, np.sqrt, "square"),
    "s-curve": Dimmer(_SMOOTHSTEP.at, _SMOOTHSTEP.inverse, "s-curve"),
}


def dimmer_of(curve: DimmerName | Mapping[Percent, Fraction]) -> Dimmer:
    """Return the dimmer that a type writes: a law by its name, or readings of a meter by control value.

    Readings in which `check_readings` finds a problem are taken for a linear dimmer; the checks report them.
    """
    if isinstance(curve, str):
        return DIMMERS[curve]
    readings = [(float(control), float(reading)) for control, reading in curve.items()]
    return DIMMERS["linear"] if check_readings(readings) else measured_dimmer(readings)


def measured_dimmer(readings: Sequence[tuple[float, float]]) -> Dimmer:
    """Return the dimmer that a light meter found: pairs of control 0 to 1 and reading, in any order.

    The readings are in any unit that is proportional to light; that at full control is light 1. Where there
    is none at 0 % it is dark there. Between the readings the curve is a monotone cubic; where a lamp stays
    dark at the bottom, no light is control 0, and any light lies past the dark stretch.
    Raises ValueError for readings in which `check_readings` finds a problem.
    """
    return _measured(tuple((float(control), float(reading)) for control, reading in readings))


@lru_cache(maxsize=256)
def _measured(readings: Readings) -> Dimmer:
    problems = check_readings(readings)
    if problems:
        raise ValueError(f"{problems[0].what}: {problems[0].cure}")
    points = _light_at(readings)
    curve = MonotoneCubic.through(points)
    return Dimmer(curve.at, curve.inverse, points)


def _light_at(readings: Readings) -> Readings:
    """Return control and light, rising from (0, 0) to (1, 1)."""
    by_control = {0.0: 0.0} | dict(readings)
    full = by_control[1.0]
    return tuple((control, by_control[control] / full) for control in sorted(by_control))


def check_readings(readings: Sequence[tuple[float, float]]) -> list[ReadingProblem]:
    """Return what keeps readings (control 0 to 1, what the meter read) from being a dimmer curve."""
    return [*_of_each(readings), *_of_pairs(readings), *_of_the_scale(readings)]


def _of_each(readings: Sequence[tuple[float, float]]) -> Iterator[ReadingProblem]:
    for index, (control, reading) in enumerate(readings):
        if not 0 <= control <= 1:
            yield ReadingProblem(index, f"a control value of {_percent(control)} does not exist", "write 0 % to 100 %")
        if not 0 <= reading < float("inf"):
            yield ReadingProblem(
                index, f"{_percent(control)} reads {reading:.10g}", "write what the meter read, 0 or more"
            )
        elif control == 0 and reading > 0:
            yield ReadingProblem(
                index,
                f"0 % reads {reading:.10g}: that is the light of the room",
                f"take {reading:.10g} off every reading, and write '0 %: 0'",
            )


def _of_pairs(readings: Sequence[tuple[float, float]]) -> Iterator[ReadingProblem]:
    order = sorted(range(len(readings)), key=lambda index: readings[index][0])
    for before, index in pairwise(order):
        (low, low_reading), (high, high_reading) = readings[before], readings[index]
        pair = f"{_percent(low)} reads {low_reading:.10g} and {_percent(high)} reads {high_reading:.10g}"
        if low == high:
            yield ReadingProblem(index, f"{_percent(low)} was read twice", "keep one of the two")
        elif high_reading < low_reading:
            yield ReadingProblem(index, f"{pair}: more control gave less light", "read both again, or take one out")
        elif high_reading == low_reading > 0:
            yield ReadingProblem(
                index, f"{pair}: the same light twice has no way back", "read both again, or take one out"
            )


def _of_the_scale(readings: Sequence[tuple[float, float]]) -> Iterator[ReadingProblem]:
    full = next((index for index, (control, _) in enumerate(readings) if control == 1), None)
    if full is None:
        yield ReadingProblem(
            None, "there is no reading at 100 %, to which the others are compared", "read the light at 100 %"
        )
    elif readings[full][1] == 0:
        yield ReadingProblem(full, "100 % reads 0, to which the others are compared", "read the light at 100 % again")
    if len({0.0} | {control for control, _ in readings}) < FEWEST_READINGS:
        yield ReadingProblem(
            None,
            f"a curve needs {FEWEST_READINGS} readings or more, 0 % and 100 % among them",
            "read some between 0 % and 100 %",
        )


def _percent(control: float) -> str:
    return f"{control * 100:.10g} %"
