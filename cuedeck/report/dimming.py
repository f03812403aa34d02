"""A measured dimmer curve as rows of text: a table of its points, and the curve drawn through them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cuedeck.report.lanes import braille_curve
from cuedeck.rig.dimmer import Dimmer
from cuedeck.rig.fit import Bottom, FitRow
from cuedeck.show.units import Percent, print_number

PLOT_COLUMNS = 50
PLOT_LINES = 8
SURPRISE_STOPS = 0.5
"""A reading that is farther off the curve through the others is marked: it may have been misread."""


def fit_table(rows: Sequence[FitRow], unit: str) -> list[str]:
    """Return a line for each point: control, reading, light, stops under full, and how far the others miss it."""
    head = f"{'control':>8}  {'reading' + (f' {unit}' if unit else ''):>12}  {'light':>9}  {'stops':>7}  off the others"
    return [head, *(_row(row) for row in rows)]


def _row(row: FitRow) -> str:
    stops = "dark" if row.stops is None else f"{round(row.stops, 2) + 0.0:.2f}"
    mark = ""
    if row.surprise_stops is not None:
        mark = f"{round(row.surprise_stops, 2) + 0.0:+.2f} stop" + (
            "  look again" if abs(row.surprise_stops) > SURPRISE_STOPS else ""
        )
    control, reading = Percent.of(row.control), print_number(row.reading)
    return f"{control!s:>8}  {reading:>12}  {row.light * 100:>7.3g} %  {stops:>7}  {mark}".rstrip()


def fit_plot(dimmer: Dimmer) -> list[str]:
    """Return the curve, light upwards over control to the right."""
    control = np.linspace(0, 1, 2 * PLOT_COLUMNS)
    lines = braille_curve(dimmer.light_from_control(control), PLOT_LINES)
    labels = ["light 100 %", *[""] * (PLOT_LINES - 2), "0 %"]
    ruler = f"{'0 %':<{PLOT_COLUMNS // 2 - 2}}{'50 %':<{PLOT_COLUMNS // 2 - 3}}100 % control"
    return [*(f"{label:>11}  {line}".rstrip() for label, line in zip(labels, lines, strict=True)), f"{'':13}{ruler}"]


def bottom_sentences(rows: Sequence[FitRow], bottom: Bottom) -> list[str]:
    """Return what the light does where a fade leaves black: as it was read, and by the curve below that."""
    dimmest = next(row for row in rows if row.stops is not None)
    control = f"{bottom.value / bottom.steps * 100:.3g} %"
    return [
        f"dimmest reading: {-(dimmest.stops or 0.0):.1f} stops under full, at {Percent.of(dimmest.control)}",
        f"step at the bottom, by the curve, which below the dimmest reading is a guess: {-bottom.stops:.1f} stops under"
        f" full at value {bottom.value} of {bottom.steps} ({control}), the first that gives light;"
        f" the next adds {bottom.next_gain_stops:.2f} stop",
    ]
