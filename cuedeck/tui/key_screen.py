"""The list of keys, over the screen, and below them the warnings about the show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from cuedeck.show.problems import Problem, counted
from cuedeck.tui.keys import KEYS

KEY_CELLS = 9


class KeyScreen(ModalScreen[None]):
    """Lists every key and every warning until it is closed."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,question_mark,q,space", "close", "close", tooltip="back to the shot", id="cuedeck.close-keys"),
        Binding("ctrl+c", "app.quit", "quit", tooltip="leave cuedeck", id="cuedeck.quit-keys"),
    ]

    def __init__(self, problems: Sequence[Problem] = ()) -> None:
        super().__init__()
        self._problems = problems

    def compose(self) -> ComposeResult:
        """Yield the list."""
        with VerticalScroll(id="keys") as box:
            box.border_title = "keys: escape, ?, q or space closes them"
            yield Static(Content("\n".join(key_lines())))
            if self._problems:
                box.border_subtitle = f"{counted(len(self._problems), 'warning')} below the keys"
                yield Static(counted(len(self._problems), "warning"), id="warnings")
                yield from (Static(Content(problem_text(problem)), classes="warning") for problem in self._problems)

    def action_close(self) -> None:
        """Go back to the shot."""
        self.dismiss(None)


def key_lines() -> list[str]:
    """Return a line for each key."""
    lines: list[str] = []
    for shown, text in _rows():
        if shown.startswith("["):
            lines.append(f"{'1 … 9':<{KEY_CELLS}} go to the shot of that number")
        lines.append(f"{shown:<{KEY_CELLS}} {text}")
    return lines


def _rows() -> Iterator[tuple[str, str]]:
    """Yield keys and what they do; those that do the same this way and that way share a line."""
    waiting: Binding | None = None
    for binding in KEYS:
        if waiting is not None:
            yield _shared(waiting, binding)
            waiting = None
        elif binding.action.endswith("(-1)") or binding.action.endswith("(-10)"):
            waiting = binding
        else:
            yield binding.key_display or "", binding.tooltip


def _shared(one: Binding, other: Binding) -> tuple[str, str]:
    first, second = one.tooltip.split(), other.tooltip.split()
    same = next(at for at, (word, other_word) in enumerate(zip(first, second, strict=False)) if word != other_word)
    keys = f"{one.key_display} {(other.key_display or '').split()[-1]}"
    return keys, f"{one.tooltip}, or {' '.join(second[same:])}"


def problem_text(problem: Problem) -> str:
    """Return where a problem is, what it is, and its cure."""
    return f"{problem.place}\n{problem.what}\n→ {problem.cure}"
