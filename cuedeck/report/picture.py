"""A shot as rows of text: the move, a time ruler, a lane for each light, and where the cues happen.

Column c of a width w stands for the time c / (w - 1) of the shot's length, so the first column is its start
and the last its end. The lanes are decoded from packets, never taken from levels.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal
from unicodedata import combining, east_asian_width

import numpy as np

from cuedeck.arrays import Numbers, Slots
from cuedeck.report.lanes import LaneScale, braille_curve, level_blocks
from cuedeck.show.units import shorten
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timeline.timeline import Timeline
from cuedeck.timing.moves import Axis

SlotsAt = Callable[[Numbers], Slots]
"""From rising packet numbers to their slots, shape (packets, universes, 512)."""

LONGEST_LABEL = 40
"""Characters of a light's or an axis' name that are drawn."""
LONGEST_NAME = 12
"""Characters of a cue's name that are drawn."""
FARTHEST_SHIFT = 2
"""Columns that a cue's name may stand to the right of its place."""
FARTHEST_DOT = 4
"""Columns that the dot in place of a name may stand to the right of its place."""
STEPS_S = (
    *(Fraction(tenths, 10) for tenths in (1, 2, 5)),
    *map(Fraction, (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 14400, 28800)),
)
"""What may lie between two marks of the ruler."""


@dataclass(frozen=True)
class PictureRow:
    """One line of a picture."""

    label: str
    kind: Literal["move", "time", "light", "cues"]
    text: str
    """Exactly as wide as the picture was asked to be."""


def shot_picture(
    plan: ShotPlan,
    timeline: Timeline,
    width: int,
    move_lines: int = 1,
    lane_lines: int = 1,
    slots_at: SlotsAt | None = None,
    scale: LaneScale = LaneScale.PERCENT,
) -> list[PictureRow]:
    """Return the rows of a shot, each `width` characters wide.

    `slots_at` takes the place of the timeline where packets come from somewhere else, such as a recording.
    `scale` is what the lanes show.
    """
    width = max(width, 1)
    rows: list[PictureRow] = []
    for axis in plan.move.axes.values() if plan.move else ():
        rows += _axis_rows(axis, timeline.length_s, width, max(move_lines, 1))
    rows.append(PictureRow("time", "time", time_ruler(timeline.length_s, width)))
    rows += _light_rows(timeline, width, max(lane_lines, 1), slots_at or timeline.slots, scale)
    marks = [(cue.name, column_of(cue.start_s, timeline.length_s, width)) for cue in timeline.cues]
    rows.append(PictureRow("cues", "cues", cue_marks(marks, width)))
    return rows


def print_picture(rows: Sequence[PictureRow]) -> str:
    """Return the rows as plain lines, their labels in a column on the left."""
    room = max((len(row.label) for row in rows), default=0)
    return "".join(f"{row.label:<{room}}  {row.text}".rstrip() + "\n" for row in rows)


def column_of(time_s: Fraction, length_s: Fraction, width: int) -> int:
    """Return the column of a time, the first or the last for times outside the shot."""
    if length_s <= 0:
        return 0
    return min(max(round(time_s / length_s * (width - 1)), 0), width - 1)


def time_at(column: int, length_s: Fraction, width: int) -> Fraction:
    return length_s * min(max(column, 0), width - 1) / (width - 1) if width > 1 else Fraction(0)


def _axis_rows(axis: Axis, length_s: Fraction, width: int, lines: int) -> Iterator[PictureRow]:
    times_s = np.linspace(0.0, float(length_s), 2 * width)
    curve = braille_curve(axis.at(times_s), lines)
    name = shorten(axis.name, LONGEST_LABEL)
    low, high = (f"{round(float(end), 1) + 0.0:.10g}" for end in (axis.positions.min(), axis.positions.max()))
    if lines == 1:
        labels = [f"{name} {low}…{high} {axis.unit}"]
    else:
        room = max(len(low), len(high))
        labels = [f"{name} {high:>{room}} {axis.unit}", *[""] * (lines - 2)]
        labels.append(f"{'':{len(name)}} {low:>{room}} {axis.unit}")
    for label, text in zip(labels, curve, strict=True):
        yield PictureRow(label, "move", text)


def _light_rows(
    timeline: Timeline, width: int, lines: int, slots_at: SlotsAt, scale: LaneScale
) -> Iterator[PictureRow]:
    packets = np.rint(np.linspace(0, timeline.packet_count - 1, width)).astype(np.int64)
    levels = timeline.patch.decode(slots_at(packets))
    for fixture in timeline.patch.lights:
        lanes = level_blocks(scale.heights(levels[:, fixture.columns["intensity"]], fixture.dimmer), lines)
        for line, text in enumerate(lanes):
            yield PictureRow(shorten(fixture.name, LONGEST_LABEL) if line == lines - 1 else "", "light", text)


def time_ruler(length_s: Fraction, width: int) -> str:
    """Return a ruler with a mark every so many seconds or minutes, as dense as its words allow."""
    for step_s in STEPS_S:
        marks = [(n * step_s, n) for n in range(min(int(length_s / step_s), width) + 1)]
        words = [(column_of(time_s, length_s, width), _time_word(time_s, step_s)) for time_s, _ in marks]
        if _have_room(words):
            return _written(words, width)
    return _written([(0, "0")], width)


def _time_word(time_s: Fraction, step_s: Fraction) -> str:
    if time_s == 0:
        return "0"
    minutes = time_s / 60
    return f"{float(minutes):g} min" if step_s >= 60 else f"{float(time_s):g} s"


def _have_room(words: Sequence[tuple[int, str]]) -> bool:
    pairs = pairwise(words)
    return all(column + len(word) + 2 <= after for (column, word), (after, _) in pairs)


def _written(words: Sequence[tuple[int, str]], width: int) -> str:
    cells = [" "] * width
    for column, word in words:
        if column + len(word) <= width:
            cells[column : column + len(word)] = word
    return "".join(cells)


def one_cell_each(text: str) -> str:
    """Return a text with a dot in place of every character that may not be one cell wide."""
    return "".join("·" if east_asian_width(one) in "WF" or combining(one) else one for one in text)


def cue_marks(marks: Sequence[tuple[str, int]], width: int) -> str:
    """Return the names of cues at their columns, in order; where one has no room it is a dot."""
    cells = [" "] * width
    free = 0
    for index, (name, column) in enumerate(marks):
        after = next((other for _, other in marks[index + 1 :] if other > column), width + FARTHEST_SHIFT)
        word = one_cell_each(shorten(name, LONGEST_NAME))
        start = min(max(column, free), width - len(word))
        fits = start >= free and start - column <= FARTHEST_SHIFT and start + len(word) < after + FARTHEST_SHIFT
        if fits:
            cells[start : start + len(word)] = word
            free = start + len(word) + 1
        else:
            start = max(column, free - 1)
            if start < width and start - column <= FARTHEST_DOT:
                cells[start] = "·"
                free = start + 1
    return "".join(cells)
