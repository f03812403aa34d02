"""Lines of text with two ends: the top line and the status line."""

from __future__ import annotations

from rich.cells import cell_len
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from cuedeck.tui.words import two_ends


class EndsLine(Widget):
    """One line, a text at each end."""

    left: reactive[str] = reactive("")
    """What stands at the left."""
    long_left: reactive[str] = reactive("")
    """What stands at the left instead where all of it and the first of the right ones find room."""
    rights: reactive[tuple[str, ...]] = reactive(("",))
    """What stands at the right: the first that leaves the left its room, else the last."""

    def render(self) -> Content:
        """Return the line."""
        width = self.size.width
        if self.long_left and cell_len(self.long_left) + 2 + cell_len(self.rights[0]) <= width:
            return Content(two_ends(self.long_left, self.rights[0], width))
        room = width - cell_len(self.left) - 2
        right = next((right for right in self.rights if cell_len(right) <= room), self.rights[-1])
        return Content(two_ends(self.left, right, width))
