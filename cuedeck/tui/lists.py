"""Lists over the screen from which one thing is chosen: what is wrong with the show, and the steps that were made."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from cuedeck.show.problems import Problem
from cuedeck.visible import visible


class ListScreen(ModalScreen[int | None]):
    """Lists texts; its result is the index of the one that was chosen, or None."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q", "leave", "back", tooltip="back to the shot", id="cuedeck.leave-list"),
        Binding("ctrl+c", "app.quit", "quit", tooltip="leave cuedeck", id="cuedeck.quit-list"),
    ]

    def __init__(self, title: str, texts: Sequence[str], key: str, first: int = 0) -> None:
        """`key` closes the list as well: it is the one that opened it."""
        super().__init__()
        self._title, self._texts, self._key, self._first = title, texts, key, first

    def compose(self) -> ComposeResult:
        """Yield the list."""
        options = OptionList(*(Option(Content(visible(text))) for text in self._texts), id="list")
        options.border_title = self._title
        options.border_subtitle = "enter goes there, escape goes back, b black"
        yield options

    def on_mount(self) -> None:
        """Stand on the one that matters most."""
        self.query_one(OptionList).highlighted = self._first if self._texts else None
        self.query_one(OptionList).focus()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Go there."""
        self.dismiss(event.option_index)

    def on_key(self, event: object) -> None:
        """Close with the key that opened it."""
        if getattr(event, "character", None) == self._key:
            self.dismiss(None)

    def action_leave(self) -> None:
        """Go back."""
        self.dismiss(None)


def problem_text(problem: Problem) -> str:
    """Return how bad a problem is, where it is, what it is, and its cure."""
    return f"{problem.severity} · {problem.place}\n{problem.what}\n→ {problem.cure}"
