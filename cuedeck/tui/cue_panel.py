"""What is on at the playhead and what comes next, or the card of what is chosen; written only when it changes."""

from __future__ import annotations

from collections.abc import Iterator

from textual import events
from textual.content import Content
from textual.message import Message
from textual.reactive import reactive
from textual.widgets import Static

from cuedeck.show.model import Cue
from cuedeck.tui.cards import FIELD_CELLS, Card
from cuedeck.tui.rehearsal import Rehearsal
from cuedeck.tui.words import clipped, fade_text, start_label

LONGEST_TITLE = 100


class CuePanel(Static):
    """Says which cue is on, and what comes next; or what is to be said of a cue or a light that is chosen."""

    lines: reactive[tuple[str, ...]] = reactive(())
    """What it says."""

    class LinePointed(Message):
        """A line of the panel was pointed at."""

        def __init__(self, text: str) -> None:
            self.text = text
            super().__init__()

    _rehearsal: Rehearsal | None = None
    _card: Card | None = None
    _said_for: object = None
    """What the lines were made of, where they tell of a rehearsal."""
    _title = ""
    """The heading that stands: setting it draws all of the panel again."""

    def show_rehearsal(self, rehearsal: Rehearsal) -> None:
        """Say what is on at the playhead of a rehearsal."""
        width, height = self.size
        started = sum(cue.start_s <= rehearsal.playhead.at_s for cue in rehearsal.timeline.cues)
        key = (rehearsal.timeline, rehearsal.plan, started, rehearsal.fired, width, height)
        if self._said_for == key:
            return
        self._rehearsal, self._card, self._said_for = rehearsal, None, key
        lines = cue_lines(rehearsal, max(width, FIELD_CELLS))
        cues = list_lines(rehearsal)
        if len(lines) + 2 + len(cues) <= height:
            lines += ["", "in this shot", *cues]
        self._say(heading(rehearsal), lines)

    def show_card(self, card: Card) -> None:
        """Show a card."""
        self._card, self._said_for = card, None
        self._say(card.title, card.within(max(self.size.height, 1)))

    def _say(self, heading_text: str, lines: list[str] | tuple[str, ...]) -> None:
        title = clipped(heading_text, LONGEST_TITLE)
        if title != self._title:
            self._title = title
            self.border_title = Content(title)  # a str would be read as markup
        self.lines = tuple(clipped(line, self.size.width) for line in lines)

    def on_resize(self) -> None:
        """Say it anew, as long as the room allows."""
        if self._card is not None:
            self.show_card(self._card)
        elif self._rehearsal is not None:
            self.show_rehearsal(self._rehearsal)

    def on_click(self, event: events.Click) -> None:
        """Say which line was pointed at."""
        line = event.y - self.gutter.top
        if 0 <= line < len(self.lines):
            self.post_message(self.LinePointed(self.lines[line]))

    def watch_lines(self) -> None:
        """Write it."""
        self.update(Content("\n".join(self.lines)))


def heading(rehearsal: Rehearsal) -> str:
    """Return the name of the cue at or before the playhead."""
    on = _on(rehearsal)
    return _name(on) if on else "no cue yet"


def cue_lines(rehearsal: Rehearsal, width: int) -> list[str]:
    """Return what is to be said of the cue at the playhead and of those that come."""
    by_name = {cue.cue: cue for cue in rehearsal.plan.shot.cues}
    coming = [by_name[cue.name] for cue in rehearsal.timeline.cues if cue.start_s > rehearsal.playhead.at_s]
    on = _on(rehearsal)
    lines = [*_about(on, rehearsal, width), ""] if on else []
    if coming:
        lines += [f"then {_name(coming[0])}", *_about(coming[0], rehearsal, width)]
    for number, waiting in enumerate(rehearsal.waiting_cues):
        lines.append(f"{'then' if number else 'enter fires'} {_name(by_name[waiting])}")
    if not coming and not rehearsal.waiting_cues:
        lines.append("no cue after this")
    return lines


def list_lines(rehearsal: Rehearsal) -> list[str]:
    """Return a line for each cue of the shot, the one at the playhead pointed at."""
    on = _on(rehearsal)
    cues = rehearsal.plan.shot.cues
    names = max((len(cue.cue) for cue in cues), default=0)
    looks = max((len(cue.look) for cue in cues), default=0)
    return [
        f"{'▸' if cue is on else '·'} {cue.cue:<{names}}  {cue.look:<{looks}}  {start_label(cue, rehearsal)}"
        for cue in cues
    ]


def _on(rehearsal: Rehearsal) -> Cue | None:
    started = [cue.name for cue in rehearsal.timeline.cues if cue.start_s <= rehearsal.playhead.at_s]
    return next((cue for cue in rehearsal.plan.shot.cues if started and cue.cue == started[-1]), None)


def _name(cue: Cue) -> str:
    return f"cue {cue.cue}, {cue.look}"


def _about(cue: Cue, rehearsal: Rehearsal, width: int) -> Iterator[str]:
    if cue.title:
        yield cue.title
    trigger, label = str(cue.trigger), f"= {start_label(cue, rehearsal)}"
    if FIELD_CELLS + len(trigger) + 2 + len(label) <= width:
        yield f"{'starts':<{FIELD_CELLS}}{trigger}  {label}"
    else:
        yield f"{'starts':<{FIELD_CELLS}}{trigger}"
        yield f"{'frame':<{FIELD_CELLS}}{label.removeprefix('= ')}"
    yield f"{'fade':<{FIELD_CELLS}}{fade_text(cue, rehearsal.plan)}"
