"""The rig: the patch as a table, the slots of a universe, and how every output fares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.screen import Screen
from textual.widgets import DataTable, Static

from cuedeck.draft.rig import check_address, set_address, slot_carrier
from cuedeck.draft.steps import Edit
from cuedeck.player.channel.events import Snapshot
from cuedeck.player.channel.silence import Silence
from cuedeck.player.words import blackout_text, is_alarming, output_lines
from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.sheet import limits_text, switches, universe_uses
from cuedeck.rig.state import FixtureState
from cuedeck.timeline.opening import OpenedShow
from cuedeck.tui.lines import EndsLine
from cuedeck.tui.prompt import Prompt, Question
from cuedeck.tui.slot_grid import SlotGrid
from cuedeck.tui.words import clipped, colour_text, level_text
from cuedeck.visible import visible_line

FIND_CAUTION = "lit to find it: a lamp may be hot, and somebody's hands near a light that moves"


def _key(key: str, action: str, description: str, tooltip: str, shown: str) -> Binding:
    name = f"cuedeck.rig-{action.partition('(')[0].replace('_', '-')}.{key.partition(',')[0]}"
    return Binding(key, action, description, tooltip=tooltip, id=name, key_display=shown)


RIG_KEYS: list[Binding] = [
    _key("enter", "type_address", "address", "type where the light listens", "enter"),
    _key("f", "find", "find it", "light the fixture alone, to find it; again ends that", "f"),
    _key("left_square_bracket", "turn_universe(-1)", "universe before", "show the universe before", "["),
    _key("right_square_bracket", "turn_universe(1)", "next universe", "show the universe after", "]"),
    _key("escape,p", "leave", "back", "back to the shot", "esc"),
]
HINTS = (
    "↑↓ light  enter address  f find  [ ] universe  b black  esc back",
    "enter address  f find  b black  esc back",
    "esc back",
)


@dataclass(frozen=True, eq=False)
class RigView:
    """All that the screen shows."""

    opened: OpenedShow
    states: Sequence[FixtureState]
    universes: Sequence[int]
    slots: bytes
    """512 values for each universe: what is on the line, or in the simulator."""
    snapshot: Snapshot | None
    silence: Silence | None
    """Since the player does not answer."""
    can_edit: bool
    """Whether the rig can be changed, and a light be lit to find it."""


class RigScreen(Screen[None]):
    """Shows the rig; what is changed on it is told, not done."""

    BINDINGS: ClassVar[list[BindingType]] = [*RIG_KEYS]
    DEFAULT_CSS = """
    RigScreen DataTable { height: 1fr; max-height: 60%; background: $background; }
    RigScreen DataTable { overflow-x: hidden; scrollbar-size: 0 1; }
    RigScreen #outputs { height: auto; max-height: 4; padding: 0 1; color: $quiet; }
    RigScreen #outputs.-alarm { color: $error; text-style: bold; }
    """

    class EditMade(Message):
        """The address of a light was typed."""

        def __init__(self, edit: Edit) -> None:
            self.edit = edit
            super().__init__()

    class LightFound(Message):
        """A light is to be seen alone, full, to find it; None ends that."""

        def __init__(self, name: str | None) -> None:
            self.name = name
            super().__init__()

    def __init__(self, view: RigView, light: str | None) -> None:
        super().__init__()
        self._view = view
        self._light = light
        self._universe = 0
        self._found: str | None = None
        self._top = EndsLine(id="top")
        self._outputs = Static(id="outputs")
        self._grid = SlotGrid(id="grid")
        self._status = EndsLine(id="status")
        self.prompt = Prompt(id="prompt")

    def compose(self) -> ComposeResult:
        """Yield the screen from top to bottom."""
        yield self._top
        yield DataTable[str](id="patch", cursor_type="row", zebra_stripes=False)
        yield self._outputs
        yield self._grid
        yield self._status
        yield self.prompt

    def on_mount(self) -> None:
        """Fill the table."""
        table = self._table
        for key, label in COLUMNS:
            table.add_column(label, key=key)
        self._fill()
        table.focus()
        self._choose(self._light)
        self._draw()

    @property
    def _table(self) -> DataTable[str]:
        return self.query_one("#patch", DataTable)

    def show(self, view: RigView) -> None:
        """Show how everything stands now."""
        is_other_rig = view.opened.patch is not self._view.opened.patch
        self._view = view
        if not self.query("#patch"):
            return  # it is not there yet, or no more
        if not view.can_edit:
            self._found = None  # a shot runs now, and has the light
        if is_other_rig:
            light = self._light
            self._fill()
            self._choose(light)
        self._draw()

    def _fill(self) -> None:
        table = self._table
        table.clear()
        for name in self._view.opened.show.rig:
            table.add_row(*row_of(self._view, name), key=name)

    def _choose(self, light: str | None) -> None:
        names = list(self._view.opened.show.rig)
        if light in names:
            self._table.move_cursor(row=names.index(light))

    def on_data_table_row_highlighted(self, event: DataTable.RowHighlighted) -> None:
        """Show the slots of the light."""
        if event.cursor_row != self._table.cursor_row:
            return  # of a table that is being filled anew
        self._light = event.row_key.value
        fixture = self._fixture
        if fixture is not None and fixture.address.universe in self._view.universes:
            self._universe = list(self._view.universes).index(fixture.address.universe)
        if self._found is not None and self._found != self._light:
            self._found = self._light if self._can_be_lit else None
            self.post_message(self.LightFound(self._found))
        self._draw()

    @property
    def _can_be_lit(self) -> bool:
        """Whether the light gives light, and listens somewhere."""
        return any(one.name == self._light for one in self._view.opened.patch.lights)

    def on_data_table_row_selected(self) -> None:
        """Type the address of the light."""
        self.action_type_address()

    def on_slot_grid_slot_pointed(self, message: SlotGrid.SlotPointed) -> None:
        """Say what the slot carries."""
        universe = self._view.universes[self._universe]
        words = slot_carrier(self._view.opened, universe, message.slot) or "no light listens there"
        self._status.left = f"slot {universe}.{message.slot}: {words}"

    @property
    def _fixture(self) -> PatchedFixture | None:
        return next((one for one in self._view.opened.patch.fixtures if one.name == self._light), None)

    def _draw(self) -> None:
        view = self._view
        universe = view.universes[min(self._universe, len(view.universes) - 1)]
        fixture = self._fixture
        is_here = fixture is not None and fixture.address.universe == universe
        chosen = range(fixture.address.slot, fixture.last_slot + 1) if fixture is not None and is_here else range(0)
        at = list(view.universes).index(universe) * 512
        self._grid.border_title = grid_title(view, universe)
        self._grid.show(view.slots[at : at + 512], chosen)
        self._update_levels()
        lines = health_lines(view.snapshot)
        if view.silence is not None:
            lines = [f"{view.silence}: nothing is sent"]
        elif view.snapshot is not None and view.snapshot.is_blacked_out:
            lines.insert(0, blackout_text(view.snapshot))
        self._outputs.update(Content("\n".join(map(visible_line, lines))))
        is_bad = view.silence is not None or (view.snapshot is not None and is_alarming(view.snapshot))
        self._outputs.set_class(is_bad, "-alarm")
        count = len(view.opened.show.rig)
        self._top.left, self._top.rights = f"rig · {count} lights", (use_text(view.opened), "")
        if self._found is not None:
            is_black = view.snapshot is not None and view.snapshot.is_blacked_out
            what = "it stays dark in the BLACKOUT: r lights it" if is_black else FIND_CAUTION
            self._status.left = f"FOUND {self._found} · {what}"
        elif fixture is not None:
            self._status.left = f"{self._light} · {fixture.address}-{fixture.last_slot}"
        else:
            self._status.left = f"{self._light or ''} listens nowhere yet"
        self._status.rights = HINTS

    def _update_levels(self) -> None:
        table = self._table
        for state in self._view.states:
            table.update_cell(state.name, "level", level_words(state))

    # What keys do.

    def action_type_address(self) -> None:
        """Type where the light listens; what it would collide with is said while it is typed."""
        light, opened = self._light, self._view.opened
        if light is None:
            return
        if not self._view.can_edit:
            self._status.left = "the rig cannot be changed now: a shot runs, or this window only looks on"
            return
        hung = opened.show.rig[light]

        def answer(text: str) -> None:
            edit = set_address(opened, light, text)
            if edit.changes:
                self.post_message(self.EditMade(edit))

        value = "" if hung.address is None else str(hung.address)

        def check(text: str) -> str:
            found = check_address(opened, light, text)
            return found.text if found.is_free else f"✗ {found.text}"

        self.prompt.ask(Question(f"{light} listens at", value, "universe.slot, or a slot", answer, check))

    def on_prompt_left(self) -> None:
        """Let the table have the keys again."""
        self._table.focus()

    def action_find(self) -> None:
        """Light the fixture alone, or end that."""
        if not self._view.can_edit:
            return
        if self._found is None and not self._can_be_lit:
            self._status.left = f"'{self._light}' gives no light, or listens nowhere: it cannot be lit"
            return
        self._found = None if self._found is not None else self._light
        self.post_message(self.LightFound(self._found))
        self._draw()

    def action_turn_universe(self, by: int) -> None:
        """Show another universe."""
        self._universe = (self._universe + by) % len(self._view.universes)
        self._draw()

    def action_leave(self) -> None:
        """Go back; a light that was lit to find it is let go of."""
        if self._found is not None:
            self.post_message(self.LightFound(None))
        self.dismiss(None)


COLUMNS = (
    ("light", "light"),
    ("address", "address"),
    ("level", "now"),
    ("type", "type"),
    ("circuit", "circuit"),
    ("limits", "limits"),
    ("switches", "switches"),
)


def row_of(view: RigView, name: str) -> tuple[str, ...]:
    """Return what the table says of a light, in the order of the columns."""
    hung = view.opened.show.rig[name]
    fixture = next((one for one in view.opened.patch.fixtures if one.name == name), None)
    state = next((one for one in view.states if one.name == name), None)
    kind = f"{hung.type}, {hung.mode}" if hung.mode else hung.type
    where = "none" if hung.address is None else str(hung.address)
    if fixture is not None and fixture.last_slot > fixture.address.slot:
        where = f"{fixture.address}-{fixture.last_slot}"
    dials = switches(fixture.address.slot, fixture.type.tenth_switch) if fixture is not None else None
    return (
        clipped(name, 24),
        where,
        "" if state is None else level_words(state),
        clipped(kind, 24),
        hung.circuit or "",
        "" if fixture is None else limits_text(fixture),
        dials or "",
    )


def level_words(state: FixtureState) -> str:
    """Return what a light does now."""
    return f"{level_text(state.level):>5} {colour_text(state)}"


def grid_title(view: RigView, universe: int) -> str:
    """Return which universe is shown, and where its values come from."""
    where = "on the line" if view.snapshot is not None and view.snapshot.slots else "in the simulator"
    count = len(view.universes)
    return f"universe {universe}{f' of {count}' if count > 1 else ''}, slots {where}"


def use_text(opened: OpenedShow) -> str:
    """Return how full the universes are."""
    used = list(universe_uses(opened.patch))
    texts = [f"universe {one.universe}: {one.used_slots} slots used" for one in used[:2]]
    return " · ".join(texts) + (f" · {len(used) - 2} more" if len(used) > 2 else "")


def health_lines(snapshot: Snapshot | None) -> list[str]:
    """Return a line for each output, and how it fares."""
    if snapshot is None:
        return ["no player yet: nothing is sent"]
    return [f"{name}: {how}" for name, how in output_lines(snapshot)] or ["the player sends nothing"]
