"""The shot from left to right: the move, the time, a lane for each light, the cues, and the playhead."""

from __future__ import annotations

from collections.abc import Iterator
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

from cuedeck.report.lane_scale import LaneScale
from cuedeck.report.picture import LONGEST_LABEL, PictureRow, column_of, shot_picture, time_at
from cuedeck.rig.dimmer import Dimmer
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
    }

    moment: reactive[Moment | None] = reactive(None, repaint=False)
    """What is to be seen."""
    first_lane: reactive[int] = reactive(0)
    """The light whose lane is the uppermost, where not all find room."""

    scale: reactive[LaneScale] = reactive(LaneScale.PERCENT, repaint=False)
    """What the lanes show."""

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
        self._dimmers: dict[str, Dimmer] = {}
        self._drawn_from: tuple[ShotPlan, Timeline, int] | None = None

    def show_shot(self, plan: ShotPlan, timeline: Timeline, share: Share, width: int) -> None:
        """Draw a timeline in its share of the screen, `width` cells wide."""
        self._share, self._length_s = share, timeline.length_s
        self._drawn_from = plan, timeline, width
        self._dimmers = {shorten(one.name, LONGEST_LABEL): one.dimmer for one in timeline.patch.lights}
        labels = shot_picture(plan, timeline, 1, share.move_lines)
        longest = max(len(row.label) + (LEVEL_CELLS if row.kind == "light" else 1) for row in labels)
        most = min(MOST_LABEL_CELLS, width // 3)
        self._label_cells = min(max(longest, FEWEST_LABEL_CELLS), most)
        self._rows = shot_picture(
            plan, timeline, self._picture_cells(width), share.move_lines, share.lane_lines, scale=self.scale
        )
        self.styles.height = share.shot_lines
        self.first_lane = min(self.first_lane, self._last_first_lane)
        self._follow()
        self.refresh()

    def watch_scale(self) -> None:
        """Draw the lanes on another scale."""
        if self._drawn_from is not None:
            plan, timeline, width = self._drawn_from
            self.show_shot(plan, timeline, self._share, width)

    def scroll_lanes(self, lights: int) -> None:
        """Bring other lights into view, where not all find room."""
        self.first_lane = min(max(self.first_lane + lights, 0), self._last_first_lane)

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
        glyph = playhead_glyph(row, self._column)
        is_word = glyph not in PLAYHEAD.values() and bool(glyph.strip())
        segments = [
            *runs(self._label(row) + " ", self.get_component_rich_style("shot-view--label")),
            *self._drawn(row, row.text[: self._column], style),
            Segment(glyph, head + Style(reverse=True) if is_word else head),
            *self._drawn(row, row.text[self._column + 1 :], style),
        ]
        return Strip(segments).adjust_cell_length(self.size.width, self.rich_style)

    def on_click(self, event: events.Click) -> None:
        """Point at a place in the shot."""
        column = event.x - self._label_cells - 1
        if column >= 0 and self._rows:
            self.post_message(self.PlacePointed(time_at(column, self._length_s, len(self._rows[0].text))))

    def on_mouse_scroll_down(self) -> None:
        """Bring the lights below into view."""
        self.scroll_lanes(1)

    def on_mouse_scroll_up(self) -> None:
        """Bring the lights above into view."""
        self.scroll_lanes(-1)

    def _picture_cells(self, width: int) -> int:
        return max(width - self._label_cells - 1, 1)

    def _follow(self) -> None:
        if self.moment is not None and self._rows:
            self._column = column_of(self.moment.time_s, self._length_s, len(self._rows[0].text))
            levels = {shorten(state.name, LONGEST_LABEL): state.level for state in self.moment.states}
            self._levels = {
                name: self.scale.level(level, self._dimmers[name])
                for name, level in levels.items()
                if name in self._dimmers
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
            return f"{set_cell_size(clipped(row.label, room - LEVEL_CELLS), room - LEVEL_CELLS)}{level:>{LEVEL_CELLS}}"
        says_scale = row.kind == "time" and self.scale is not LaneScale.PERCENT
        label = self.scale.words if says_scale else row.label
        if row.kind == "time" and self._last_first_lane:
            count = len(self._lights) // self._share.lane_lines
            last = self.first_lane + self._lanes_in_view
            label = (
                f"{self.scale.value if says_scale else 'lights'} {self.first_lane + 1}-{last} of {count} ↑↓"
                if self._lanes_in_view
                else f"{count} not shown"
            )
        return set_cell_size(clipped(label, room), room)


def playhead_glyph(row: PictureRow, column: int) -> str:
    """Return what the playhead draws in a row: among words it keeps what is there, and beside them a blank."""
    if row.kind in ("time", "cues") and row.text[max(column - 1, 0) : column + 2].strip():
        return row.text[column : column + 1]
    return PLAYHEAD[row.kind]
