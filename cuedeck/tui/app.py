"""The application: it wires keys, the rehearsal and the widgets together, and computes nothing itself."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import ClassVar

from textual import events
from textual.app import ComposeResult, SystemCommand
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.geometry import Size
from textual.screen import Screen
from textual.widgets import Static

from cuedeck.clock import Clock
from cuedeck.player.show_keeper import ShowKeeper
from cuedeck.show.problems import counted
from cuedeck.show.units import Frequency
from cuedeck.timeline.opening import OpenedShow
from cuedeck.tui.cue_panel import CuePanel
from cuedeck.tui.key_screen import KeyScreen
from cuedeck.tui.keys import KEYS, PLAYER_ACTIONS, SHOT_KEYS
from cuedeck.tui.lines import EndsLine
from cuedeck.tui.look import DARK_VARIABLES, LIGHT_VARIABLES, theme_for, themes
from cuedeck.tui.player_app import PlayerApp
from cuedeck.tui.player_link import PlayerLink
from cuedeck.tui.player_side import PlayerSide
from cuedeck.tui.rehearsal import Rehearsal
from cuedeck.tui.set_view import SetView
from cuedeck.tui.shot_view import ShotView
from cuedeck.tui.sizes import share_lines
from cuedeck.tui.status import hints, state_text
from cuedeck.tui.words import LONGEST_TEXT, axes_texts, clipped, shot_text, without_markup

MOVING_ACTIONS = ("run_or_stop", "step", "to_start", "to_end", "show_shot", "turn_shot")
TICKS_PER_S = 30
LOOK_AT_SHOW_S = 0.5
WIDE_SCREEN = 110


class CuedeckApp(PlayerApp):
    """Rehearses the shots of one show, with a simulator in the place of the rig, and follows the show's player."""

    TITLE = "cuedeck"
    CSS_PATH = "cuedeck.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [*KEYS, *SHOT_KEYS]

    def __init__(
        self,
        folder_name: str,
        opened: OpenedShow,
        clock: Clock,
        next_slate: Callable[[str], str] | None = None,
        speed: Fraction = Fraction(1),
        folder: Path | None = None,
        to: Sequence[str] = (),
        keeper: ShowKeeper | None = None,
    ) -> None:
        """Without a folder there is no player; `to` names the outputs, as the user wrote them.

        Where there is a keeper of the show, what is saved is taken up.
        """
        dark = opened.patch.dark.tobytes()
        super().__init__(None if folder is None else PlayerSide(PlayerLink(folder), to, dark))
        self._folder_name = folder_name
        self._opened = opened
        self._clock = clock
        self._next_slate = next_slate
        self._speed = speed
        self._outputs = ", ".join(to) or "simulator"
        self._shots = list(opened.show.shots)
        self._keeper = keeper
        self._changed: OpenedShow | None = None
        """The show as it was saved last, where it is not on the screen yet."""
        self._top = EndsLine(id="top")
        self._shot = ShotView(id="shot")
        self._set = SetView(None, id="set")
        self._cues = CuePanel(id="cues")
        self._status = EndsLine(id="status")

    @property
    def shots(self) -> list[str]:
        """The shots that can be shown."""
        return self._shots

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Return our own variables, for themes that do not set them."""
        return DARK_VARIABLES if self.current_theme.dark else LIGHT_VARIABLES

    def compose(self) -> ComposeResult:
        """Yield the screen from top to bottom."""
        yield self._top
        yield self.notice
        yield self.player_line
        yield self._shot
        with Horizontal(id="below"):
            yield self._set
            yield self._cues
        yield Static("this show has no shot yet: write one under 'shots' in show.yaml", id="nothing")
        yield self._status

    def on_mount(self) -> None:
        """Show the first shot."""
        for theme, _ in themes().values():
            self.register_theme(theme)
        self.theme = theme_for(None if self.is_headless else self.console.color_system).name
        self._timer = self.set_interval(1 / TICKS_PER_S, self.tick, pause=True)
        self.screen.set_class(not self._shots, "-empty")
        if self._shots:
            self.show_shot(self._shots[0], self._speed)
        else:
            self._name_show("")
            self._top.rights, self._status.rights = self._top_rights(""), ("q quit",)
        self.listen_to_player()
        if self._keeper is not None:
            self.set_interval(LOOK_AT_SHOW_S, self.look_for_changes)

    def look_for_changes(self) -> None:
        """Read the show again where it was saved, out of the way of the screen."""
        if self._keeper is not None and self._changed is None:
            self.run_worker(self._read_again, thread=True, exclusive=True, group="show")
        elif self._changed is not None and self.can_move and not self._is_moving:
            changed, self._changed = self._changed, None
            self.take_up_show(changed)

    def _read_again(self) -> None:
        """Look at the files; in a thread of its own."""
        keeper = self._keeper
        if keeper is None:
            return
        before = keeper.problem
        opened = keeper.refreshed()
        if opened is not None:
            self._changed = opened
        if keeper.problem and keeper.problem != before:
            self.call_from_thread(self.notify, keeper.problem, severity="error", markup=False)

    @property
    def _is_moving(self) -> bool:
        return self.rehearsal is not None and self.rehearsal.playhead.is_running

    def take_up_show(self, opened: OpenedShow) -> None:
        """Show the show as it is now, with the playhead where it was; a look that stands from here changes with it."""
        self._opened, self._shots = opened, list(opened.show.shots)
        rehearsal = self.rehearsal
        if rehearsal is None or not self._shots:
            return
        name, at_s = rehearsal.plan.name, rehearsal.playhead.at_s
        self.show_shot(name if name in self._shots else self._shots[0], self._speed)
        if self.rehearsal is not None and self.rehearsal.plan.name == name:
            self.rehearsal.go_to(at_s)
        self.notify("the show was saved, and is shown as it is now", timeout=3)
        self.draw_shot()
        if self.player is not None and self.player.has_light_of_rehearsal:
            self.stand_on_line()

    def on_resize(self, event: events.Resize) -> None:
        """Share the lines out anew, by the size that the event brings: the app takes it over only after this."""
        self.draw_shot(event.size)

    def tick(self) -> None:
        """Let the playhead follow the clock, and show what it has come to."""
        if self.rehearsal is not None:
            self.rehearsal.tick(self._clock.now_ns())
            self.draw_moment()

    def on_shot_view_place_pointed(self, message: ShotView.PlacePointed) -> None:
        """Put the playhead where the pointer was."""
        if self.rehearsal is not None and self.can_move:
            self._go_to(message.time_s)

    def action_run_or_stop(self) -> None:
        """Run the shot from the playhead, or stop it there."""
        self.take_lead()
        if self.rehearsal is not None and not self.run_on_line():
            self.rehearsal.run_or_stop(self._clock.now_ns())
            self.draw_shot()

    def action_fire(self) -> None:
        """Fire the next operator cue."""
        if self.rehearsal is not None and self.rehearsal.is_led:
            self._ask("fire")
        elif self.rehearsal is not None and self.rehearsal.fire(self._clock.now_ns()):
            self.draw_shot()

    def action_step(self, frames: int) -> None:
        """Put the playhead so many camera frames on."""
        self.take_lead()
        if self.rehearsal is not None:
            self.tick()
            self.rehearsal.step(frames)
            self.draw_moment()
            self.stand_on_line()

    def action_to_start(self) -> None:
        """Put the playhead at the start of the shot."""
        if self.rehearsal is not None:
            self._go_to(self.rehearsal.playhead.length_s * 0)

    def action_to_end(self) -> None:
        """Put the playhead at the end of the shot."""
        if self.rehearsal is not None:
            self._go_to(self.rehearsal.playhead.length_s)

    def action_show_shot(self, name: str) -> None:
        """Go to a shot by its name."""
        if name in self._shots and self.can_move:
            self.show_shot(name, self._speed)
            self.stand_on_line()

    def action_turn_shot(self, by: int) -> None:
        """Go to the shot before or after."""
        if self.rehearsal is not None:
            index = self._shots.index(self.rehearsal.plan.name) + by
            if 0 <= index < len(self._shots):
                self.action_show_shot(self._shots[index])

    def action_scroll_lanes(self, lights: int) -> None:
        """Bring other lights into view."""
        self._shot.scroll_lanes(lights)

    def action_keys(self) -> None:
        """Show all keys."""
        self.push_screen(KeyScreen(self._opened.problems))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Dim what cannot be done now."""
        if action in PLAYER_ACTIONS:
            return True if self.can_ask(action) else None
        if action == "fire":
            return True if self.can_fire else None
        if action == "show_shot" and parameters[0] not in self._shots:
            return False
        return None if action in MOVING_ACTIONS and not self.can_move else True

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Yield what the palette lists: Textual's own, what the player can be asked for now, and every shot."""
        yield from super().get_system_commands(screen)
        for binding in KEYS:
            if binding.action in PLAYER_ACTIONS and self.can_ask(binding.action):
                yield SystemCommand(binding.description, binding.tooltip, getattr(self, f"action_{binding.action}"))
        for name, (theme, purpose) in themes().items():
            yield SystemCommand(f"theme: {name}", purpose, partial(setattr, self, "theme", theme.name))
        for name in self._shots if self.can_move else ():
            title = self._opened.show.shots[name].title or "go to this shot"
            yield SystemCommand(
                without_markup(f"shot {name}"), without_markup(title), partial(self.action_show_shot, name)
            )

    def show_shot(self, name: str, speed: Fraction) -> None:
        """Show a shot, run so many times as fast as it is written."""
        self.rehearsal = Rehearsal(self._opened.plan(name, speed))
        plan = self.rehearsal.plan
        self.name_slate()
        factor = "" if plan.speed == 1 else f" · speed {plan.speed}"
        self._top.rights = self._top_rights(f"{self._outputs} {Frequency.of(plan.refresh_hz)}{factor}")
        self._set.show_plan(plan)
        self.draw_shot()

    def take_lead(self) -> None:
        """Have the shot as it is to run from here: a take of another's may have run at another speed."""
        if self.rehearsal is not None and not self.rehearsal.is_led and self.rehearsal.plan.speed != self._speed:
            self.show_shot(self.rehearsal.plan.name, self._speed)

    def name_slate(self) -> None:
        """Name the shot and its next slate."""
        if self.rehearsal is not None:
            next_slate = self._next_slate(self.rehearsal.plan.name) if self._next_slate else ""
            slate = f" · next slate {next_slate}" if next_slate else ""
            self._name_show(f" · {shot_text(self.rehearsal.plan)}{slate}")

    def _go_to(self, time_s: Fraction) -> None:
        self.take_lead()
        if self.rehearsal is not None:
            self.rehearsal.go_to(time_s)
            self.draw_moment()
            self.stand_on_line()

    def _name_show(self, shot: str) -> None:
        title = clipped(self._opened.show.title or "", LONGEST_TEXT)
        self._top.left = f"{self._folder_name}{shot}"
        self._top.long_left = f"{self._folder_name} · {title}{shot}" if title else self._top.left

    def _top_rights(self, output: str) -> tuple[str, ...]:
        """Return what may stand at the right of the top line, from the longest: the warnings are kept."""
        if not self._opened.problems:
            return (output, "")
        warnings = counted(len(self._opened.problems), "warning")
        return (" · ".join(part for part in (f"{warnings}, see ?", output) if part), f"{warnings}, see ?", warnings)

    def draw_shot(self, size: Size | None = None) -> None:
        """Draw the shot anew, on a screen of some size."""
        lines = self.player_lines(size or self.size)
        if self.rehearsal is None:
            return
        plan, size = self.rehearsal.plan, size or self.size
        self.screen_stack[0].set_class(size.width >= WIDE_SCREEN, "-wide")
        share = share_lines(size.height - lines, len(plan.move.axes) if plan.move else 0, len(plan.patch.lights))
        self._shot.show_shot(plan, self.rehearsal.timeline, share, size.width - 2)
        self.draw_moment()
        self.refresh_bindings()

    def draw_moment(self) -> None:
        """Draw what is to be seen at the playhead."""
        if self.rehearsal is None:
            return
        moment = self.rehearsal.moment()
        self._timer.resume() if moment.is_running and not self.rehearsal.is_led else self._timer.pause()
        self._shot.moment = self._set.moment = moment
        self._cues.show_rehearsal(self.rehearsal)
        state, axes = state_text(self.rehearsal, moment, self.player), axes_texts(moment.positions)
        self._status.left, *short = (f"{state}  {text}".rstrip() for text in axes)
        self._status.short_lefts = tuple(short)
        self._status.rights = hints(self.rehearsal, moment, self.player, can_fire=self.can_fire)
