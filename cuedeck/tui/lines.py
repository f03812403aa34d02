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
    short_lefts: reactive[tuple[str, ...]] = reactive(())
    """What may stand at the left instead, from the longest to the shortest, to keep the last right but one."""
    rights: reactive[tuple[str, ...]] = reactive(("",))
    """What stands at the right: the first that leaves the left its room, else the last."""

    def render(self) -> Content:
        """Return the line."""
        width = self.size.width
        if self.long_left and cell_len(self.long_left) + 2 + cell_len(self.rights[0]) <= width:
            return Content(two_ends(self.long_left, self.rights[0], width))
        whole = [(self.left, right) for right in self.rights[:-1]]
        short = [(left, self.rights[-2]) for left in self.short_lefts]
        fitting = (ends for ends in whole + short if cell_len(ends[0]) + 2 + cell_len(ends[1]) <= width)
        return Content(two_ends(*next(fitting, (self.left, self.rights[-1])), width))
