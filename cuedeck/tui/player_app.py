"""What the application has of the player: its keys, its line, its notices, and a playhead that follows a take."""

from __future__ import annotations

from abc import abstractmethod
from fractions import Fraction

from textual.geometry import Size

from cuedeck.player.channel.client import Silence
from cuedeck.player.channel.events import Ended, Snapshot
from cuedeck.timeline.choosing import speed_of
from cuedeck.tui.base_app import BaseApp
from cuedeck.tui.player_line import NoticeBox, PlayerLine, PlayerNews
from cuedeck.tui.player_link import News, Reached
from cuedeck.tui.player_side import PlayerSide
from cuedeck.tui.rehearsal import Rehearsal


class PlayerApp(BaseApp):
    """Follows the player of a show, where there is one to follow."""

    def __init__(self, player: PlayerSide | None) -> None:
        super().__init__()
        self.player = player
        """None where the show is only rehearsed here."""
        self.rehearsal: Rehearsal | None = None
        """The shot on the screen; None where the show has none."""
        self.notice = NoticeBox(id="notice")
        self.player_line = PlayerLine(id="player")
        self._lines_before = 0

    # What the screen itself does.

    @property
    @abstractmethod
    def shots(self) -> list[str]:
        """The shots that can be shown."""

    @abstractmethod
    def show_shot(self, name: str, speed: Fraction) -> None:
        """Show a shot, run so many times as fast as it is written."""

    @abstractmethod
    def draw_shot(self) -> None:
        """Draw the shot anew, in the lines that are left for it."""

    @abstractmethod
    def draw_moment(self) -> None:
        """Draw what is to be seen at the playhead."""

    @abstractmethod
    def take_lead(self) -> None:
        """Have the shot as it is to run from here: a take of another's may have run at another speed."""

    @abstractmethod
    def name_slate(self) -> None:
        """Name the next slate anew."""

    # What is heard.

    def listen_to_player(self) -> None:
        """Begin to hear the player."""
        if self.player is not None:
            self.player.begin(lambda news: self.post_message(PlayerNews(news)))

    def on_player_news(self, message: PlayerNews) -> None:
        """Show what the player said, or what became of it."""
        if self.player is None or not self.screen_stack:  # the screens go before the last of the news
            return
        text, is_warning = self.player.hear(message.news)
        is_seen = isinstance(message.news, Snapshot | Silence) and is_warning and len(self.screen_stack) == 1  # large
        if text and not is_seen:
            self.notify(text, severity="warning" if is_warning else "information", markup=False)
        if isinstance(message.news, Snapshot | Reached) and self.player.snapshot is not None:
            self._follow(self.player.snapshot, self.player)
        elif self.player.snapshot is None and self.rehearsal is not None:
            self.rehearsal.end_following()
        if isinstance(message.news, Ended):
            self.name_slate()
        self.heard(message.news)
        self._draw_player()

    def heard(self, news: News) -> None:
        """Do what else is to be done with it; a handler of the same name in a class above would run beside this one."""

    def _follow(self, snapshot: Snapshot, player: PlayerSide) -> None:
        if self.rehearsal is None:
            return
        if player.owes_look:
            if not snapshot.shot:
                player.stand(self.rehearsal)
        elif snapshot.shot in self.shots:
            self._follow_shot(snapshot, player)
        elif self.rehearsal.is_led:
            self.rehearsal.end_following()
            self.rehearsal.hear(snapshot.universes, player.slots)
            self.draw_shot()
        elif self._shows_line(player, self.rehearsal):
            self.rehearsal.hear(snapshot.universes, player.slots)
            self.draw_moment()

    @staticmethod
    def _shows_line(player: PlayerSide, rehearsal: Rehearsal) -> bool:
        """Whether the light on the screen is that of the line: until a move, and where moves go there."""
        is_met_lit = player.is_just_met and player.is_lit
        return player.shows_line and (is_met_lit or rehearsal.hears_line or player.has_light_of_rehearsal)

    def _follow_shot(self, snapshot: Snapshot, player: PlayerSide) -> None:
        speed = speed_of(snapshot.speed or "1")
        plan = self.rehearsal.plan if self.rehearsal is not None else None
        if plan is None or (plan.name, plan.speed) != (snapshot.shot, speed):
            self.show_shot(snapshot.shot, speed)
        if self.rehearsal is None:
            return
        if not self.rehearsal.is_led:
            self.name_slate()
        was_led, was_running = self.rehearsal.is_led, self.rehearsal.playhead.is_running
        is_other = self.rehearsal.follow(snapshot)
        self.rehearsal.hear(snapshot.universes, player.slots)
        if is_other or not was_led or was_running != self.rehearsal.playhead.is_running:
            self.draw_shot()
        else:
            self.draw_moment()

    # What is drawn.

    def player_lines(self, size: Size) -> int:
        """Draw what there is of the player on a screen of some size, and return how many lines that takes."""
        if self.player is None:
            return 0
        notice = self.notice.show_notices(self.player.notices, size.width - 2)
        is_shown = self.player.snapshot is not None or bool(self.player.to)
        self.player_line.show_snapshot(self.player.snapshot, self.player.silence)
        self.screen_stack[0].set_class(is_shown, "-player")
        self.screen_stack[0].set_class(notice > 0, "-notice")
        self._lines_before = notice + is_shown
        return self._lines_before

    def _draw_player(self) -> None:
        before = self._lines_before
        if self.player_lines(self.size) != before:
            self.draw_shot()
        self.refresh_bindings()

    # What keys do.

    def action_take(self) -> None:
        """Count down and take the shot."""
        self.take_lead()
        if self.player is not None and self.rehearsal is not None:
            self.player.take(self.rehearsal)

    def action_hold(self) -> None:
        """Hold the shot on the line, or let it go on."""
        self._ask("hold")

    def action_stop_take(self) -> None:
        """Stop the take."""
        self._ask("stop_take")

    def action_blackout(self) -> None:
        """Black out the line."""
        refused = "there is no player here" if self.player is None else self.player.black_out()
        if refused:
            self.notify(refused, severity="warning", markup=False)

    def action_blackout_anywhere(self) -> None:
        """Black out the line, where letters are typed too."""
        self.action_blackout()

    def action_release(self) -> None:
        """Let go of the blackout, the hold or the look."""
        self._ask("release")

    def action_control(self) -> None:
        """Take over control."""
        self._ask("control")

    def action_dismiss(self) -> None:
        """Put away the notice."""
        if self.player is not None:
            self.player.dismiss()
            self._draw_player()

    def can_ask(self, action: str) -> bool:
        """Whether the player can be asked for something now."""
        has_shot = self.rehearsal is not None or action == "release"
        return self.player is not None and has_shot and self.player.can(action)

    @property
    def is_blacked_out(self) -> bool:
        """Whether the line is kept dark."""
        snapshot = None if self.player is None else self.player.snapshot
        return snapshot is not None and snapshot.is_blacked_out

    @property
    def can_move(self) -> bool:
        """Whether the playhead is in our hands."""
        return self.player is None or self.player.is_free

    @property
    def can_fire(self) -> bool:
        """Whether a cue waits to be fired, on the line or here."""
        rehearsal = self.rehearsal
        if rehearsal is None:
            return False
        if rehearsal.is_led:
            return self.can_ask("fire")
        return rehearsal.playhead.is_running and bool(rehearsal.waiting_cues)

    def run_on_line(self) -> bool:
        """Run the shot on the line, or stop it there; return whether that is where rehearsals go."""
        if self.player is None or self.rehearsal is None or not self.player.to:
            return False
        if self.player.is_rehearsing:
            self.player.ask("stop_take")
        elif self.player.is_free:
            self.run_shot()
        return True

    def run_shot(self) -> None:
        """Run the shot on the line from the playhead."""
        if self.player is not None and self.rehearsal is not None:
            self.player.run(self.rehearsal)

    def stand_on_line(self) -> None:
        """Put the look at the playhead on the line, where that is where rehearsals go."""
        if self.player is not None and self.rehearsal is not None:
            self.player.stand(self.rehearsal)

    def _ask(self, action: str) -> None:
        if self.player is not None and self.player.can(action):
            self.player.ask(action)

    def leave_player(self, show: str, *, holds: bool) -> list[str]:
        """Leave the player once the screen has ended, and return what is to be said. May wait some seconds."""
        return [] if self.player is None else self.player.leave(show, holds=holds)
