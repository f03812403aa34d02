"""The set from above: every light at its place with its level and colour, the product and the camera."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Region
from textual.message import Message
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from cuedeck.light.screen import Rgb, light_of_screen_colour, relative_luminance, screen_colour_of_light
from cuedeck.rig.state import FixtureState
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timeline.positions import PRODUCT_POSITION, Position, axis_of, positions
from cuedeck.tui.look import GLOW
from cuedeck.tui.rehearsal import Moment
from cuedeck.tui.segments import runs
from cuedeck.tui.stage import (
    CAMERA,
    PRODUCT,
    Cell,
    Stage,
    TakenCells,
    Words,
    place_glyphs,
    place_words,
    stage_for,
)
from cuedeck.tui.words import clipped, colour_text, level_shape, level_text

LONGEST_NAME = 24
POINTED_CELLS = 4
"""How far from its glyph a light can be pointed at."""
WORD_CELLS = 12
"""Characters of a light's name where room is short."""


@dataclass(frozen=True)
class Mark:
    """Characters on one line of the set, and how they look."""

    column: int
    text: str
    style: Style


class SetView(Widget):
    """Draws the set line by line; only lines that differ from those on the screen are drawn again."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"set-view--words", "set-view--thing"}

    moment: reactive[Moment | None] = reactive(None, repaint=False)
    """What is to be seen."""

    chosen: reactive[tuple[str, ...]] = reactive((), repaint=False)
    """The lights that keys act on."""

    class LightPointed(Message):
        """A light was pointed at."""

        def __init__(self, name: str) -> None:
            self.name = name
            super().__init__()

    def __init__(self, plan: ShotPlan | None, *, id: str) -> None:  # noqa: A002
        super().__init__(id=id)
        self.border_title = "set, from above"
        self._plan = plan
        self._stage: Stage | None = None
        self._lines: list[list[Mark]] = []
        self._cells: dict[str, Cell] = {}
        self._placed: list[Words] = []
        self._placed_for: object = None

    def show_plan(self, plan: ShotPlan) -> None:
        """Show another shot."""
        self._plan, self._stage = plan, None

    def watch_moment(self) -> None:
        """Draw what has changed."""
        self._draw()

    def watch_chosen(self) -> None:
        """Draw the lights that are chosen."""
        self._draw()

    def on_click(self, event: events.Click) -> None:
        """Point at the light that is next to the pointer."""
        line, column = event.y - self.gutter.top, event.x - self.gutter.left
        near = {name: abs(cell.column - column) for name, cell in self._cells.items() if cell.line == line}
        name = min(near, key=near.__getitem__, default=None)
        if name is not None and near[name] <= POINTED_CELLS:
            self.post_message(self.LightPointed(name))

    def on_resize(self) -> None:
        """Lay the set out anew."""
        self._stage = None
        self._draw()

    def notify_style_update(self) -> None:
        """Draw in the new colours."""
        super().notify_style_update()
        self._draw()

    def render_line(self, y: int) -> Strip:
        """Return one line of the set."""
        segments: list[Segment] = []
        column = 0
        for mark in sorted(self._lines[y] if y < len(self._lines) else [], key=lambda mark: mark.column):
            if mark.column >= column:
                segments += runs(" " * (mark.column - column), self.rich_style) + runs(mark.text, mark.style)
                column = mark.column + cell_len(mark.text)
        return Strip(segments, column).adjust_cell_length(self.size.width, self.rich_style)

    def _draw(self) -> None:
        if self._plan is None or self.moment is None or not self.size:
            return
        if self._stage is None:
            self._stage = stage_for(self._plan, self.size.width, self.size.height)
            self._lines = []
            self.refresh()
        lines = self._drawn(self._plan, self._stage, self.moment)
        changed = [y for y, line in enumerate(lines) if y >= len(self._lines) or line != self._lines[y]]
        self._lines = lines
        self.refresh(*(Region(0, y, self.size.width, 1) for y in changed)) if changed else None

    def _drawn(self, plan: ShotPlan, stage: Stage, moment: Moment) -> list[list[Mark]]:
        camera = Position(*plan.show.camera.at)
        lights = positions(plan, float(moment.time_s))
        states = {state.name: state for state in moment.states}
        floor = TakenCells(stage)
        glyphs = place_glyphs(stage, floor, _still_first(plan, {PRODUCT: PRODUCT_POSITION, CAMERA: camera, **lights}))
        texts = {PRODUCT: ("product",), CAMERA: ("camera",)} | {name: _texts(states[name]) for name in states}
        lines: list[list[Mark]] = [[] for _ in range(stage.lines)]
        thing = self.get_component_rich_style("set-view--thing")
        words = self.get_component_rich_style("set-view--words")
        most = float(self.app.theme_variables.get(GLOW, "1"))
        self._cells = {name: cell for name, cell in glyphs.items() if name in states}
        for name, cell in glyphs.items():
            if 0 <= cell.line < stage.lines and name not in states:
                lines[cell.line].append(Mark(cell.column, "◇" if name == PRODUCT else "⌂", thing))
            elif 0 <= cell.line < stage.lines:
                shape = level_shape(states[name].level)
                shape = f"[{shape}]" if name in self.chosen else f" {shape} "
                lines[cell.line].append(Mark(cell.column - 1, shape, glow(states[name], most, words)))
        for one in self._words(floor, glyphs, texts):
            style = words if one.about in states else thing
            lines[one.start.line].append(Mark(one.start.column, one.text, style))
        return lines

    def _words(self, floor: TakenCells, glyphs: Mapping[str, Cell], texts: Mapping[str, Sequence[str]]) -> list[Words]:
        """Return where the words stand; found anew only when things move, or their words are of other widths."""
        key = (self._stage, tuple(glyphs.items()), tuple(tuple(map(cell_len, one)) for one in texts.values()))
        if key == self._placed_for:
            return [words.again(texts[words.about]) for words in self._placed]
        self._placed_for, self._placed = key, place_words(floor, glyphs, texts)
        return self._placed


def _still_first(plan: ShotPlan, lights: dict[str, Position]) -> dict[str, Position]:
    """Put the lights that ride an axis last: they make way, so that the words of the others stay in place."""
    return dict(sorted(lights.items(), key=lambda item: item[0] in plan.show.rig and _rides(plan, item[0])))


def _rides(plan: ShotPlan, name: str) -> bool:
    return axis_of(plan, name) is not None


def _texts(state: FixtureState) -> tuple[str, ...]:
    level = f"{level_text(state.level):>5}"
    name = clipped(state.name, LONGEST_NAME)
    return (
        f"{name} {level}  {colour_text(state)}",
        f"{name} {level}",
        f"{clipped(state.name, WORD_CELLS)} {level}",
        level,
    )


def glow(state: FixtureState, most: float, words: Style) -> Style:
    """Return the light's colour, as bright as its level but no brighter than `most`, with a glyph to be read on it.

    At 0 it has no colour of its own. Below 1 the glyph is no brighter than words are.
    """
    if most <= 0:
        return words + Style(bold=True)
    red, green, blue = (min(max(part * state.level**0.5, 16 / 255), 1.0) for part in state.screen_colour)
    if most < 1:
        red, green, blue = capped((red, green, blue), most)
        style = Style(bgcolor=_color((red, green, blue)))
        return Style(color="black") + style if relative_luminance((red, green, blue)) > most / 3 else words + style
    glyph = "black" if 0.3 * red + 0.59 * green + 0.11 * blue > 0.5 else "white"
    return Style(color=glyph, bgcolor=_color((red, green, blue)))


def capped(colour: Rgb, most: float) -> Rgb:
    """Return a screen colour with its light brought down in proportion, so that white has a luminance of `most`."""
    red, green, blue = (part * most for part in light_of_screen_colour(colour))
    return screen_colour_of_light((red, green, blue))


def _color(colour: Rgb) -> str:
    return "#" + "".join(f"{int(part * 255 + (0.5 if part < 1 else 0)):02x}" for part in colour)
