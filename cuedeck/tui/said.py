"""What was just done or refused, in a line above the last one, for some seconds: it covers no more than it says."""

from __future__ import annotations

import textwrap

from textual.content import Content
from textual.timer import Timer
from textual.widgets import Static

from cuedeck.visible import visible_line

SHOWN_S = 5.0
MOST_LINES = 3


class Said(Static):
    """Says one thing at a time; the newest takes the place of the one before."""

    DEFAULT_CSS = """
    Said { dock: bottom; height: 1; margin-bottom: 1; padding: 0 1; display: none; background: $panel; }
    Said.-saying { display: block; }
    Said.-warning { color: $warning; text-style: bold; }
    """

    text = ""
    """What it says."""
    _timer: Timer | None = None

    def say(self, text: str, width: int, *, is_warning: bool) -> None:
        """Say something on lines of some width."""
        self.text = text
        mark = "✗" if is_warning else "·"
        room = max(width - 4, 10)
        lines = textwrap.wrap(visible_line(" ".join(text.split())), room)[:MOST_LINES]
        self.update(Content("\n".join(f"{mark if not at else ' '} {line}" for at, line in enumerate(lines))))
        self.styles.height = len(lines)
        self.set_class(is_warning, "-warning")
        self.set_class(True, "-saying")
        if self._timer is not None:
            self._timer.stop()
        self._timer = self.set_timer(SHOWN_S, self.hush)

    def hush(self) -> None:
        """Say nothing any more."""
        self.text = ""
        self.set_class(False, "-saying")
