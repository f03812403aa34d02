"""The slots of one universe: numbers with a bar each, sixteen or more to a line, drawn line by line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from cuedeck.report.lanes import BLOCKS
from cuedeck.show.units import FULL_UNIVERSE
from cuedeck.tui.segments import runs

HEAD_CELLS = 5
SLOT_CELLS = 6
"""A value of three digits and its bar, between blanks or brackets."""
DARK = bytes(FULL_UNIVERSE)


class SlotGrid(ScrollView, can_focus=False):
    """Shows 512 values; those of one light stand between brackets. Only lines that have changed are drawn again."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "slot-grid--head",
        "slot-grid--value",
        "slot-grid--zero",
        "slot-grid--chosen",
    }
    DEFAULT_CSS = """
    SlotGrid { height: 1fr; overflow-x: hidden; scrollbar-size: 0 1; padding: 0 1; }
    SlotGrid { border-top: solid $panel; border-title-color: $quiet; }
    .slot-grid--head { color: $quiet; }
    .slot-grid--value { color: $lane; }
    .slot-grid--zero { color: $quiet; }
    .slot-grid--chosen { color: $foreground; text-style: bold; }
    """

    class SlotPointed(Message):
        """A slot was pointed at."""

        def __init__(self, slot: int) -> None:
            self.slot = slot
            super().__init__()

    def __init__(self, *, id: str) -> None:  # noqa: A002
        super().__init__(id=id)
        self._values = DARK
        self._chosen = range(0)

    @property
    def per_line(self) -> int:
        """How many slots stand in a line."""
        fitting = max((self.size.width - HEAD_CELLS) // SLOT_CELLS, 1)
        return next((count for count in (32, 20, 16, 10, 8) if count <= fitting), fitting)

    def show(self, values: bytes, chosen: range) -> None:
        """Show values of slots 1 to 512, and the slots of the light that is chosen."""
        before, self._values = self._values, values.ljust(FULL_UNIVERSE, b"\0")
        if chosen != self._chosen:
            self._chosen = chosen
            self.refresh()
            self._bring_into_view()
            return
        per = self.per_line
        lines = {slot // per for slot in range(FULL_UNIVERSE) if before[slot] != self._values[slot]}
        top = self.scroll_offset.y
        regions = [Region(0, line - top, self.size.width, 1) for line in lines if 0 <= line - top < self.size.height]
        if regions:
            self.refresh(*regions)

    def _bring_into_view(self) -> None:
        if self._chosen and self.size.height:
            line = (self._chosen.start - 1) // self.per_line
            top = self.scroll_offset.y
            if not top <= line < top + self.size.height:
                self.scroll_to(y=max(line - 1, 0), animate=False)

    def on_resize(self) -> None:
        """Share the slots out anew."""
        lines = -(-FULL_UNIVERSE // self.per_line)
        self.virtual_size = Size(self.size.width, lines)
        self._bring_into_view()
        self.refresh()

    def on_click(self, event: events.Click) -> None:
        """Say which slot was pointed at."""
        line, column = event.y - self.gutter.top + self.scroll_offset.y, event.x - self.gutter.left - HEAD_CELLS
        slot = line * self.per_line + column // SLOT_CELLS + 1
        if column >= 0 and column // SLOT_CELLS < self.per_line and 1 <= slot <= FULL_UNIVERSE:
            self.post_message(self.SlotPointed(slot))

    def render_line(self, y: int) -> Strip:
        """Return one line of the grid."""
        first = (y + self.scroll_offset.y) * self.per_line + 1
        if first > FULL_UNIVERSE:
            return Strip.blank(self.size.width, self.rich_style)
        head = self.get_component_rich_style("slot-grid--head")
        segments = [*runs(f"{first:>{HEAD_CELLS - 1}} ", head)]
        for text, style in self._cells(range(first, min(first + self.per_line, FULL_UNIVERSE + 1))):
            segments += runs(text, style)
        return Strip(_joined(segments)).adjust_cell_length(self.size.width, self.rich_style)

    def _cells(self, slots: range) -> Iterator[tuple[str, Style]]:
        for slot in slots:
            value = self._values[slot - 1]
            bar = BLOCKS[-(-value * 8 // 255)] if value else "·"
            is_chosen = slot in self._chosen
            name = "chosen" if is_chosen else "value" if value else "zero"
            start = "[" if is_chosen and slot == self._chosen[0] else " "
            end = "]" if is_chosen and slot == self._chosen[-1] else " "
            yield f"{start}{value:>3}{bar}{end}", self.get_component_rich_style(f"slot-grid--{name}")


def _joined(segments: list[Segment]) -> list[Segment]:
    """Return segments with neighbours of one style as one: fewer runs cost the terminal less."""
    joined: list[Segment] = []
    for segment in segments:
        if joined and joined[-1].style == segment.style:
            joined[-1] = Segment(joined[-1].text + segment.text, segment.style)
        else:
            joined.append(segment)
    return joined
