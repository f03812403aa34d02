"""The shot from left to right: the move, the time, a lane for each light, the cues, and the playhead."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from itertools import groupby
from typing import ClassVar

from rich.cells import set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Region
from textual.message import Message
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from cuedeck.report.lanes import LaneScale
from cuedeck.report.picture import (
    LONGEST_LABEL,
    LONGEST_NAME,
    PictureRow,
    column_of,
    one_cell_each,
    shot_picture,
    time_at,
)
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.show.units import shorten
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timeline.timeline import Timeline
from cuedeck.tui.rehearsal import Moment
from cuedeck.tui.segments import runs
from cuedeck.tui.sizes import Share
from cuedeck.tui.words import clipped

FEWEST_LABEL_CELLS = 12
MOST_LABEL_CELLS = 26
LEVEL_CELLS = 6
SIGN_CELLS = 8
"""How far apart the same sign is drawn again along a lane."""
PLAYHEAD = {"time": "▼", "move": "┃", "light": "┃", "cues": "▲"}
FULL = "▔"
"""Where a lane of two lines would be full."""


class ShotView(Widget):
    """Draws the rows of a picture; while the shot runs, only the playhead's columns and the levels are redrawn."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "shot-view--label",
        "shot-view--move",
        "shot-view--time",
        "shot-view--light",
        "shot-view--other-light",
        "shot-view--full",
        "shot-view--cues",
        "shot-view--playhead",
        "shot-view--chosen",
    }

    marks: reactive[Mapping[str, str]] = reactive(dict)
    """The signs of each light, one for each column of its lane; blank where there is none."""
    moment: reactive[Moment | None] = reactive(None, repaint=False)
    """What is to be seen."""
    first_lane: reactive[int] = reactive(0)
    """The light whose lane is the uppermost, where not all find room."""

    chosen_cue: reactive[str | None] = reactive(None)
    """The cue that keys act on."""
    chosen_lights: reactive[tuple[str, ...]] = reactive(())
    """The lights that keys act on."""

    class CuePointed(Message):
        """A cue was pointed at."""

        def __init__(self, name: str) -> None:
            self.name = name
            super().__init__()

    class CueDragged(Message):
        """A cue was dragged to a place in the shot, and let go there."""

        def __init__(self, name: str, time_s: Fraction) -> None:
            self.name, self.time_s = name, time_s
            super().__init__()

    class LightPointed(Message):
        """The name of a light was pointed at."""

        def __init__(self, name: str) -> None:
            self.name = name
            super().__init__()

    class PlacePointed(Message):
        """A place in the shot was pointed at."""

        def __init__(self, time_s: Fraction) -> None:
            self.time_s = time_s
            super().__init__()

    def __init__(self, *, id: str) -> None:  # noqa: A002
        super().__init__(id=id)
        self._rows: list[PictureRow] = []
        self._share = Share(4, 1, 1)
        self._length_s = Fraction(0)
        self._label_cells = FEWEST_LABEL_CELLS
        self._column = 0
        self._levels: dict[str, str] = {}
        self._cue_columns: dict[str, int] = {}
        self._names: list[str] = []
        """The lights, whole: labels are shortened."""
        self._fixtures: dict[str, PatchedFixture] = {}
        self._whole_names: dict[str, str] = {}
        self._scale = LaneScale.PERCENT
        self._dragged: str | None = None
        self._dragged_to: int | None = None

    def show_shot(
        self, plan: ShotPlan, timeline: Timeline, share: Share, width: int, scale: LaneScale = LaneScale.PERCENT
    ) -> None:
        """Draw a timeline in its share of the screen, `width` cells wide."""
        self._share, self._length_s, self._scale = share, timeline.length_s, scale
        labels = shot_picture(plan, timeline, 1, share.move_lines)
        longest = max(len(row.label) + (LEVEL_CELLS if row.kind == "light" else 1) for row in labels)
        most = min(MOST_LABEL_CELLS, width // 3)
        self._label_cells = min(max(longest, FEWEST_LABEL_CELLS), most)
        self._rows = shot_picture(
            plan, timeline, self._picture_cells(width), share.move_lines, share.lane_lines, scale=scale
        )
        cells = self._picture_cells(width)
        self._cue_columns = {cue.name: column_of(cue.start_s, timeline.length_s, cells) for cue in timeline.cues}
        self._names = [fixture.name for fixture in plan.patch.lights]
        self._fixtures = {fixture.name: fixture for fixture in plan.patch.lights}
        self._whole_names = {shorten(name, LONGEST_LABEL): name for name in self._fixtures}
        self.styles.height = share.shot_lines
        self.first_lane = min(self.first_lane, self._last_first_lane)
        self._follow()
        self.refresh()

    @property
    def picture_cells(self) -> int:
        """How many columns the picture has."""
        return len(self._rows[0].text) if self._rows else 1

    def scroll_lanes(self, lights: int) -> None:
        """Bring other lights into view, where not all find room."""
        self.first_lane = min(max(self.first_lane + lights, 0), self._last_first_lane)

    def watch_chosen_lights(self, chosen: tuple[str, ...]) -> None:
        """Bring the light that is chosen into view."""
        if chosen and chosen[0] in self._names and self._lanes_in_view:
            lane = self._names.index(chosen[0])
            lowest = max(lane - self._lanes_in_view + 1, 0)
            self.first_lane = min(max(self.first_lane, lowest), lane, self._last_first_lane)

    def watch_moment(self) -> None:
        """Redraw the columns the playhead leaves and enters, and the levels that have changed."""
        column, levels = self._column, self._levels
        self._follow()
        height, left = self.size.height, self._label_cells + 1
        regions = [Region(left + x, 0, 1, height) for x in {column, self._column} if column != self._column]
        for y, row in enumerate(self._visible()):
            if row.kind == "light" and levels.get(row.label) != self._levels.get(row.label):
                regions.append(Region(0, y, left, 1))
        if regions:
            self.refresh(*regions)

    def render_line(self, y: int) -> Strip:
        """Return one row, the playhead in it."""
        rows = self._visible()
        if y >= len(rows):
            return Strip.blank(self.size.width, self.rich_style)
        row = rows[y]
        style = self.get_component_rich_style(f"shot-view--{self._style_of(y, row)}")
        head = self.get_component_rich_style("shot-view--playhead")
        text = self._with_signs(row)
        glyph = playhead_glyph(row, self._column)
        is_word = glyph not in PLAYHEAD.values() and bool(glyph.strip())
        chosen = self.get_component_rich_style("shot-view--chosen")
        label = chosen if self._is_chosen(row) else self.get_component_rich_style("shot-view--label")
        if row.kind == "cues" and self._marked is not None:
            return Strip([*runs(self._label(row) + " ", label), *self._cues_row(row, style, head, chosen)])
        segments = [
            *runs(self._label(row) + " ", label),
            *self._drawn(row, text[: self._column], style),
            Segment(glyph, head + Style(reverse=True) if is_word else head),
            *self._drawn(row, text[self._column + 1 :], style),
        ]
        return Strip(segments).adjust_cell_length(self.size.width, self.rich_style)

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """Take hold of a cue, choose a light, or point at a place in the shot."""
        rows, column = self._visible(), self._column_at(event)
        if event.button != 1 or event.y >= len(rows) or not self._rows:
            return
        row = rows[event.y]
        if column < 0:
            name = self._name_of(event.y)
            if name is not None:
                self.post_message(self.LightPointed(name))
        elif row.kind == "cues" and (near := self._cue_near(column)) is not None:
            self._dragged, self._dragged_to = near, None
            self.capture_mouse()
            self.post_message(self.CuePointed(near))
        else:
            self.post_message(self.PlacePointed(self._time_at(column)))

    def on_mouse_move(self, event: events.MouseMove) -> None:
        """Take the cue along."""
        column = self._column_at(event)
        if self._dragged is None or not self._rows or column == self._cue_columns.get(self._dragged):
            return
        self._dragged_to = min(max(column, 0), len(self._rows[0].text) - 1)
        self.refresh()

    def on_mouse_up(self) -> None:
        """Let go of the cue."""
        name, column = self._dragged, self._dragged_to
        self._dragged = self._dragged_to = None
        self.release_mouse()
        if name is not None and column is not None:
            self.post_message(self.CueDragged(name, self._time_at(column)))

    def _column_at(self, event: events.MouseEvent) -> int:
        """Return the column of the picture under the pointer; below 0 among the labels."""
        return event.x - self.gutter.left - self._label_cells - 1

    def _time_at(self, column: int) -> Fraction:
        return time_at(column, self._length_s, len(self._rows[0].text))

    def _cue_near(self, column: int) -> str | None:
        """Return the cue whose name is drawn at a column, or next to it."""
        names = [name for name, start in self._cue_columns.items() if -1 <= column - start <= max(len(name), 2)]
        return min(names, key=lambda name: abs(self._cue_columns[name] - column), default=None)

    def _name_of(self, y: int) -> str | None:
        """Return the light of a line."""
        above = len(self._rows) - len(self._lights) - 1
        lane = self.first_lane + (y - above) // self._share.lane_lines
        is_lane = y >= above and self._visible()[y].kind == "light"
        return self._names[lane] if is_lane and lane < len(self._names) else None

    def on_mouse_scroll_down(self) -> None:
        """Bring the lights below into view."""
        self.scroll_lanes(1)

    def on_mouse_scroll_up(self) -> None:
        """Bring the lights above into view."""
        self.scroll_lanes(-1)

    @property
    def _marked(self) -> tuple[str, int] | None:
        """The cue that is chosen or dragged, and its column."""
        if self._dragged is not None and self._dragged_to is not None:
            return self._dragged, self._dragged_to
        name = self.chosen_cue
        return (name, self._cue_columns[name]) if name is not None and name in self._cue_columns else None

    def _is_chosen(self, row: PictureRow) -> bool:
        return row.kind == "light" and row.label in {shorten(name, LONGEST_LABEL) for name in self.chosen_lights}

    def _with_signs(self, row: PictureRow) -> str:
        """Return a lane with its signs, each where it begins and then now and again."""
        signs = self.marks.get(self._whole_names.get(row.label, ""), "") if row.kind == "light" and row.label else ""
        if not signs.strip():
            return row.text
        cells = list(row.text)
        for sign, part in groupby(range(min(len(signs), len(cells))), key=signs.__getitem__):
            for column in list(part)[::SIGN_CELLS] if sign != " " else ():
                cells[column] = sign
        return "".join(cells)

    def _cues_row(self, row: PictureRow, style: Style, head: Style, chosen: Style) -> Iterator[Segment]:
        """Yield the cues with the one that is chosen in brackets, over whatever stands beside it."""
        name, column = self._marked or ("", 0)
        word = f"[{one_cell_each(shorten(name, LONGEST_NAME))}]"
        width = len(row.text)
        start = min(max(column - 1, 0), max(width - len(word), 0))
        text = f"{row.text[:start]}{word}{row.text[start + len(word) :]}"[:width]
        cells = [(text[at], head if at == self._column else style) for at in range(width)]
        glyph = playhead_glyph(row, self._column)
        if not start <= self._column < start + len(word):
            cells[self._column] = (glyph, head)
        for at in range(start, min(start + len(word), width)):
            cells[at] = (text[at], chosen)
        for one, part in groupby(cells, key=lambda cell: cell[1]):
            yield from runs("".join(character for character, _ in part), one)

    def _picture_cells(self, width: int) -> int:
        return max(width - self._label_cells - 1, 1)

    def _follow(self) -> None:
        if self.moment is not None and self._rows:
            self._column = column_of(self.moment.time_s, self._length_s, len(self._rows[0].text))
            lit = [state for state in self.moment.states if state.name in self._fixtures]
            dimmers = {state.name: self._fixtures[state.name].dimmer for state in lit}
            self._levels = {
                shorten(one.name, LONGEST_LABEL): self._scale.level(one.level, dimmers[one.name]) for one in lit
            }

    @property
    def _lights(self) -> list[PictureRow]:
        return [row for row in self._rows if row.kind == "light"]

    @property
    def _lanes_in_view(self) -> int:
        others = len(self._rows) - len(self._lights)
        return max(self._share.shot_lines - others, 0) // self._share.lane_lines

    @property
    def _last_first_lane(self) -> int:
        return max(len(self._lights) // self._share.lane_lines - self._lanes_in_view, 0)

    def _visible(self) -> list[PictureRow]:
        per_lane = self._share.lane_lines
        first, end = self.first_lane * per_lane, (self.first_lane + self._lanes_in_view) * per_lane
        above = [row for row in self._rows if row.kind in ("move", "time")]
        return [*above, *self._lights[first:end], *(row for row in self._rows if row.kind == "cues")]

    def _style_of(self, y: int, row: PictureRow) -> str:
        """Return the style of a row; neighbouring lanes differ, so that full ones do not run together."""
        if row.kind != "light":
            return row.kind
        above = len(self._rows) - len(self._lights) - 1
        lane = self.first_lane + (y - above) // self._share.lane_lines
        return "other-light" if lane % 2 else "light"

    def _drawn(self, row: PictureRow, text: str, style: Style) -> Iterator[Segment]:
        """Yield some of a row; over a lane of two lines a faint edge shows how high full would be."""
        if row.kind != "light" or row.label:
            yield from runs(text, style)
            return
        full = self.get_component_rich_style("shot-view--full")
        for is_blank, part in groupby(text, key=" ".__eq__):
            characters = "".join(part)
            yield Segment(FULL * len(characters), full) if is_blank else Segment(characters, style)

    def _label(self, row: PictureRow) -> str:
        room = self._label_cells
        if row.kind == "light" and row.label:
            level = self._levels.get(row.label, "")
            if self._is_chosen(row):
                name = clipped(f"▸{row.label}", room - LEVEL_CELLS)
                return f"{set_cell_size(name, room - LEVEL_CELLS)}{level:>{LEVEL_CELLS}}"
            return f"{set_cell_size(clipped(row.label, room - LEVEL_CELLS), room - LEVEL_CELLS)}{level:>{LEVEL_CELLS}}"
        label = row.label
        if row.kind == "time" and self._scale is not LaneScale.PERCENT:
            label = self._scale.words
        if row.kind == "time" and self._last_first_lane:
            count = len(self._lights) // self._share.lane_lines
            last = self.first_lane + self._lanes_in_view
            label = (
                f"lights {self.first_lane + 1}-{last} of {count} ↑↓" if self._lanes_in_view else f"{count} not shown"
            )
        return set_cell_size(clipped(label, room), room)


def playhead_glyph(row: PictureRow, column: int) -> str:
    """Return what the playhead draws in a row: among words it keeps what is there, and beside them a blank."""
    if row.kind in ("time", "cues") and row.text[max(column - 1, 0) : column + 2].strip():
        return row.text[column : column + 1]
    return PLAYHEAD[row.kind]
