"""What keys and the pointer do to light: choose a light or a group, nudge it, see it alone, keep or drop the nudge."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from cuedeck.draft import looks as edits
from cuedeck.draft.nudges import Nudges, cue_of_light, light_states, nudge_as_typed, nudge_by_step
from cuedeck.draft.settings import ColourStep, LevelStep
from cuedeck.errors import Refusal
from cuedeck.report.lanes import LaneScale
from cuedeck.rig.state import states
from cuedeck.timeline.opening import OpenedShow
from cuedeck.tui.cue_app import CueApp
from cuedeck.tui.prompt import Question
from cuedeck.tui.rehearsal import Rehearsal
from cuedeck.tui.selection import KeyPlace

MIRED_STEP = 10
LIGHT_HINT = "45 %, -1.5 stop, out, full, 5600 K, 5600 K Duv +0.003, xy 0.31 0.33, -1 stop 5600 K"


@dataclass(frozen=True)
class Meant:
    """What a nudge is of: some lights in one look."""

    lights: tuple[str, ...]
    look: str
    cue: str
    """The cue that goes to the look."""


NOTHING_NUDGED = "nothing is nudged: ← and → nudge a light"


class LightApp(CueApp):
    """Dials in the light of the shot on the screen."""

    scale: LaneScale
    """What the lanes show, and so what a nudge counts in."""

    @property
    def seen(self) -> OpenedShow:
        """The show as it is to be seen: with its nudges, or flipped to what is stored."""
        return self.draft.opened if self.is_flipped else self.draft.shown

    @property
    def lights(self) -> list[str]:
        """The lights of the rig, in its order."""
        return [fixture.name for fixture in self.draft.opened.patch.lights]

    @property
    def chosen_lights(self) -> tuple[str, ...]:
        """The lights that keys act on: the one that is chosen, or its group."""
        light, group = self.selection.light, self.selection.group
        if light is None:
            return ()
        members = self.draft.opened.show.groups.get(group, [light]) if group is not None else [light]
        return tuple(name for name in self.lights if name in members)

    def choose_light(self, name: str) -> None:
        """Choose a light, and go to the place of the lights."""
        group = self.selection.group if name in self.chosen_lights else None
        self.selection = replace(self.selection, place=KeyPlace.LIGHTS, light=name, group=group)
        self.show_selection()

    def meant(self) -> Meant:
        """Return what a nudge is of now. Raises Refusal where no cue is on yet."""
        rehearsal, lights = self.rehearsal, self.chosen_lights
        if rehearsal is None or not lights:
            raise Refusal("no light is chosen: tab goes to the lights, ↑ and ↓ choose one")
        found = cue_of_light(rehearsal.plan, rehearsal.timeline, lights[0], rehearsal.playhead.at_s)
        if found is not None:
            return Meant(lights, found[1], found[0])
        on = self._cue_named(rehearsal, self.cue_at_playhead())
        if on is None:
            raise Refusal("this shot has no cue yet: n adds one here")
        return Meant(lights, on.look, on.cue)

    # What keys do.

    def action_light(self, by: int) -> None:
        """Choose the light below."""
        self.selection = self.selection.on_light(self.lights, by)
        if self.rehearsal is not None and self.rehearsal.alone is not None:
            self._see_alone(self.rehearsal)
        self.show_selection()

    def action_group(self) -> None:
        """Mean the group of the light, the next one, or the light alone."""
        light, show = self.selection.light, self.draft.opened.show
        around = [None, *(name for name, members in show.groups.items() if light in members)]
        if len(around) == 1:
            where = f"'{light}' is in no group" if light else "no light is chosen"
            self.say(f"{where}: ↑ and ↓ choose a light")
            return
        at = around.index(self.selection.group) if self.selection.group in around else 0
        self.selection = replace(self.selection, group=around[(at + 1) % len(around)])
        if self.rehearsal is not None and self.rehearsal.alone is not None:
            self._see_alone(self.rehearsal)
        self.show_selection()

    def action_nudge(self, by: int) -> None:
        """Nudge the light by tenths of a stop, or by percent where the lanes show percent."""
        is_percent = self.scale is LaneScale.PERCENT
        how = LevelStep(percent=Fraction(by, 100)) if is_percent else LevelStep(stops=Fraction(by, 10))
        self._nudge(how)

    def action_warm(self, by: int) -> None:
        """Nudge the colour of the light by steps of ten mired, up for warmer."""
        self._nudge(ColourStep(mired=MIRED_STEP * by))

    def _nudge(self, step: LevelStep | ColourStep) -> None:
        rehearsal = self.rehearsal
        if rehearsal is None or not self.can_edit:
            return
        try:
            meant = self.meant()
            now = light_states(states(rehearsal.plan.patch, rehearsal.slots()))
            nudges = nudge_by_step(self.draft.opened, self.draft.nudges, meant.look, meant.lights, step, now)
        except Refusal as refused:
            self.say(str(refused), is_warning=True)
            return
        self._set_nudges(meant, nudges)

    def _set_nudges(self, meant: Meant, nudges: Nudges) -> None:
        self.is_flipped = False
        name = self.selection.group or meant.lights[0]
        said = nudges.text_of(meant.look, meant.lights[0])
        self.nudge(f"nudge {name} to {said} in look {meant.look}", nudges, f"nudge {meant.look} {name}")

    def action_type_light(self) -> None:
        """Type a level or a colour of the light."""
        if self.rehearsal is None or not self.can_edit:
            return
        try:
            meant = self.meant()
        except Refusal as refused:
            self.say(str(refused), is_warning=True)
            return
        opened, before = self.draft.opened, self.draft.nudges

        def answer(text: str) -> None:
            self._set_nudges(meant, nudge_as_typed(opened, before, meant.look, meant.lights, text))

        name = self.selection.group or meant.lights[0]
        value = before.text_of(meant.look, meant.lights[0]) or ""
        self.ask(Question(f"{name} in look {meant.look}", value, LIGHT_HINT, answer))

    def action_alone(self) -> None:
        """See the light alone, or all again."""
        rehearsal = self.rehearsal
        if rehearsal is None or not self.can_move:
            return
        if rehearsal.alone is None:
            self._see_alone(rehearsal)
        else:
            rehearsal.alone = None
        self.draw_moment()
        self.stand_on_line()

    def _see_alone(self, rehearsal: Rehearsal) -> None:
        rehearsal.alone = frozenset(self.chosen_lights)
        self.draw_moment()
        self.stand_on_line()

    def action_flip(self) -> None:
        """Show what is stored, or what is nudged."""
        if not self.draft.nudges:
            self.say(NOTHING_NUDGED)
            return
        self.is_flipped = not self.is_flipped
        self.show_draft()
        self.stand_on_line()

    def action_keep(self) -> None:
        """Keep the nudges of the look in it."""
        meant = self._meant_to_keep()
        if meant is not None:
            opened, nudges = self.draft.opened, self.draft.nudges
            left = nudges.without_look(meant.look)
            if self.edit(lambda: edits.keep_in_look(opened, nudges, meant.look), left):
                self._say_where(meant.look)

    def _say_where(self, look: str) -> None:
        used = edits.where_used(self.draft.opened, look)
        cues = ", ".join(f"{shot} cue {cue}" for shot, cue in used[:4]) + (", ..." if len(used) > 4 else "")
        self.say(f"kept in look {look}" + (f", which goes for shot {cues}" if len(used) > 1 else ""))

    def action_keep_new(self) -> None:
        """Keep the nudges in a new look, which the cue then goes to."""
        meant, rehearsal = self._meant_to_keep(), self.rehearsal
        if meant is None or rehearsal is None:
            return
        opened, nudges = self.draft.opened, self.draft.nudges
        left = nudges.without_look(meant.look)

        def answer(text: str) -> None:
            edit = edits.keep_in_new_look(opened, nudges, meant.look, text.strip(), rehearsal.plan.name, meant.cue)
            self.make(edit, left)
            self.say(f"kept in the new look {text.strip()}, for cue {meant.cue} alone")

        proposed = edits.new_look_name(opened, meant.look)
        self.ask(Question(f"new look for cue {meant.cue}", proposed, "a name for the look", answer))

    def _meant_to_keep(self) -> Meant | None:
        """Return the look whose nudges are meant: that of the light, else the only one that is nudged."""
        nudged = self.draft.nudges.looks
        if not nudged:
            self.say(NOTHING_NUDGED)
            return None
        try:
            meant = self.meant()
        except Refusal:
            meant = None
        if meant is None or meant.look not in nudged:
            if len(nudged) > 1:
                self.say(
                    f"nudged are the looks {', '.join(nudged)}: ↑ and ↓ go to a light of one of them", is_warning=True
                )
                return None
            cue = self.cue_at_playhead() or ""
            return Meant(self.chosen_lights, nudged[0], cue)
        return meant

    def action_drop(self) -> None:
        """Drop the nudges of the look; undo brings them back."""
        meant = self._meant_to_keep()
        if meant is not None:
            self.is_flipped = False
            self.nudge(f"drop the nudges of look {meant.look}", self.draft.nudges.without_look(meant.look))
