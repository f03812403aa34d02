"""What the panel says of what is chosen: the card of a cue, and that of a light."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from cuedeck.draft.nudges import Nudges
from cuedeck.report.cue_sheet import moment_at
from cuedeck.rig.state import FixtureState
from cuedeck.show.model import Cue
from cuedeck.timeline.opening import OpenedShow
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timing.moves import print_position
from cuedeck.tui.cue_app import start_text
from cuedeck.tui.light_app import Meant
from cuedeck.tui.selection import FIELDS, Field, Selection
from cuedeck.tui.words import colour_text, level_text, light_text, stops_text

FIELD_CELLS = 8
POINTER, BLANK = "▸ ", "  "


@dataclass(frozen=True)
class Card:
    """What a panel says."""

    title: str
    lines: tuple[str, ...]
    focus: int = 0
    """The line that must be in view."""

    def within(self, height: int) -> tuple[str, ...]:
        """Return as many lines as there is room for, the one in focus among them."""
        first = min(max(self.focus - height + 2, 0), max(len(self.lines) - height, 0), self.focus)
        return self.lines[first : first + height]


def cue_card(plan: ShotPlan, cue: Cue, selection: Selection, width: int, step_text: str = "") -> Card:
    """Return the card of a cue; `step_text` says what its fade does to light."""
    lines: list[str] = []
    focus = 0
    starts = plan.start_times()
    values = {
        Field.STARTS: start_text(cue),
        Field.FADE: str(cue.fade) if cue.fade.base else "at once",
        Field.CURVE: cue.curve,
        Field.LOOK: cue.look,
        Field.COLOURS: "cross as light mixes" if cue.colour_path == "u'v'" else "channel by channel",
        Field.NAME: cue.cue,
        Field.TITLE: cue.title or "none",
    }
    for field in FIELDS:
        if field is selection.field:
            focus = len(lines)
        mark = POINTER if field is selection.field else BLANK
        lines.append(f"{mark}{field:<{FIELD_CELLS}}{values[field]}")
        if field is Field.STARTS:
            lines += [f"{BLANK}{line}" for line in start_lines(plan, starts[cue.cue], width - len(BLANK))]
    if cue.skip:
        lines.insert(0, f"{BLANK}LEFT OUT of the shot: x takes it in")
    if step_text:
        lines.append(f"{BLANK}{step_text}")
    return Card(f"cue {cue.cue}, {cue.look}{' (left out)' if cue.skip else ''}", tuple(lines), focus)


def start_lines(plan: ShotPlan, start_s: Fraction | None, width: int) -> Iterator[str]:
    """Yield a start in timecode, frames, seconds and axes, together on one line where that has room."""
    if start_s is None:
        yield "= when fired"
        return
    moment = moment_at(plan, start_s, plan.timeline().length_s)
    axes = [f"{one.axis} {print_position(one.position, one.unit)}" for one in moment.axes]
    line = "="
    frame = "the end" if moment.frame is None else f"frame {moment.frame}"
    for part in filter(None, (moment.timecode, frame, f"{float(start_s):.2f} s", *axes)):
        joined = f"{line} {part}" if line in ("=", " ") else f"{line} · {part}"
        if line not in ("=", " ") and len(joined) > width:
            yield line
            joined = f"  {part}"
        line = joined
    yield line


def light_card(opened: OpenedShow, state: FixtureState, meant: Meant | None, nudges: Nudges, selection: Selection,
               *, is_alone: bool, is_flipped: bool, light: float) -> Card:  # fmt: skip
    """Return the card of a light; `light` is how much of its full output it gives, 0 to 1."""
    name = f"{selection.group}, with {state.name}" if selection.group else state.name
    lines = [
        f"{BLANK}{'level':<{FIELD_CELLS}}{level_text(state.level)} · {stops_text(light)} · {light_text(light)}",
        f"{BLANK}{'colour':<{FIELD_CELLS}}{_colour(state)}",
    ]
    if meant is None:
        lines.append(f"{BLANK}no cue is on here yet: n adds one")
    else:
        lines.append(f"{BLANK}{'look':<{FIELD_CELLS}}{meant.look}, of cue {meant.cue}")
        nudged = nudges.text_of(meant.look, state.name)
        if nudged:
            lines.append(f"{POINTER}{'nudged':<{FIELD_CELLS}}to {nudged} (k, K, backspace)")
    if is_flipped:
        lines.append(f"{POINTER}FLIPPED: the stored look is shown, f flips back")
    if is_alone:
        lines.append(f"{POINTER}ALONE: all other lights are out, i brings them back")
    groups = [group for group, members in opened.show.groups.items() if state.name in members]
    if groups:
        lines.append(f"{BLANK}{'groups':<{FIELD_CELLS}}{', '.join(groups)} (G)")
    return Card(name, tuple(lines), 0)


def _colour(state: FixtureState) -> str:
    if state.kelvin is None:
        return colour_text(state)
    return f"{colour_text(state)} · {1e6 / state.kelvin:.0f} mired"
