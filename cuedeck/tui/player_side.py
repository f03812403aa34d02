"""The player as the screen knows it: what it said last, what can be asked of it now, and what is to be said of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from cuedeck.player import words
from cuedeck.player.channel.client import Silence
from cuedeck.player.channel.events import Ended, Snapshot, unpacked
from cuedeck.player.channel.requests import Begin, Expect, ShowLook, Stop
from cuedeck.player.take.result import reason_of
from cuedeck.tui.player_asks import REQUESTS, can_ask
from cuedeck.tui.player_link import BlackoutWaits, Gone, Hear, News, NotDone, PlayerLink, Reached
from cuedeck.tui.rehearsal import Rehearsal

COUNT_S = 3
SIMULATOR = ("simulator",)


class PlayerSide:
    """What the screen asks, and what it has heard. All of it happens in the thread of the screen, and none waits."""

    def __init__(self, link: PlayerLink, to: Sequence[str], log: str | None = None) -> None:
        self._link = link
        self._log = log
        """The file that takes are logged in; None for that of the show."""
        self.to = tuple(to)
        """Where rehearsals and takes go; where nothing is named, takes go to the simulator."""
        self.snapshot: Snapshot | None = None
        """How everything stands; None where no player runs."""
        self.slots = b""
        """What is on the line, 512 bytes for each universe; nothing where nothing is sent."""
        self.silence: Silence | None = None
        """Since the player does not answer: how long that is."""
        self.notices: list[str] = []
        """What is to be said until it is dismissed, the newest last."""
        self.is_beginning = False
        """Whether something was asked to run that does not yet."""
        self.owes_look = False
        """Whether the look at the playhead goes to the line as soon as the rehearsal there has ended."""
        self.has_light_of_rehearsal = False
        """Whether what is on the line was put there from here, to be looked at."""
        self.is_just_met = False
        """Whether the newest snapshot is the first of its player."""
        self._before_loss: Snapshot | None = None
        self._problem = ""
        """The notice that the show cannot run."""
        self._pid = 0
        """The process of the player."""
        self._hang = ""
        """The notice that the player does not answer."""
        self._loss = ""
        """The notice that another player is being started."""
        self._reached: Reached | None = None
        self._refused_look = ""

    def begin(self, hear: Hear) -> None:
        """Look for the player; start it where packets are to leave."""
        if self._link.is_black_kept:
            self.notices.append(words.BLACKOUT_KEPT)
        self._link.begin(hear, starts=bool(self.to))

    # What there is.

    @property
    def is_running(self) -> bool:
        """Whether a take or a rehearsal is on the line."""
        return self.snapshot is not None and bool(self.snapshot.shot)

    @property
    def is_taking(self) -> bool:
        """Whether a take is on the line, or about to be."""
        return self.is_running and bool(self.snapshot and self.snapshot.slate)

    @property
    def is_rehearsing(self) -> bool:
        """Whether a rehearsal runs on the line that is in our hands."""
        return self.is_running and not self.is_taking and bool(self.snapshot and self.snapshot.has_control)

    @property
    def is_free(self) -> bool:
        """Whether the playhead may be moved: no take is under way, and no rehearsal of another's."""
        return not self.is_beginning and (not self.is_running or self.is_rehearsing)

    @property
    def is_lit(self) -> bool:
        """Whether there is light on the line."""
        return self.snapshot is not None and self.snapshot.is_lit

    @property
    def shows_line(self) -> bool:
        """Whether the newest snapshot is of what was asked for last."""
        return not self.owes_look and not self._link.is_busy

    def can(self, action: str) -> bool:
        """Whether something can be asked for now."""
        snapshot = self.snapshot
        if action == "take":
            return not self.is_running and not self.is_beginning
        if action == "dismiss":
            return bool(self.notices)
        return snapshot is not None and can_ask(action, snapshot)

    # What is asked.

    def take(self, rehearsal: Rehearsal) -> None:
        """Count down and take the shot."""
        self._begin(rehearsal, count_s=COUNT_S, log=self._log)

    def run(self, rehearsal: Rehearsal, texts: Mapping[str, bytes] | None = None) -> None:
        """Run the shot on the line from the playhead, with the packed texts of what is not saved. Raises Refusal."""
        packet, fired = rehearsal.place_to_run_from()
        self.has_light_of_rehearsal = True
        self._begin(
            rehearsal,
            is_rehearsal=True,
            from_packet=packet,
            fired=tuple((one.cue, one.packet) for one in fired),
            texts=dict(texts or {}),
        )

    def _begin(self, rehearsal: Rehearsal, **how: Any) -> None:
        plan = rehearsal.plan
        to, speed, attended = self.to or SIMULATOR, str(plan.speed), bool(plan.operator_cues)
        self.is_beginning = False
        asked = Begin(shot=plan.name, to=to, speed=speed, attended=attended, **how)
        self.is_beginning = True
        self._link.ask(asked)

    def stand(self, rehearsal: Rehearsal) -> None:
        """Put the look at the playhead on the line; a rehearsal there is stopped first."""
        self.owes_look = False
        if not self.to or rehearsal.plan.errors:
            return
        self.owes_look = self.is_running
        if self.is_running:
            self._link.ask(Stop())
            return
        self.has_light_of_rehearsal = True
        slots = rehearsal.slots().tobytes()
        self._link.ask(ShowLook(to=self.to, universes=rehearsal.plan.patch.universes, slots=slots, is_rehearsal=True))

    def ask(self, action: str) -> None:
        """Ask for what a key says."""
        if self.snapshot is None:
            return
        if action == "release" and not self.snapshot.is_blacked_out and not self.is_running:
            self.has_light_of_rehearsal = False
        self._link.ask(REQUESTS[action](self.snapshot))

    def black_out(self) -> str:
        """Ask for a blackout; return what is to be said where there is one."""
        if self.snapshot is not None and self.snapshot.is_blacked_out and self.silence is None:
            return "the line is blacked out already: r lets the light back"
        self._link.black_out()
        return ""

    def dismiss(self) -> None:
        """Forget the newest notice, which has been read."""
        del self.notices[-1:]

    def leave(self, show: str, *, holds: bool) -> list[str]:
        """Leave the player, and return what is to be said: a take goes on, a rehearsal ends unless the light holds.

        `show` is how the user calls the folder. May wait some seconds.
        """
        snapshot = self.snapshot
        if self.silence is not None:
            self._link.leave(lets_go=False)
            return [words.hang_text(self._pid, snapshot)]
        is_ours = self.has_light_of_rehearsal and snapshot is not None and not self.is_taking
        lets_go = is_ours and bool(snapshot and snapshot.has_control and not snapshot.is_blacked_out) and not holds
        said = [] if snapshot is None or lets_go else [*words.farewell_lines(snapshot, show)]
        self._link.leave(lets_go=lets_go)
        return said

    # What is heard.

    def hear(self, news: News) -> tuple[str, bool]:
        """Take up what happened; return what is to be told at once, if anything, and whether it is a warning."""
        match news:
            case Snapshot():
                return self._see(news), True
            case Silence():
                return self._miss(news)
            case BlackoutWaits():
                return words.BLACKOUT_WAITS, True
            case Reached():
                self._reached, self._pid = news, news.pid
                if self.to:
                    self._link.ask(Expect(to=self.to))
                if self.snapshot is not None:  # it was quicker than this
                    self._see(self.snapshot)
            case Gone():
                return self._lose(news)
            case NotDone():
                return self._regret(news), True
            case Ended():
                self.is_beginning = False
                return words.ended_text(news), bool(reason_of(news))
        return getattr(news, "text", ""), True

    def _see(self, snapshot: Snapshot) -> str:
        """Take up how everything stands; return what has become of a blackout, if it changed."""
        was_black = self.snapshot is not None and self.snapshot.is_blacked_out
        last_before = None if self.snapshot is None else self.snapshot.last_take
        problem_before = "" if self.snapshot is None else self.snapshot.show_problem
        self.snapshot, self.slots = snapshot, unpacked(snapshot.slots)
        if words.BLACKOUT_KEPT in self.notices:
            self.notices.remove(words.BLACKOUT_KEPT)  # the state of the player says it now
        if snapshot.shot:
            self.is_beginning = False
        if self.is_taking:
            self.has_light_of_rehearsal = False
        self.is_just_met = self._reached is not None
        if self._reached is not None:
            self._meet(snapshot, self._reached)
            self._reached = None
        elif snapshot.last_take != last_before:
            self._tell_of_missed(snapshot)
        if snapshot.show_problem != problem_before:
            self._tell_of_show(snapshot.show_problem)
        return words.blackout_text(snapshot) if snapshot.is_blacked_out is not was_black else ""

    def _miss(self, silence: Silence) -> tuple[str, bool]:
        """Note that the player does not answer, or answers again."""
        was_silent = self.silence is not None
        self.silence = None if silence.is_over else silence
        if self._hang in self.notices and not (was_silent and self.silence):
            self.notices.remove(self._hang)
        if silence.is_over:
            return str(silence), False
        if was_silent:
            return "", True
        self._hang = words.hang_text(self._pid, self.snapshot)
        self.notices.append(self._hang)
        return str(silence), True

    def _tell_of_show(self, problem: str) -> None:
        if self._problem in self.notices:
            self.notices.remove(self._problem)
        self._problem = words.problem_text(problem)
        if problem:
            self.notices.append(self._problem)

    def _meet(self, snapshot: Snapshot, reached: Reached) -> None:
        """Say what is to be known of a player when it is met."""
        if reached.follows_gone:
            self.notices = [notice for notice in self.notices if notice != self._loss]
            self.notices.append(words.resumed_text(reached.pid, self._before_loss, is_lit=self.is_lit))
        else:
            self._tell_of_missed(snapshot)

    def _tell_of_missed(self, snapshot: Snapshot) -> None:
        """Say that a take was missed: one may still be logged when its player is met."""
        missed = words.missed_text(snapshot)
        if missed and missed not in self.notices:
            self.notices.append(missed)

    def _lose(self, gone: Gone) -> tuple[str, bool]:
        self._before_loss, self.snapshot, self.slots = self.snapshot, None, b""
        self.silence = None
        self.notices = [notice for notice in self.notices if notice != self._hang]
        self.is_beginning = self.owes_look = False
        text = words.gone_text(
            gone.what, self._before_loss, has_light=gone.has_light, is_only_watched=gone.is_only_watched
        )
        if gone.has_light:
            self._loss = text
            self.notices.append(text)
            return "", True
        return text, True

    def _regret(self, news: NotDone) -> str:
        if isinstance(news.request, Begin):
            self.is_beginning = False
        if isinstance(news.request, Stop):
            self.owes_look = False
        if not isinstance(news.request, ShowLook):
            return news.what
        self.has_light_of_rehearsal = False
        is_same, self._refused_look = news.what == self._refused_look, news.what
        return "" if is_same else news.what
