"""One line to type an exact value in. It takes nothing away: the screen above it stays alive, and escape leaves it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.message import Message
from textual.widgets import Input, Static

from cuedeck.errors import Refusal
from cuedeck.show.spelling import as_one
from cuedeck.tui.keys import BLACKOUT_HINT
from cuedeck.tui.words import clipped


@dataclass(frozen=True)
class Question:
    """What is asked."""

    label: str
    """What the value is: fade of cue 3."""
    value: str
    """What stands there now."""
    hint: str
    """How it can be written."""
    answer: Callable[[str], None]
    """What to do with the text; raises Refusal where it cannot be read."""
    check: Callable[[str], str] | None = None
    """What is to be said of the text while it is being typed; after ✗ where it cannot be taken."""


class Prompt(Horizontal):
    """Asks for one value; what is wrong with it is said beside it, and it can be mended there."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "back", tooltip="leave everything as it was", id="cuedeck.prompt-leave"),
    ]
    DEFAULT_CSS = """
    Prompt { dock: bottom; height: 2; display: none; background: $surface; layout: grid; grid-size: 3 2;
             grid-columns: auto 1fr auto; grid-rows: 1 1; padding: 0 1; }
    Prompt.-asking { display: block; layout: grid; }
    Prompt #label { width: auto; padding-right: 1; text-style: bold; }
    Prompt Input { border: none; height: 1; padding: 0; background: $panel; }
    Prompt Input:focus { border: none; }
    Prompt #black { width: auto; padding-left: 1; color: $quiet; }
    Prompt #hint { column-span: 3; color: $quiet; }
    Prompt.-refused #hint { color: $error; text-style: bold; }
    """

    class Left(Message):
        """It is done, or was left."""

    def __init__(self, *, id: str) -> None:  # noqa: A002
        super().__init__(id=id)
        self._question: Question | None = None

    def compose(self) -> ComposeResult:
        """Yield the line and what is said below it."""
        yield Static(id="label")
        yield Input(id="value", compact=True)
        yield Static(BLACKOUT_HINT, id="black")
        yield Static(id="hint")

    @property
    def is_asking(self) -> bool:
        """Whether something is asked."""
        return self._question is not None

    def ask(self, question: Question) -> None:
        """Ask for a value."""
        self._question = question
        self.set_class(True, "-asking")
        self.query_one("#label", Static).update(Content(clipped(question.label, 40)))
        self._say(question.hint)
        line = self.query_one(Input)
        line.value = question.value
        line.focus()
        line.action_select_all() if question.value else None

    def on_input_changed(self, event: Input.Changed) -> None:
        """Say what the text means so far, and forget what was wrong before."""
        event.stop()
        question = self._question
        if question is not None:
            said = question.hint if question.check is None else question.check(event.value)
            self._say(said.removeprefix("✗ "), is_refused=said.startswith("✗ "))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the value, where it can be read."""
        event.stop()
        question = self._question
        if question is None:
            return
        try:
            question.answer(as_one(event.value))
        except Refusal as refused:
            self._say(str(refused), is_refused=True)
            return
        if self._question is question:
            self.action_leave()

    def action_leave(self) -> None:
        """Go back."""
        self._question = None
        self.set_class(False, "-asking")
        self.screen.set_focus(None)
        self.post_message(self.Left())

    def _say(self, text: str, *, is_refused: bool = False) -> None:
        self.set_class(is_refused, "-refused")
        self.query_one("#hint", Static).update(Content(("✗ " if is_refused else "") + clipped(text, self.size.width)))
