"""What keys and the pointer do to the playhead: run, step, loop, go to a cue or a place, and from shot to shot."""

from __future__ import annotations

from abc import abstractmethod
from fractions import Fraction

from cuedeck.clock import Clock
from cuedeck.draft.starts import place_s
from cuedeck.tui.light_app import LightApp
from cuedeck.tui.player_link import News
from cuedeck.tui.prompt import Question
from cuedeck.tui.rehearsal import Loop
from cuedeck.tui.selection import KeyPlace

SLOWER = (Fraction(1), Fraction(1, 2), Fraction(1, 4), Fraction(1, 8))
"""How many times as fast as asked for a shot is rehearsed, one after the other."""


class MovingApp(LightApp):
    """Moves the playhead."""

    clock: Clock
    base_speed: Fraction
    """How many times as fast as it is written a take goes."""
    rehearsal_speed: Fraction
    """The same for a rehearsal, which may be slower."""

    _goes_round = False
    """Whether the rehearsal on the line is stopped only to begin its loop anew."""

    def heard(self, news: News) -> None:
        """Begin the loop anew where the rehearsal on the line has come to its end."""
        super().heard(news)
        player, rehearsal = self.player, self.rehearsal
        if player is None or rehearsal is None or player.snapshot is None or rehearsal.loop is None:
            self._goes_round = False
        elif self._goes_round:
            if not player.snapshot.shot and not player.is_beginning:
                self._goes_round = False
                rehearsal.go_to(rehearsal.loop.from_s)
                self.run_shot()
        elif player.is_rehearsing and player.can("stop_take") and player.snapshot.time_s >= rehearsal.loop.to_s:
            self._goes_round = True
            player.ask("stop_take")

    def begin_take(self) -> None:
        """Take the shot at the speed that was asked for, however slowly it was rehearsed."""
        rehearsal = self.rehearsal
        if rehearsal is not None and self.rehearsal_speed != self.base_speed:
            self.rehearsal_speed = self.base_speed
            self.show_shot(rehearsal.plan.name, self.base_speed)
        super().begin_take()

    @abstractmethod
    def show_shot(self, name: str, speed: Fraction) -> None:
        """Show a shot, run so many times as fast as it is written."""

    def take_lead(self) -> None:
        """Have the shot as it is to run from here: a take of another's may have run at another speed."""
        rehearsal = self.rehearsal
        if rehearsal is not None and not rehearsal.is_led and rehearsal.plan.speed != self.rehearsal_speed:
            self.show_shot(rehearsal.plan.name, self.rehearsal_speed)

    def go_to(self, time_s: Fraction) -> None:
        """Put the playhead at a time, on the line too."""
        self.take_lead()
        if self.rehearsal is not None and self.can_move:
            self.rehearsal.go_to(time_s)
            self.draw_moment()
            self.stand_on_line()

    def action_run_or_stop(self) -> None:
        """Run the shot from the playhead, or stop it there."""
        self.take_lead()
        runs = self.rehearsal is not None and self.rehearsal.playhead.is_running
        if not runs and self.is_stopped_by_errors():
            return
        if self.rehearsal is not None and not self.run_on_line():
            self.rehearsal.run_or_stop(self.clock.now_ns())
            self.draw_shot()

    def action_fire(self) -> None:
        """Fire the next operator cue."""
        if self.rehearsal is not None and self.rehearsal.is_led:
            self._ask("fire")
        elif self.rehearsal is not None and self.rehearsal.fire(self.clock.now_ns()):
            self.draw_shot()

    def tick(self) -> None:
        """Let the playhead follow the clock, and show what it has come to."""
        if self.rehearsal is not None:
            self.rehearsal.tick(self.clock.now_ns())
            self.draw_moment()

    def action_step(self, frames: int) -> None:
        """Put the playhead so many camera frames on."""
        self.take_lead()
        if self.rehearsal is not None:
            self.tick()
            self.rehearsal.step(frames)
            self.draw_moment()
            self.stand_on_line()

    def action_step_seconds(self, seconds: int) -> None:
        """Put the playhead so many seconds on, on a camera frame."""
        if self.rehearsal is not None:
            self.action_step(round(seconds * self.rehearsal.plan.fps_on_set))

    def action_to_start(self) -> None:
        """Put the playhead at the start of the shot."""
        self.go_to(Fraction(0))

    def action_to_end(self) -> None:
        """Put the playhead at the end of the shot."""
        if self.rehearsal is not None:
            self.go_to(self.rehearsal.playhead.length_s)

    def action_turn_cue(self, by: int) -> None:
        """Go to the start of the cue before or after; among the cues, choose it too."""
        rehearsal = self.rehearsal
        if rehearsal is None:
            return
        order = self.cues_in_order()
        if self.selection.place is KeyPlace.CUES and self.selection.cue in order:
            index = order.index(self.selection.cue) + by
            name = order[index] if 0 <= index < len(order) else None
        else:
            at_s = rehearsal.playhead.at_s
            starts = [(rehearsal.starts[one], one) for one in order]
            passed = [one for start, one in starts if start is not None and (start < at_s if by < 0 else start > at_s)]
            name = (passed[-1] if by < 0 else passed[0]) if passed else None
        if name is None:
            ways = ("before", ". goes to the one after") if by < 0 else ("after", ", goes to the one before")
            self.say("there is no cue {} this: {}".format(*ways) if order else "this shot has no cue yet: n adds one")
            return
        start_s = rehearsal.starts[name]
        if self.selection.place is KeyPlace.CUES:
            self.choose_cue(name)
        if start_s is not None:
            self.go_to(start_s)

    def action_go_to_place(self) -> None:
        """Go to a place that is typed."""
        rehearsal = self.rehearsal
        if rehearsal is None or not self.can_move:
            return

        def answer(text: str) -> None:
            self.go_to(place_s(rehearsal.plan, text))

        hint = "2 s, 50 frames, 01:00:04:12, slide 60 mm, 40 % of the move"
        self.ask(Question("go to", "", hint, answer))

    def action_begin_span(self) -> None:
        """Let the loop begin at the playhead."""
        rehearsal = self.rehearsal
        if rehearsal is not None:
            end_s = rehearsal.loop.to_s if rehearsal.loop else rehearsal.playhead.length_s
            self._loop_between(rehearsal.playhead.at_s, end_s)

    def action_end_span(self) -> None:
        """Let the loop end at the playhead."""
        rehearsal = self.rehearsal
        if rehearsal is not None:
            start_s = rehearsal.loop.from_s if rehearsal.loop else Fraction(0)
            self._loop_between(start_s, rehearsal.playhead.at_s)

    def _loop_between(self, from_s: Fraction, to_s: Fraction) -> None:
        rehearsal = self.rehearsal
        if rehearsal is None:
            return
        if from_s >= to_s:
            self.say("a loop ends after it begins: go on, and set its end with )", is_warning=True)
            return
        rehearsal.loop = Loop(from_s, to_s)
        self.draw_moment()

    def action_loop(self) -> None:
        """Go round in the cue that is on, up to the next one; or let a loop go."""
        rehearsal = self.rehearsal
        if rehearsal is None:
            return
        if rehearsal.loop is not None:
            rehearsal.loop = None
            self.draw_moment()
            return
        at_s = rehearsal.playhead.at_s
        starts = sorted({cue.start_s for cue in rehearsal.timeline.cues})
        before = [start for start in starts if start <= at_s]
        after = [start for start in starts if start > at_s]
        self._loop_between(
            before[-1] if before else Fraction(0), after[0] if after else max(rehearsal.playhead.length_s, at_s)
        )

    def action_slower(self) -> None:
        """Rehearse slower, and at full speed again after the slowest."""
        rehearsal = self.rehearsal
        if rehearsal is None or not self.can_move:
            return
        factor = self.rehearsal_speed / self.base_speed
        self.rehearsal_speed = self.base_speed * SLOWER[(SLOWER.index(factor) + 1) % len(SLOWER)]
        share = rehearsal.playhead.at_s * rehearsal.plan.speed
        self.show_shot(rehearsal.plan.name, self.rehearsal_speed)
        self.go_to(share / self.rehearsal_speed)

    def action_show_shot(self, name: str) -> None:
        """Go to a shot by its name."""
        if name in self.shots and self.can_move:
            self.show_shot(name, self.rehearsal_speed)
            self.stand_on_line()

    def action_turn_shot(self, by: int) -> None:
        """Go to the shot before or after."""
        if self.rehearsal is not None:
            index = self.shots.index(self.rehearsal.plan.name) + by
            if 0 <= index < len(self.shots):
                self.action_show_shot(self.shots[index])
