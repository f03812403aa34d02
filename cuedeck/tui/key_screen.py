"""The list of keys, over the screen."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from cuedeck.tui.keys import KEYS


class KeyScreen(ModalScreen[None]):
    """Lists every key until it is closed."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,question_mark", "close", "close", tooltip="back to the shot", id="cuedeck.close-keys"),
        Binding("q,ctrl+c", "app.quit", "quit", tooltip="leave cuedeck", id="cuedeck.quit-keys"),
    ]

    def compose(self) -> ComposeResult:
        """Yield the list."""
        with VerticalScroll(id="keys") as box:
            box.border_title = "keys"
            box.border_subtitle = "escape closes"
            yield Static(Content("\n".join(key_lines())))

    def action_close(self) -> None:
        """Go back to the shot."""
        self.dismiss(None)


def key_lines() -> list[str]:
    """Return a line for each key."""
    lines = [f"{binding.key_display or '':<9} {binding.tooltip}" for binding in KEYS]
    lines.insert(8, f"{'1 … 9':<9} go to the shot of that number")
    return lines
