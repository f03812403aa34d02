"""A dimmer curve through the readings of a light meter, and what it says of the light.

Nothing is fitted away: the curve goes through every reading. How far the others would have missed one
shows which was misread.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from cuedeck.arrays import Slots
from cuedeck.light.scales import stops_from_ratio
from cuedeck.rig.dimmer import FEWEST_READINGS, Dimmer, measured_dimmer
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch
from cuedeck.show.units import Percent, print_number

NetReadings = tuple[tuple[Fraction, Fraction], ...]
"""Control value and light at the meter, rising from 0 % to 100 %, dark at 0 %."""


class FitRow(NamedTuple):
    """One point of a measured curve."""

    control: Fraction
    reading: Fraction
    light: float
    """Relative to full."""
    stops: float | None
    """Relative to full; None where it is dark."""
    surprise_stops: float | None
    """How far off the curve through the other points is here; None at the ends and beside the dark."""


def fit_rows(readings: NetReadings) -> list[FitRow]:
    """Return the points of a curve, each beside what the others would have made of it."""
    full = readings[-1][1]
    rows = []
    for index, (control, reading) in enumerate(readings):
        stops = stops_from_ratio(float(reading / full)) if reading else None
        rows.append(FitRow(control, reading, float(reading / full), stops, _surprise_stops(readings, index)))
    return rows


def _surprise_stops(readings: NetReadings, index: int) -> float | None:
    others = readings[:index] + readings[index + 1 :]
    if not 0 < index < len(readings) - 1 or readings[index - 1][1] == 0 or len(others) < FEWEST_READINGS:
        return None
    control, reading = readings[index]
    light = float(curve_through(others).light_from_control(np.array([float(control)]))[0])
    return stops_from_ratio(float(reading / readings[-1][1]) / light)


def curve_through(readings: NetReadings) -> Dimmer:
    return measured_dimmer([(float(control), float(reading)) for control, reading in readings])


class Bottom(NamedTuple):
    """What a dimmer does at its lowest step, where a fade leaves black."""

    value: int
    """The lowest value of the channel that gives light."""
    steps: int
    """The value of the channel at full."""
    stops: float
    """Its light, relative to full."""
    next_gain_stops: float
    """How much brighter the next value is."""


def bottom_of(readings: NetReadings, steps: int) -> Bottom:
    """Return the lowest step of a measured dimmer whose channel counts from 0 to `steps`."""
    dark = max(control for control, reading in readings if reading == 0)
    value = int(dark * steps) + 1
    values = np.array([value, min(value + 1, steps)])
    first, second = curve_through(readings).light_from_control(values / steps).tolist()
    return Bottom(value, steps, stops_from_ratio(first), stops_from_ratio(second / first))


def steps_of(patch: Patch, fixture: PatchedFixture) -> int:
    """Return how far the channel counts that carries the brightness of a fixture: 255 for 8 bit."""
    for steps in (256**3 - 1, 256**2 - 1):
        decoded = patch.decode(level_slots(patch, fixture, 1 / steps)[None])
        if decoded[0, fixture.columns["intensity"]] > 0:
            return steps
    return 255


def level_slots(patch: Patch, fixture: PatchedFixture, control: float) -> Slots:
    """Return the slots, shape (universes, 512), of one light at a control value and all others out.

    The limits of lights apply here too: one with a level that it is never below is at that level.
    """
    levels = patch.defaults
    levels[fixture.columns["intensity"]] = control
    (slots,) = patch.encode(levels[None])
    return np.asarray(slots, dtype=np.uint8)


def dimmer_text(readings: NetReadings, unit: str) -> dict[str, str]:
    """Return the readings as the `dimmer` of a fixture type stands in a show."""
    behind = f" {unit}" if unit else ""
    texts = (print_number(reading) + (behind if reading else "") for _, reading in readings)
    return {str(Percent.of(control)): text for (control, _), text in zip(readings, texts, strict=True)}


def lights_of_type(fixtures: Iterable[PatchedFixture], kind: str) -> list[str]:
    """Return the names of the lights of a type, which share its dimmer curve."""
    return [fixture.name for fixture in fixtures if fixture.hung.type == kind]
