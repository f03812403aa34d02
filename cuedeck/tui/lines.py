"""Lines of text with two ends: the top line and the status line."""

from __future__ import annotations

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from cuedeck.tui.words import two_ends


class EndsLine(Widget):
    """One line, a text at each end."""

    left: reactive[str] = reactive("")
    """What stands at the left."""
    rights: reactive[tuple[str, ...]] = reactive(("",))
    """What stands at the right: the first that leaves the left its room, else the last."""

    def render(self) -> Content:
        """Return the line."""
        room = self.size.width - len(self.left) - 2
        right = next((right for right in self.rights if len(right) <= room), self.rights[-1])
        return Content(two_ends(self.left, right, self.size.width))
