"""The cue at the playhead and the one after it, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from textual.content import Content
from textual.reactive import reactive
from textual.widgets import Static

from cuedeck.show.model import Cue
from cuedeck.tui.rehearsal import Rehearsal
from cuedeck.tui.words import fade_text, start_text


class CuePanel(Static):
    """Says which cue is on, and what comes next; it is written anew only when that changes."""

    lines: reactive[tuple[str, ...]] = reactive(())
    """What it says."""

    def show_rehearsal(self, rehearsal: Rehearsal) -> None:
        """Say what is on at the playhead of a rehearsal."""
        now, lines = cue_lines(rehearsal)
        self.border_title = now
        self.lines = lines

    def watch_lines(self) -> None:
        """Write it."""
        self.update(Content("\n".join(self.lines)))


def cue_lines(rehearsal: Rehearsal) -> tuple[str, tuple[str, ...]]:
    """Return the heading and the lines for the playhead of a rehearsal."""
    plan, time_s = rehearsal.plan, rehearsal.playhead.at_s
    by_name = {cue.cue: cue for cue in plan.shot.cues}
    starts = plan.start_times(rehearsal.fired)
    fps = plan.show.camera.fps
    on = [cue for cue in rehearsal.timeline.cues if cue.start_s <= time_s]
    coming = [cue for cue in rehearsal.timeline.cues if cue.start_s > time_s]
    heading = "no cue yet"
    lines: list[str] = []
    if on:
        cue = by_name[on[-1].name]
        heading = _name(cue)
        lines += _about(cue, starts, fps)
    if coming:
        after = by_name[coming[0].name]
        lines += ["", f"then {_name(after)}", *_about(after, starts, fps)]
    for number, waiting in enumerate(rehearsal.waiting_cues):
        lines += ["", f"{'enter fires' if number == 0 else 'after that'} {_name(by_name[waiting])}"]
    if not coming and not rehearsal.waiting_cues:
        lines += ["", "no cue after this"]
    return heading, tuple(lines if on else lines[1:])


def _name(cue: Cue) -> str:
    return f"cue {cue.cue}, {cue.look}"


def _about(cue: Cue, starts: Mapping[str, Fraction | None], fps: Fraction) -> Iterator[str]:
    if cue.title:
        yield cue.title
    yield f"starts  {start_text(cue, starts, fps)}"
    yield f"fade    {fade_text(cue)}"
