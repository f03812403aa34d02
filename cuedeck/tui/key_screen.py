"""The list of keys, over the screen: those of the place where keys act first, and below them the signs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from cuedeck.tui.keys import KEYS, PLACE_KEYS
from cuedeck.tui.selection import KeyPlace

KEY_CELLS = 10


class KeyScreen(ModalScreen[None]):
    """Lists every key until it is closed."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,question_mark,q,space", "close", "close", tooltip="back to the shot", id="cuedeck.close-keys"),
        Binding("ctrl+c", "app.quit", "quit", tooltip="leave cuedeck", id="cuedeck.quit-keys"),
    ]

    def __init__(
        self,
        place: KeyPlace,
        marks: Sequence[tuple[str, str]] = (),
        on_top: tuple[str, Sequence[Binding]] | None = None,
    ) -> None:
        """`marks` are signs that are drawn on the screen, and what each means; `on_top` the keys of another screen."""
        super().__init__()
        self._on_top = on_top
        self._place = place
        self._marks = marks

    def compose(self) -> ComposeResult:
        """Yield the list."""
        with VerticalScroll(id="keys") as box:
            box.border_title = "keys: escape, ?, q or space closes them, b black, r ends it"
            if self._on_top is not None:
                yield Static(Content(self._on_top[0]), classes="heading")
                yield Static(Content("\n".join(key_lines(self._on_top[1]))))
            yield Static(Content(f"at the {self._place}"), classes="heading")
            yield Static(Content("\n".join(key_lines(PLACE_KEYS[self._place]))))
            yield Static(Content("everywhere"), classes="heading")
            yield Static(Content("\n".join(key_lines(KEYS))))
            for place in (place for place in KeyPlace if place is not self._place):
                yield Static(Content(f"at the {place} (tab)"), classes="heading")
                yield Static(Content("\n".join(key_lines(PLACE_KEYS[place]))))
            if self._marks:
                yield Static(Content("signs in the lanes"), classes="heading")
                yield Static(Content("\n".join(f"{mark:<{KEY_CELLS}} {text}" for mark, text in self._marks)))

    def action_close(self) -> None:
        """Go back to the shot."""
        self.dismiss(None)


def key_lines(keys: Sequence[Binding]) -> list[str]:
    """Return a line for each key."""
    lines: list[str] = []
    for shown, text in _rows(keys):
        if shown.startswith("["):
            lines.append(f"{'1 … 9':<{KEY_CELLS}} go to the shot of that number")
        lines.append(f"{shown:<{KEY_CELLS}} {text}")
    return lines


def _rows(keys: Sequence[Binding]) -> Iterator[tuple[str, str]]:
    """Yield keys and what they do; those that do the same this way and that way share a line."""
    waiting: Binding | None = None
    for binding in keys:
        if waiting is not None:
            yield _shared(waiting, binding)
            waiting = None
        elif binding.action.endswith(("(-1)", "(-10)")) and binding.key not in ("minus", "shift+tab"):
            waiting = binding
        else:
            yield binding.key_display or "", binding.tooltip


def _shared(one: Binding, other: Binding) -> tuple[str, str]:
    first, second = one.tooltip.split(), other.tooltip.split()
    same = next(at for at, (word, other_word) in enumerate(zip(first, second, strict=False)) if word != other_word)
    keys = f"{one.key_display} {(other.key_display or '').split()[-1]}"
    return keys, f"{one.tooltip}, or {' '.join(second[same:])}"
