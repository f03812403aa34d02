"""Calibrating a light with a meter: which levels to read, what was read so far, and what cannot be right.

Full is read first, as the scale, then the ladder from below, and full again at the end, to see whether
the lamp or the meter has drifted. A reading that would make the curve turn back is never taken in. What
the meter reads at 0 % is the ambient light: it is taken off the others.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from math import inf, log2
from typing import NamedTuple, Self

from cuedeck.rig.dimmer import FEWEST_READINGS
from cuedeck.rig.fit import NetReadings
from cuedeck.show.units import Percent, UnitError, parse_number, print_number, shorten

FULL = Fraction(1)
LADDER = tuple(Fraction(percent, 100) for percent in (0, 5, *range(10, 101, 10)))
"""The control values that are read unless others are asked for."""
MOST_DRIFT = Fraction(3, 100)
"""How much full may differ at the end from what it was first before it is told."""
MOST_DRIFT_STOPS = 0.1
"""How far full may differ before a curve is not written unasked: our own bound, without a source."""
BRIGHTEST_READING = 10**9


class MeterText(NamedTuple):
    """A reading as it was typed: its number, and "lux" or nothing."""

    number: Fraction
    unit: str


def parse_reading(text: str) -> MeterText:
    """Return the reading of a light meter that a text such as "42" or "42 lux" stands for. Raises UnitError."""
    match = re.fullmatch(r"([-+\d.,/\s]*\d[.,]?)\s*([a-z]*)", text.strip().lower(), re.ASCII)
    if match is None:
        raise UnitError(f"'{shorten(text)}' is no reading", "write what the meter reads, such as 42 or 42 lux")
    number, unit = match[1].strip(), match[2]
    if unit == "ev":
        raise UnitError("EV is not proportional to light", "set the meter to lux")
    if unit not in ("", "lux", "lx"):
        raise UnitError(f"'{unit}' is not read", "write 42 lux, or the plain number if every reading is in one unit")
    if "," in number:
        raise UnitError(f"'{shorten(number)}' has a comma", "write 5210 for thousands, and 42.5 for decimals")
    value = parse_number(number)
    if not 0 <= value <= BRIGHTEST_READING:
        raise UnitError(f"'{shorten(text)}' is no reading of a light meter", "write 0 or more")
    return MeterText(value, "lux" if unit else "")


def parse_ladder(text: str) -> tuple[Fraction, ...]:
    """Return the control values of a text such as "0,10,25", rising and with full. Raises UnitError."""
    levels = {FULL}
    for part in text.split(","):
        levels.add(Percent.parse(f"{part.strip().removesuffix('%').strip()} %").base)
    if len(levels | {Fraction(0)}) < FEWEST_READINGS:
        raise UnitError("a curve needs a level between 0 % and 100 %", "write levels such as 0,10,25,50,75")
    return tuple(sorted(levels))


@dataclass(frozen=True)
class Calibration:
    """The readings of one light so far."""

    levels: tuple[Fraction, ...] = LADDER
    """The control values of the ladder, rising, the last one full."""
    answers: tuple[Fraction | None, ...] = ()
    """What was read at each level of `order` so far; None where it was skipped."""
    unit: str = ""
    """What the readings are in: "lux", or nothing where only numbers were typed."""

    @property
    def order(self) -> tuple[Fraction, ...]:
        """The levels in the order in which they are read: full, the ladder from below, full again."""
        return (FULL, *self.levels)

    @property
    def next_level(self) -> Fraction | None:
        return None if self.is_finished else self.order[len(self.answers)]

    @property
    def is_finished(self) -> bool:
        return len(self.answers) == len(self.order)

    @property
    def ambient(self) -> Fraction:
        """What the meter reads without the light; 0 where that was not read."""
        return dict(self._ladder()).get(Fraction(0), Fraction(0))

    @property
    def drift(self) -> Fraction | None:
        """How much more full gave at the end than first, relative to it; None where it was not read twice."""
        first, again = self.answers[0] if self.answers else None, self._full_again
        return None if first is None or again is None else (again - first) / (first - self.ambient)

    @property
    def drift_stops(self) -> float:
        """The same in stops; 0 where full was not read twice."""
        return 0.0 if self.drift is None else log2(1 + self.drift) if self.drift > -1 else -inf

    def objection(self, reading: Fraction) -> UnitError | None:
        """Return why a reading at the next level cannot be right, beside those before; None where it can."""
        level = self.next_level
        if level is None:
            return None
        return self._too_dark(level, reading) or self._too_bright(level, reading)

    def objection_to_full(self, reading: Fraction) -> UnitError | None:
        """Return why a new first reading at full cannot be right, beside the others; None where it can."""
        return self._too_dark(FULL, reading)

    def with_reading(self, text: MeterText) -> Self:
        """Return the calibration with a reading at the next level. Raises UnitError for one that turns back."""
        objection = self.objection(text.number)
        if objection is not None:
            raise objection
        return replace(self, answers=(*self.answers, text.number), unit=self.unit or text.unit)

    def with_full(self, text: MeterText) -> Self:
        """Return the calibration with another first reading at full. Raises UnitError for one that is too dark."""
        objection = self.objection_to_full(text.number)
        if objection is not None:
            raise objection
        return replace(self, answers=(text.number, *self.answers[1:]), unit=self.unit or text.unit)

    def skipped(self) -> Self:
        """Return the calibration without a reading at the next level. Raises UnitError at full, the scale."""
        if not self.answers:
            raise UnitError("the reading at full is the scale of all others", "read it, or stop")
        return replace(self, answers=(*self.answers, None))

    def without_last_reading(self) -> Self:
        """Return the calibration without the last reading. Raises UnitError where there is none."""
        if not self.answers:
            raise UnitError("nothing was read before this", "write what the meter reads")
        return replace(self, answers=self.answers[:-1])

    def net_readings(self) -> NetReadings:
        """Return the light at each control value that was read, the ambient light taken off.

        Full is the middle of its two readings. Empty where there are too few for a curve.
        """
        if not self.answers or self.answers[0] is None:
            return ()
        again = self._full_again
        full = self.answers[0] if again is None else (self.answers[0] + again) / 2
        ambient = self.ambient
        by_control = {Fraction(0): ambient} | dict(self._ladder()) | {FULL: full}
        if len(by_control) < FEWEST_READINGS:
            return ()
        return tuple((control, by_control[control] - ambient) for control in sorted(by_control))

    @property
    def _full_again(self) -> Fraction | None:
        return self.answers[-1] if self.is_finished else None

    def _ladder(self) -> Iterator[tuple[Fraction, Fraction]]:
        for level, reading in zip(self.levels[:-1], self.answers[1:], strict=False):
            if reading is not None:
                yield level, reading

    def _too_dark(self, level: Fraction, reading: Fraction) -> UnitError | None:
        if level == FULL and not reading:
            return UnitError("100 % reads 0", "see that the light is on, and that the meter sees it")
        below = max(self._ladder(), default=None)
        if below is None or reading > below[1] or (reading == below[1] == self.ambient and level != FULL):
            return None
        what = f"{_reads(*below)} and {_reads(level, reading)}: more control cannot give the same light or less"
        return UnitError(what, f"read again; if {_percent(below[0])} was wrong, write back")

    def _too_bright(self, level: Fraction, reading: Fraction) -> UnitError | None:
        full = self.answers[0] if self.answers else None
        if level == FULL or full is None or reading < full:
            return None
        what = f"{_reads(level, reading)} and {_reads(FULL, full)}: less control cannot give the same light or more"
        return UnitError(what, "read again; if the lamp has grown brighter, write full to read that again")


def _reads(control: Fraction, reading: Fraction) -> str:
    return f"{_percent(control)} reads {print_number(reading)}"


def _percent(control: Fraction) -> str:
    return str(Percent.of(control))
