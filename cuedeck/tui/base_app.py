"""What an application owes its terminal: no text commands it, and what fails is left to the command to tell."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len
from rich.segment import Segment
from textual.app import App
from textual.color import Color
from textual.filter import LineFilter

from cuedeck.visible import visible_line


class VisibleText(LineFilter):
    """Makes visible, in lines as they were laid out, what no widget has made visible before.

    What takes no room there gets none: it is left out.
    """

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:  # noqa: ARG002
        """Return segments of the same width, with nothing in them that commands a terminal."""
        if all(segment.text.isprintable() for segment in segments):
            return segments
        return [Segment(_of_same_width(segment.text), segment.style, segment.control) for segment in segments]


def _of_same_width(text: str) -> str:
    if text.isprintable():
        return text
    return "".join(
        one if one.isprintable() else visible_line(one).ljust(cell_len(one)) if cell_len(one) else "" for one in text
    )


class BaseApp(App[None]):
    """An application on a terminal."""

    failure: Exception | None = None
    """What ended it, where it failed."""

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Return the last things that happen to a line before it is written."""
        return [*super().get_line_filters(), _VISIBLE_TEXT]

    def _handle_exception(self, error: Exception) -> None:
        self.failure = self.failure or error
        super()._handle_exception(error)

    def _fatal_error(self) -> None:
        """Leave: the command that opened this says what failed, and Textual's own picture of it is for programmers."""
        self._close_messages_no_wait()


_VISIBLE_TEXT = VisibleText()
