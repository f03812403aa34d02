"""The application: it wires keys, the edited show, the rehearsal and the widgets together, and computes nothing."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.geometry import Size
from textual.widgets import Input, Static

from cuedeck.clock import Clock
from cuedeck.draft.draft import Draft
from cuedeck.draft.first_shot import guide_text
from cuedeck.errors import Refusal
from cuedeck.folder.draft_files import DraftFiles
from cuedeck.report.lanes import LaneScale
from cuedeck.show.problems import counted
from cuedeck.show.units import Frequency
from cuedeck.timeline.lane_marks import MARK_WORDS, lane_marks, largest_step
from cuedeck.timeline.opening import OpenedShow
from cuedeck.tui.cards import Card, cue_card, light_card
from cuedeck.tui.cue_panel import CuePanel
from cuedeck.tui.key_screen import KeyScreen
from cuedeck.tui.keys import (
    ALL_KEYS,
    BLACKOUT_ACTIONS,
    EDIT_ACTIONS,
    MARK_ACTIONS,
    PLACE_OF_ACTION,
    PLAYER_ACTIONS,
    SHOT_KEYS,
)
from cuedeck.tui.lines import EndsLine
from cuedeck.tui.look import DARK_VARIABLES, LIGHT_VARIABLES, theme_for, themes
from cuedeck.tui.palette_app import PaletteApp
from cuedeck.tui.player_link import PlayerLink
from cuedeck.tui.player_side import PlayerSide
from cuedeck.tui.rehearsal import Moment, Rehearsal
from cuedeck.tui.rig_screen import RIG_KEYS, RigScreen
from cuedeck.tui.selection import KeyPlace
from cuedeck.tui.set_view import SetView
from cuedeck.tui.shot_view import ShotView
from cuedeck.tui.sizes import share_lines
from cuedeck.tui.status import hints, state_text
from cuedeck.tui.take_app import OpenTakes
from cuedeck.tui.words import LONGEST_TEXT, axes_texts, clipped, light_of, shot_text

MOVING_ACTIONS = (
    "run_or_stop", "step", "step_seconds", "to_start", "to_end", "show_shot", "turn_shot", "turn_cue", "go_to_place",
    "slower", "alone",
)  # fmt: skip
ANYWHERE_ACTIONS = (*PLAYER_ACTIONS, "undo", "redo", "save", "keys", "quit", "command_palette")
"""What keys do on the other screens too."""
TICKS_PER_S = 30
DRAWS_PER_SET = 3
"""While a shot runs, the set is drawn once for so many times that the lanes are: its words need no more."""
WIDE_SCREEN = 110
MOST_MARKED = 1_000_000
"""Packets times lights of a shot that is looked through for signs: some seconds of work in a thread."""


class CuedeckApp(PaletteApp):
    """Builds and rehearses the shots of one show, with a simulator or the rig, and follows the show's player."""

    TITLE = "cuedeck"
    CSS_PATH = "cuedeck.tcss"
    AUTO_FOCUS = ""
    """Keys act on the screen as a whole; only what is typed into has the focus."""
    BINDINGS: ClassVar[list[BindingType]] = [*ALL_KEYS, *SHOT_KEYS]

    def __init__(
        self,
        folder_name: str,
        opened: OpenedShow,
        clock: Clock,
        next_slate: Callable[[str], str] | None = None,
        speed: Fraction = Fraction(1),
        folder: Path | None = None,
        to: Sequence[str] = (),
        files: DraftFiles | None = None,
        *,
        is_watching: bool = False,
        open_takes: OpenTakes | None = None,
        log: str | None = None,
    ) -> None:
        """Without a folder there is no player; `to` names the outputs, as the user wrote them; `log` a file for takes.

        Where there are files, edits are written, and what other programs change is taken in.
        """
        side = None if folder is None else PlayerSide(PlayerLink(folder, is_watching=is_watching), to, log)
        super().__init__(side, Draft(opened), files, is_watching=is_watching)
        self.clock = clock
        self.open_takes = open_takes
        self.base_speed = self.rehearsal_speed = speed
        self.scale = LaneScale.PERCENT
        self._folder_name = folder_name
        self._next_slate = next_slate
        self._outputs = ", ".join(to) or "simulator"
        self._will_draw = False
        self._drawn = 0
        self._top = EndsLine(id="top")
        self._shot = ShotView(id="shot")
        self._set = SetView(None, id="set")
        self._cues = CuePanel(id="cues")
        self._guide_line = Static(id="guide")
        self._status = EndsLine(id="status")

    @property
    def shots(self) -> list[str]:
        """The shots that can be shown."""
        return list(self.draft.opened.show.shots)

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Return our own variables, for themes that do not set them."""
        return DARK_VARIABLES if self.current_theme.dark else LIGHT_VARIABLES

    def compose(self) -> ComposeResult:
        """Yield the screen from top to bottom."""
        yield self._top
        yield self.banner
        yield self.notice
        yield self.player_line
        yield self._guide_line
        yield self._shot
        with Horizontal(id="below"):
            yield self._set
            yield self._cues
        yield Static(id="nothing")
        yield self._status
        yield self.said
        yield self.prompt

    def on_mount(self) -> None:
        """Show the first shot."""
        for theme, _ in themes().values():
            self.register_theme(theme)
        self.theme = theme_for(None if self.is_headless else self.console.color_system).name
        self._timer = self.set_interval(1 / TICKS_PER_S, self.tick, pause=True)
        self._show_first()
        self.listen_to_player()
        self.listen_to_files()

    def _show_first(self) -> None:
        shots = self.shots
        self.screen_stack[0].set_class(not shots, "-empty")
        if shots:
            self.show_shot(shots[0], self.rehearsal_speed)
            return
        self.rehearsal = None
        self._name_show("")
        self._top.rights, self._status.rights = self._top_rights(""), ("n new shot  ? keys  q quit", "? keys")
        self.query_one("#nothing", Static).update(guide_text(None, is_lit=False, is_nudged=False))

    # The show as it is edited.

    def show_draft(self) -> None:
        """Show the show as it is now, with the playhead where it was; lanes are drawn with the next screen."""
        rehearsal, shots = self.rehearsal, self.shots
        if not self.draft.nudges:
            self.is_flipped = False
        if rehearsal is None or rehearsal.plan.name not in shots:
            self._show_first()
            return
        plan = self.seen.plan(rehearsal.plan.name, rehearsal.plan.speed)
        is_other_rig = plan.patch is not rehearsal.plan.patch
        rehearsal.replan(plan)
        if is_other_rig:
            self._set.show_plan(plan)
        self._keep_selection_within(plan.show.groups)
        self._draw_soon()

    def _keep_selection_within(self, groups: Iterable[str]) -> None:
        cues = [] if self.rehearsal is None else [cue.cue for cue in self.rehearsal.plan.shot.cues]
        self.selection = self.selection.within(cues, self.lights, list(groups))

    def _draw_soon(self) -> None:
        """Draw the shot once for all that changes before the next time the screen is written."""
        if not self._will_draw:
            self._will_draw = True
            self.call_later(self._draw_now)

    def _draw_now(self) -> None:
        self._will_draw = False
        self.name_slate()
        self.draw_shot()

    def show_selection(self) -> None:
        """Show what is chosen."""
        place = self.selection.place
        self._shot.chosen_cue = self.selection.cue if place is KeyPlace.CUES else None
        self._shot.chosen_lights = self.chosen_lights if place is KeyPlace.LIGHTS else ()
        self._set.chosen = self._shot.chosen_lights
        self.draw_moment()
        self.refresh_bindings()

    def action_turn_place(self, by: int) -> None:
        """Go on to the next place, and choose what is there at the playhead."""
        self.selection = self.selection.turned(by)
        cues = self.cues_in_order()
        if self.selection.place is KeyPlace.CUES and (self.selection.cue not in cues or by):
            self.selection = replace(self.selection, cue=self.cue_at_playhead())
        if self.selection.place is KeyPlace.LIGHTS and self.selection.light is None:
            self.selection = self.selection.on_light(self.lights, 0)
        self.show_selection()

    def action_step_back(self) -> None:
        """Go one step back: a notice, a light seen alone, a flip, the place."""
        rehearsal = self.rehearsal
        if self.can_ask("dismiss"):
            self.action_dismiss()
        elif rehearsal is not None and rehearsal.alone is not None:
            self.action_alone()
        elif self.is_flipped:
            self.action_flip()
        elif self.selection.place is not KeyPlace.PLAYHEAD:
            self.selection = replace(self.selection, place=KeyPlace.PLAYHEAD)
            self.show_selection()

    def action_turn_scale(self) -> None:
        """Show the lanes in percent, in stops, in light."""
        self.scale = self.scale.after
        self.draw_shot()

    # Where the pointer is.

    def on_shot_view_place_pointed(self, message: ShotView.PlacePointed) -> None:
        """Put the playhead where the pointer was."""
        if self.can_move:
            self.go_to(message.time_s)

    def on_shot_view_cue_pointed(self, message: ShotView.CuePointed) -> None:
        """Choose the cue."""
        self.choose_cue(message.name)

    def on_shot_view_cue_dragged(self, message: ShotView.CueDragged) -> None:
        """Start the cue where it was dragged to."""
        if self.can_edit:
            self.drag_cue_to(message.name, message.time_s)

    def on_shot_view_light_pointed(self, message: ShotView.LightPointed) -> None:
        """Choose the light."""
        self.choose_light(message.name)

    def on_set_view_light_pointed(self, message: SetView.LightPointed) -> None:
        """Choose the light."""
        self.choose_light(message.name)

    def on_resize(self, event: events.Resize) -> None:
        """Share the lines out anew, by the size that the event brings: the app takes it over only after this."""
        self.draw_shot(event.size)

    # Keys of the screen as a whole.

    def action_scroll_lanes(self, lights: int) -> None:
        """Bring other lights into view."""
        self._shot.scroll_lanes(lights)

    def action_keys(self) -> None:
        """Show the keys of this place, and all others."""
        on_top = ("on the rig", RIG_KEYS) if isinstance(self.screen, RigScreen) else None
        self.push_screen(KeyScreen(self.selection.place, MARK_WORDS, on_top))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Dim what cannot be done now, and leave out what belongs to another place."""
        if action in BLACKOUT_ACTIONS:
            return action == "blackout_anywhere" or not isinstance(self.focused, Input)  # there, b is a letter
        if action == "release" and (isinstance(self.focused, Input) or self.is_blacked_out):
            return self.is_blacked_out and not isinstance(self.focused, Input)  # what made it dark is undone there too
        if len(self.screen_stack) > 1 and action not in ANYWHERE_ACTIONS:
            return False
        if self.prompt.is_asking and action != "quit":
            return False
        if action in ("fire", "type_field", "type_light") and self.can_fire and not self.is_watching:
            return action == "fire"  # enter fires the cue that waits, wherever keys act
        if PLACE_OF_ACTION.get(action, self.selection.place) is not self.selection.place:
            return False
        if action in PLAYER_ACTIONS:
            is_open = not self.is_watching or (action == "release" and self.is_blacked_out)
            return True if is_open and self.can_ask(action) else None
        if action == "fire":
            return True if self.can_fire and not self.is_watching else None
        if action == "show_shot" and parameters[0] not in self.shots:
            return False
        if action in MARK_ACTIONS and self.is_watching:
            return None
        if action in EDIT_ACTIONS:
            return True if self.can_edit else None
        return None if action in MOVING_ACTIONS and not self.can_move else True

    # What is drawn.

    def show_shot(self, name: str, speed: Fraction) -> None:
        """Show a shot, run so many times as fast as it is written."""
        self.screen_stack[0].set_class(False, "-empty")
        self.rehearsal = Rehearsal(self.seen.plan(name, speed))
        plan = self.rehearsal.plan
        self._keep_selection_within(plan.show.groups)
        self.name_slate()
        self._set.show_plan(plan)
        self.draw_shot()

    def name_slate(self) -> None:
        """Name the shot and its next slate, the outputs, and what is wrong with the show."""
        if self.rehearsal is not None:
            plan = self.rehearsal.plan
            next_slate = self._next_slate(plan.name) if self._next_slate else ""
            slate = f" · next slate {next_slate}" if next_slate else ""
            self._name_show(f" · {shot_text(plan)}{slate}")
            factor = "" if plan.speed == 1 else f" · speed {plan.speed}"
            self._top.rights = self._top_rights(f"{self._outputs} {Frequency.of(plan.refresh_hz)}{factor}")

    def _name_show(self, shot: str) -> None:
        title = clipped(self.draft.opened.show.title or "", LONGEST_TEXT)
        mark = "" if self.draft.is_saved else "* "
        self._top.left = f"{mark}{self._folder_name}{shot}"
        self._top.long_left = f"{mark}{self._folder_name} · {title}{shot}" if title else self._top.left

    def _top_rights(self, output: str) -> tuple[str, ...]:
        """Return what may stand at the right of the top line, from the longest: the warnings are kept."""
        problems, trouble = self.draft.opened.problems, self.disk_trouble
        if self.is_watching:
            output = f"watching · {output}"
        if not problems and not trouble:
            return (output, "watching" if self.is_watching else "")
        noun = "problem" if self.draft.opened.errors else "warning"
        found = counted(len(problems), noun) if problems else ""
        found = " · ".join(part for part in (trouble.short if trouble else "", found) if part)
        return (" · ".join(part for part in (f"{found}, see !", output) if part), f"{found}, see !", found)

    def draw_shot(self, size: Size | None = None) -> None:
        """Draw the shot anew, on a screen of some size."""
        lines = self.player_lines(size or self.size)
        if self.rehearsal is None:
            return
        lines += self._draw_guide(size or self.size)
        plan, size = self.rehearsal.plan, size or self.size
        self.screen_stack[0].set_class(size.width >= WIDE_SCREEN, "-wide")
        share = share_lines(size.height - lines, len(plan.move.axes) if plan.move else 0, len(plan.patch.lights))
        self._shot.show_shot(plan, self.rehearsal.timeline, share, size.width - 2, self.scale)
        self.show_selection()
        self.run_worker(self._find_marks, thread=True, exclusive=True, group="marks")

    def _find_marks(self) -> None:
        """Look for signs in the lanes; in a thread of its own."""
        rehearsal = self.rehearsal
        if rehearsal is not None:
            timeline = rehearsal.timeline
            if timeline.packet_count * len(timeline.patch.lights) > MOST_MARKED:
                return
            marks = lane_marks(timeline, timeline.patch.lights, self._shot.picture_cells)
            with suppress(RuntimeError):  # the screen is being closed
                self.call_from_thread(setattr, self._shot, "marks", marks)

    def draw_moment(self) -> None:
        """Draw what is to be seen at the playhead."""
        if self.rehearsal is None:
            return
        moment = self.rehearsal.moment()
        if len(self.screen_stack) > 1:
            self.call_later(self.draw_rig)
        self._timer.resume() if moment.is_running and not self.rehearsal.is_led else self._timer.pause()
        self._shot.moment = moment
        self._drawn += 1
        if not moment.is_running or self._drawn % DRAWS_PER_SET == 0:
            self._set.moment = moment
        self._show_panel(self.rehearsal, moment)
        state, axes = state_text(self.rehearsal, moment, self.player), axes_texts(moment.positions)
        self._status.left, *short = (f"{state}  {text}".rstrip() for text in axes)
        self._status.short_lefts = tuple(short)
        self._status.rights = hints(
            self.rehearsal,
            moment,
            self.player,
            self.selection.place,
            can_fire=self.can_fire,
            is_watching=self.is_watching,
        )

    def _draw_guide(self, size: Size) -> int:
        """Say what to do next in a show that lights nothing yet; return how many lines that takes."""
        text = self._guide()
        lines = textwrap.wrap(text, max(size.width - 2, 10))
        self._guide_line.update(Content("\n".join(lines)))
        self._guide_line.styles.height = len(lines)
        self._guide_line.set_class(bool(lines), "-saying")
        return len(lines)

    def _guide(self) -> str:
        """Return what leads a new user on, in a show that has no light in it yet."""
        shots = self.draft.opened.show.shots
        if self.rehearsal is None or len(shots) > 1:
            return ""
        looks = self.draft.opened.targets.values()
        columns = [fixture.columns["intensity"] for fixture in self.rehearsal.plan.patch.lights]
        is_lit = any((look[columns] > 0).any() for look in looks)
        return guide_text(self.rehearsal.plan.shot, is_lit=is_lit, is_nudged=bool(self.draft.nudges) and not is_lit)

    def _show_panel(self, rehearsal: Rehearsal, moment: Moment) -> None:
        card = self._card(rehearsal, moment)
        if card is None:
            self._cues.show_rehearsal(rehearsal)
        else:
            self._cues.show_card(card)

    def _card(self, rehearsal: Rehearsal, moment: Moment) -> Card | None:
        width = max(self._cues.size.width, 20)
        if self.selection.place is KeyPlace.CUES and self.cue is not None:
            started = next((one for one in rehearsal.timeline.cues if one.name == self.cue.cue), None)
            most = 0.0 if started is None else largest_step(rehearsal.timeline, started)
            words = f"{most:.2f} stop a packet at most" if most else ""
            return cue_card(rehearsal.plan, self.cue, self.selection, width, words)
        state = next((state for state in moment.states if state.name == self.selection.light), None)
        if self.selection.place is not KeyPlace.LIGHTS or state is None:
            return None
        try:
            meant = self.meant()
        except Refusal:
            meant = None
        fixture = next(one for one in rehearsal.plan.patch.lights if one.name == state.name)
        light = light_of(fixture.dimmer, state.level)
        return light_card(
            self.draft.opened, state, meant, self.draft.nudges, self.selection,
            is_alone=rehearsal.alone is not None, is_flipped=self.is_flipped, light=light,
        )  # fmt: skip
