"""What keys and the pointer do to cues: choose, add, drag, stretch, and change one field or another."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from cuedeck.draft import cues as edits
from cuedeck.draft.first_shot import first_shot
from cuedeck.draft.steps import Edit
from cuedeck.errors import Refusal
from cuedeck.light.curves import CURVE_HINT
from cuedeck.show.model import Cue
from cuedeck.show.triggers import AfterCue
from cuedeck.timing.labels import frame_at
from cuedeck.tui.draft_app import DraftApp
from cuedeck.tui.prompt import Question
from cuedeck.tui.rehearsal import Rehearsal
from cuedeck.tui.selection import Field, KeyPlace

FADE_STEP_S = Fraction(1, 10)
START_HINT = "2 s, 50 frames, 01:00:04:12, slide 60 mm, 40 % of the move, operator, after 2, with 2 wait 1 s"


class CueApp(DraftApp):
    """Edits the cues of the shot on the screen."""

    @property
    def cue(self) -> Cue | None:
        """The cue that is chosen."""
        return None if self.rehearsal is None else self._cue_named(self.rehearsal, self.selection.cue)

    @staticmethod
    def _cue_named(rehearsal: Rehearsal, name: str | None) -> Cue | None:
        return next((cue for cue in rehearsal.plan.shot.cues if cue.cue == name), None)

    def choose_cue(self, name: str | None) -> None:
        """Choose a cue, and go to the place of the cues."""
        self.selection = replace(self.selection, place=KeyPlace.CUES, cue=name)
        self.show_selection()

    def cue_at_playhead(self) -> str | None:
        """Return the cue that is on at the playhead, else the first of the shot."""
        if self.rehearsal is None:
            return None
        at_s = self.rehearsal.playhead.at_s
        started = [cue.name for cue in self.rehearsal.timeline.cues if cue.start_s <= at_s]
        names = [cue.cue for cue in self.rehearsal.plan.shot.cues]
        return started[-1] if started else next(iter(names), None)

    def cues_in_order(self) -> list[str]:
        """Return the cues in the order they start in; those that do not start come last."""
        if self.rehearsal is None:
            return []
        starts = self.rehearsal.starts
        names = [cue.cue for cue in self.rehearsal.plan.shot.cues]
        return sorted(names, key=lambda name: (starts[name] is None, starts[name] or 0))

    def change_cue(self, build: Callable[[Rehearsal, str], Edit]) -> bool:
        """Make an edit of the cue that is chosen."""
        rehearsal, cue = self.rehearsal, self.cue
        if rehearsal is None or cue is None:
            self.say("no cue is chosen: , and . go to the one before and after")
            return False
        return self._with_playhead(cue.cue, lambda: self.edit(lambda: build(rehearsal, cue.cue)))

    def _with_playhead(self, cue: str, change: Callable[[], bool]) -> bool:
        """Change a cue; a playhead that stands in the frame in which it starts goes with it."""
        rehearsal = self.rehearsal
        before_s = None if rehearsal is None else rehearsal.starts.get(cue)
        is_done = change()
        if rehearsal is not None and before_s is not None and not rehearsal.playhead.is_running:
            after_s = rehearsal.starts.get(cue)
            stood_there = frame_at(before_s, rehearsal.plan.fps_on_set) == rehearsal.playhead.frame
            if stood_there and after_s is not None and after_s != before_s:
                self.go_to(after_s)
        return is_done

    # What keys do.

    def action_drag_cue(self, frames: int) -> None:
        """Start the cue so many camera frames later."""
        opened = self.draft.opened
        self.change_cue(lambda shot, cue: edits.move_by_frames(opened, shot.plan.name, cue, frames))

    def action_drag_cue_by_seconds(self, seconds: int) -> None:
        """Start the cue so many seconds later, in whole camera frames."""
        if self.rehearsal is not None:
            self.action_drag_cue(round(seconds * self.rehearsal.plan.fps_on_set))

    def action_field(self, by: int) -> None:
        """Choose the field of the cue below."""
        self.selection = self.selection.on_field(by)
        self.show_selection()

    def action_change_field(self, by: int) -> None:
        """Change the field that is chosen by a step."""
        opened = self.draft.opened

        def build(shot: Rehearsal, cue: str) -> Edit:
            name = shot.plan.name
            match self.selection.field:
                case Field.STARTS:
                    return edits.move_by_frames(opened, name, cue, by)
                case Field.FADE:
                    return edits.lengthen_fade(opened, name, cue, by * FADE_STEP_S)
                case Field.CURVE:
                    return edits.turn_curve(opened, name, cue, by)
                case Field.LOOK:
                    return edits.turn_look(opened, name, cue, by)
                case Field.COLOURS:
                    return edits.turn_colour_path(opened, name, cue, by)
                case _:
                    raise Refusal(f"the {self.selection.field} of a cue is typed: enter types it")

        self.change_cue(build)

    def action_type_field(self) -> None:
        """Type the field that is chosen."""
        cue, rehearsal = self.cue, self.rehearsal
        if cue is None or rehearsal is None or not self.can_edit:
            return
        opened, shot, name = self.draft.opened, rehearsal.plan.name, cue.cue
        looks = ", ".join(opened.show.looks)
        asked: dict[Field, tuple[str, str, Callable[[str], Edit]]] = {
            Field.STARTS: (start_text(cue), START_HINT, lambda text: edits.set_start(opened, shot, name, text)),
            Field.FADE: (
                str(cue.fade),
                "2 s, 500 ms, 12 frames",
                lambda text: edits.set_fade(opened, shot, name, text),
            ),
            Field.CURVE: (
                cue.curve,
                CURVE_HINT,
                lambda text: edits.set_curve(opened, shot, name, text),
            ),
            Field.LOOK: (cue.look, looks, lambda text: edits.set_look(opened, shot, name, text)),
            Field.COLOURS: (
                cue.colour_path,
                "u'v' (as light mixes), or channels (each by itself)",
                lambda text: edits.set_colour_path(opened, shot, name, text),
            ),
            Field.NAME: (name, "its number or name", lambda text: edits.rename(opened, shot, name, text)),
            Field.TITLE: (
                cue.title or "",
                "what it is for, in your words",
                lambda text: edits.set_title(opened, shot, name, text),
            ),
        }
        field = self.selection.field
        value, hint, build = asked[field]

        def answer(text: str) -> None:
            self.make(build(text))
            if field is Field.NAME:
                self.choose_cue(text.strip())

        self.ask(Question(f"{field} of cue {name}", value, hint, answer))

    def action_new_cue(self) -> None:
        """Add a cue at the playhead; where there is no shot yet, add that."""
        rehearsal = self.rehearsal
        if rehearsal is None:
            if self.edit(lambda: first_shot(self.draft.opened)):
                self.action_show_shot(next(iter(self.draft.opened.show.shots)))
            return
        plan, at_s = rehearsal.plan, rehearsal.playhead.at_s * rehearsal.plan.speed
        self._add(lambda: edits.add(self.draft.opened, plan.name, at_s))

    def action_new_cue_at(self) -> None:
        """Add a cue at a place that is typed."""
        rehearsal = self.rehearsal
        if rehearsal is None or not self.can_edit:
            return
        shot = rehearsal.plan.name

        def answer(text: str) -> None:
            before = {cue.cue for cue in rehearsal.plan.shot.cues}
            self.make(edits.add_at(self.draft.opened, shot, text))
            self._choose_new(before)

        self.ask(Question("new cue at", "", START_HINT, answer))

    def _add(self, build: Callable[[], Edit]) -> None:
        before = set() if self.rehearsal is None else {cue.cue for cue in self.rehearsal.plan.shot.cues}
        if self.edit(build):
            self._choose_new(before)

    def _choose_new(self, before: set[str]) -> None:
        names = [] if self.rehearsal is None else [cue.cue for cue in self.rehearsal.plan.shot.cues]
        new = next((name for name in names if name not in before), None)
        if new is not None:
            self.choose_cue(new)

    def action_duplicate_cue(self) -> None:
        """Add a cue like the one that is chosen."""
        rehearsal, cue = self.rehearsal, self.cue
        if rehearsal is not None and cue is not None:
            self._add(lambda: edits.duplicate(self.draft.opened, rehearsal.plan.name, cue.cue))

    def action_delete_cue(self) -> None:
        """Take the cue out; undo brings it back."""
        order, cue = self.cues_in_order(), self.selection.cue
        opened = self.draft.opened
        if self.change_cue(lambda shot, name: edits.delete(opened, shot.plan.name, name, retie=True)):
            left = [name for name in order if name != cue]
            at = order.index(cue) if cue in order else 0
            self.choose_cue(left[min(at, len(left) - 1)] if left else None)

    def action_skip_cue(self) -> None:
        """Leave the cue out of the shot, or take it in again."""
        opened = self.draft.opened
        self.change_cue(lambda shot, cue: edits.toggle_skip(opened, shot.plan.name, cue))

    def action_renumber(self) -> None:
        """Number the cues of the shot 1, 2, 3 in the order they start in."""
        rehearsal = self.rehearsal
        if rehearsal is None:
            return
        at = self.cues_in_order().index(self.selection.cue) if self.selection.cue in self.cues_in_order() else None
        if self.edit(lambda: edits.renumber(self.draft.opened, rehearsal.plan.name)) and at is not None:
            self.choose_cue(self.cues_in_order()[at])

    def drag_cue_to(self, name: str, time_s: Fraction) -> None:
        """Start a cue at the camera frame nearest to a time: the pointer has dragged it there."""
        rehearsal = self.rehearsal
        if rehearsal is None:
            return
        plan = rehearsal.plan
        at_s = round(time_s * plan.speed * plan.fps_on_set) / plan.fps_on_set
        self._with_playhead(name, lambda: self.edit(lambda: edits.move_to(self.draft.opened, plan.name, name, at_s)))

    @abstractmethod
    def go_to(self, time_s: Fraction) -> None:
        """Put the playhead at a time, on the line too."""

    @abstractmethod
    def action_show_shot(self, name: str) -> None:
        """Go to a shot by its name."""


def start_text(cue: Cue) -> str:
    """Return the start of a cue as it can be typed."""
    trigger = cue.trigger
    if not isinstance(trigger, AfterCue):
        return str(trigger)
    wait = f" wait {trigger.wait}" if trigger.wait.base else ""
    return f"{'with' if trigger.from_start else 'after'} {trigger.cue}{wait}"
