"""What the palette lists: every action that can be done now by its name, themes, shots, and what has no key."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial

from textual.actions import parse
from textual.app import SystemCommand
from textual.command import CommandPalette
from textual.screen import Screen

from cuedeck.draft import looks as edits
from cuedeck.draft.first_shot import first_shot
from cuedeck.errors import Refusal
from cuedeck.show.problems import choice_of
from cuedeck.tui.keys import BLACKOUT_HINT, KEYS, PLACE_KEYS
from cuedeck.tui.look import themes
from cuedeck.tui.prompt import Question
from cuedeck.tui.rig_app import RigApp
from cuedeck.tui.words import without_markup

TEXTUALS_OWN = ("quit", "command_palette", "keys")
"""What the palette has without us."""


class PaletteApp(RigApp):
    """Lists what can be done."""

    def action_command_palette(self) -> None:
        """Find anything by its name."""
        if not isinstance(self.screen, CommandPalette):
            self.push_screen(CommandPalette(placeholder=f"find by name · {BLACKOUT_HINT}", id="--command-palette"))

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Yield what the palette lists: every action that can be done now by its name, themes, and every shot."""
        yield from super().get_system_commands(screen)
        if not isinstance(screen, Screen) or screen is not self.screen_stack[0]:
            return
        yield from self._of_keys()
        yield from self._of_edits()
        for name, (theme, purpose) in themes().items():
            yield SystemCommand(f"theme: {name}", purpose, partial(setattr, self, "theme", theme.name))
        for name in self.shots if self.can_move else ():
            title = self.draft.opened.show.shots[name].title or "go to this shot"
            yield SystemCommand(
                without_markup(f"shot {name}"), without_markup(title), partial(self.action_show_shot, name)
            )

    def _of_keys(self) -> Iterator[SystemCommand]:
        """Yield what has a key here and can be done now."""
        for binding in (*KEYS, *PLACE_KEYS[self.selection.place]):
            _, name, parameters = parse(binding.action)
            if name in TEXTUALS_OWN or self.check_action(name, parameters) is not True:
                continue
            title = f"{binding.description} ({binding.key_display})"
            yield SystemCommand(without_markup(title), binding.tooltip, partial(self.run_action, binding.action))

    def _of_edits(self) -> Iterator[SystemCommand]:
        """Yield what has no key."""
        if self.is_contested:
            what = "where another program changed the same"
            yield SystemCommand("use mine", f"{what}, keep what is here", partial(self.action_use, "ours"))
            yield SystemCommand("use theirs", f"{what}, take what it wrote", partial(self.action_use, "theirs"))
        if self.can_edit:
            yield SystemCommand("new shot", "add a shot, with a cue that starts out of black", self.action_new_shot)
            if self.draft.opened.show.looks:
                yield SystemCommand("rename a look", "wherever it is used", self.action_rename_look)
                yield SystemCommand("delete a look", "one that no cue goes to", self.action_delete_look)

    def action_new_shot(self) -> None:
        """Add a shot, and go to it."""
        before = set(self.shots)
        if self.edit(lambda: first_shot(self.draft.opened)):
            self.action_show_shot(next(name for name in self.shots if name not in before))

    def action_rename_look(self) -> None:
        """Type which look, and then its new name."""
        looks = self.draft.opened.show.looks

        def name_of(look: str) -> None:
            if look not in looks:
                raise Refusal(f"the show has no look '{look}': {choice_of(look, looks)}")

            def rename(text: str) -> None:
                edit = edits.rename(self.draft.opened, look, text)
                self.make(edit, self.draft.nudges.renamed(look, text.strip()))

            self.ask(Question(f"new name of look {look}", look, "a name", rename))

        self.ask(Question("rename look", self._look_here(), ", ".join(looks), lambda text: name_of(text.strip())))

    def action_delete_look(self) -> None:
        """Type which look is to go."""
        looks = self.draft.opened.show.looks

        def answer(look: str) -> None:
            if look not in looks:
                raise Refusal(f"the show has no look '{look}': {choice_of(look, looks)}")
            self.make(edits.delete(self.draft.opened, look))

        self.ask(Question("delete look", "", ", ".join(looks), lambda text: answer(text.strip())))

    def _look_here(self) -> str:
        """Return the look of the cue that is on, as the one that is meant most often."""
        cue = None if self.rehearsal is None else self._cue_named(self.rehearsal, self.cue_at_playhead())
        return cue.look if cue is not None else ""
