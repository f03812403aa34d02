"""The set from above as cells of a screen: where each thing stands, and where its words fit.

Right is to the right, away from the camera is up the screen. Each direction has its own scale: what matters on
a screen is who stands left of whom, not the exact distance.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from rich.cells import cell_len

from cuedeck.timeline.plan import ShotPlan
from cuedeck.timeline.positions import PRODUCT_POSITION, Position, axis_of, position_of

PRODUCT = "\0product"
CAMERA = "\0camera"
"""Names that no light can have."""
PATH_SAMPLES = 64
GLYPH_CELLS = 3
"""A glyph with a cell of its colour on either side."""

SHORT_TEXTS = 3
"""How many of a thing's texts, from the shortest, are tried before the longest."""
BESIDE_CELLS = 4
"""Cells on either side of a glyph that the words of another keep away from."""


@dataclass(frozen=True)
class Cell:
    """A place on the screen."""

    column: int
    line: int


@dataclass(frozen=True)
class Stage:
    """Scales of a set for a screen area, wide enough for all that happens in the shot."""

    columns: int
    lines: int
    left_m: float
    right_m: float
    near_m: float
    far_m: float

    def cell(self, spot: Position) -> Cell:
        """Return the cell of a place, the middle one of its glyph."""
        margin = min(GLYPH_CELLS, self.columns // 4)
        across = _share(spot.x_m, self.left_m, self.right_m)
        up = _share(spot.y_m, self.near_m, self.far_m)
        column = margin + round(across * max(self.columns - 1 - 2 * margin, 0))
        return Cell(column, round((1 - up) * max(self.lines - 1, 0)))


def _share(value: float, low: float, high: float) -> float:
    return min(max((value - low) / (high - low), 0.0), 1.0)


def stage_for(plan: ShotPlan, columns: int, lines: int) -> Stage:
    """Return the stage of a shot: the product in the middle from left to right, everything in view."""
    end_s = float(plan.move.duration_s) if plan.move else 0.0
    everywhere = [PRODUCT_POSITION, Position(*plan.show.camera.at)]
    for light in plan.patch.lights:
        times_s = np.linspace(0, end_s, PATH_SAMPLES).tolist() if axis_of(plan, light.name) else [0.0]
        everywhere += [position_of(plan, light.name, time_s) for time_s in times_s]
    half = max(0.1, *(abs(spot.x_m) for spot in everywhere))
    near, far = min(spot.y_m for spot in everywhere), max(spot.y_m for spot in everywhere)
    return Stage(columns, lines, -half, half, near, max(far, near + 0.1))


@dataclass(frozen=True)
class Words:
    """A text on the stage, and the thing it is about."""

    about: str
    start: Cell
    text: str
    variant: int = 0
    """Which of the thing's texts it is."""
    form: str = "{}"
    """The text with the arrow that points at the thing, where there is one."""

    def again(self, texts: Sequence[str]) -> Words:
        """Return the words with the same one of other texts, just as wide."""
        return replace(self, text=self.form.replace("{}", texts[self.variant]))


class TakenCells:
    """The cells of a stage that are taken."""

    def __init__(self, stage: Stage) -> None:
        self._stage = stage
        self._taken: set[tuple[int, int]] = set()
        self._beside: dict[tuple[int, int], str] = {}

    def is_free(self, start: Cell, width: int) -> bool:
        """Whether so many cells from a start are on the stage and free."""
        end = start.column + width
        if start.column < 0 or end > self._stage.columns or not 0 <= start.line < self._stage.lines:
            return False
        return not any((column, start.line) in self._taken for column in range(start.column, end))

    def release(self, start: Cell, width: int) -> None:
        """Give so many cells from a start back."""
        self._taken.difference_update((column, start.line) for column in range(start.column, start.column + width))

    def take_glyph(self, name: str, cell: Cell) -> None:
        """Take the cells of a glyph; those beside it are for its own words only."""
        self.take(Cell(cell.column - 1, cell.line), GLYPH_CELLS)
        for column in range(cell.column - 1 - BESIDE_CELLS, cell.column + 2 + BESIDE_CELLS):
            self._beside.setdefault((column, cell.line), name)

    def has_room(self, name: str, start: Cell, width: int) -> bool:
        """Whether a text about a thing fits at a start, a blank on either side and away from other glyphs."""
        cells = [(column, start.line) for column in range(start.column, start.column + width)]
        if any(self._beside.get(cell, name) != name for cell in cells):
            return False
        first = max(start.column - 1, 0)
        end = min(start.column + width + 1, self._stage.columns)
        return self.is_free(start, width) and self.is_free(Cell(first, start.line), end - first)

    def take(self, start: Cell, width: int) -> None:
        """Take so many cells from a start."""
        self._taken.update((column, start.line) for column in range(start.column, start.column + width))


def place_glyphs(stage: Stage, floor: TakenCells, where: Mapping[str, Position]) -> dict[str, Cell]:
    """Return the middle cell of each glyph; of two in one place the second moves aside."""
    placed: dict[str, Cell] = {}
    for name, spot in where.items():
        cell = stage.cell(spot)
        for near in _near(cell):
            if floor.is_free(Cell(near.column - 1, near.line), GLYPH_CELLS):
                cell = near
                break
        floor.take_glyph(name, cell)
        placed[name] = cell
    return placed


def _near(cell: Cell) -> Iterator[Cell]:
    for down in (0, 1, -1):
        for across in (0, 3, -3, 6, -6, 9, -9):
            yield Cell(cell.column + across, cell.line + down)


def place_words(floor: TakenCells, glyphs: Mapping[str, Cell], texts: Mapping[str, Sequence[str]]) -> list[Words]:
    """Return each thing's text beside, under or over its glyph, as long as there is room for.

    First everything gets a short text, then each its longest where that still fits.
    """
    short = {
        name: _placed(floor, name, cell, list(enumerate(texts.get(name, ())))[-SHORT_TEXTS:])
        for name, cell in glyphs.items()
    }
    placed: list[Words] = []
    for name, words in short.items():
        if words is None:
            continue
        floor.release(words.start, cell_len(words.text))
        longer = _placed(floor, name, glyphs[name], [(0, texts[name][0])]) or words
        floor.take(longer.start, cell_len(longer.text))
        placed.append(longer)
    return placed


def _placed(floor: TakenCells, name: str, cell: Cell, texts: Sequence[tuple[int, str]]) -> Words | None:
    for variant, text in texts:
        for words in _around(name, cell, text, variant):
            width = cell_len(words.text)
            if floor.has_room(name, words.start, width):
                floor.take(words.start, width)
                return words
    return None


def _around(name: str, cell: Cell, text: str, variant: int) -> Iterator[Words]:
    """Yield a text at each place about a glyph; under and over it, an arrow in its column points at it."""
    width = cell_len(text)
    yield Words(name, Cell(cell.column + 3, cell.line), text, variant)
    yield Words(name, Cell(cell.column - 2 - width, cell.line), text, variant)
    for line, arrow in ((cell.line + 1, "↑"), (cell.line - 1, "↓")):
        yield Words(name, Cell(cell.column, line), f"{arrow} {text}", variant, f"{arrow} {{}}")
        yield Words(name, Cell(cell.column - width - 1, line), f"{text} {arrow}", variant, f"{{}} {arrow}")
