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
    right: reactive[str] = reactive("")
    """What stands at the right; it keeps its room."""

    def render(self) -> Content:
        """Return the line."""
        return Content(two_ends(self.left, self.right, self.size.width))
