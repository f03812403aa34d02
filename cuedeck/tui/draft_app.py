"""What the application has of the edited show: edits, undo, saving, and what comes back from the files."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from contextlib import suppress

from textual.message import Message

from cuedeck.draft.draft import Draft, files_of
from cuedeck.draft.looks import keep_in_look
from cuedeck.draft.nudges import Nudges
from cuedeck.draft.steps import Edit
from cuedeck.errors import Refusal
from cuedeck.folder.draft_files import RECOVERED, DraftFiles
from cuedeck.folder.draft_news import (
    ChangedOutside,
    DiskTrouble,
    DraftNews,
    DraftNotice,
    NotSaved,
    Saved,
    ShowChecked,
    StepRefused,
)
from cuedeck.player.channel.requests import packed_texts
from cuedeck.timeline.opening import OpenedShow
from cuedeck.tui.player_app import PlayerApp
from cuedeck.tui.player_link import News
from cuedeck.tui.player_side import PlayerSide
from cuedeck.tui.prompt import Prompt, Question
from cuedeck.tui.said import Said
from cuedeck.tui.selection import Selection

FOREIGN = "changes made by another program"


class FilesNews(Message):
    """Something came of what was written."""

    def __init__(self, news: DraftNews) -> None:
        self.news = news
        super().__init__()


class DraftApp(PlayerApp):
    """Edits a show."""

    is_flipped = False
    """Whether the stored look is shown, without the nudges."""

    def __init__(self, player: PlayerSide | None, draft: Draft, files: DraftFiles | None, *, is_watching: bool) -> None:
        super().__init__(player)
        self.draft = draft
        self.files = files
        """None where there is no folder to write to."""
        self.is_watching = is_watching
        """Whether this window only looks on."""
        self.selection = Selection()
        self.prompt = Prompt(id="prompt")
        self.said = Said(id="said")
        self._takes_when_saved = False
        self._waits_to_take_in = False
        """Whether another program's changes wait for the end of a take."""
        self._contested: int | None = None
        """The step of another program's changes that contradict ours."""

    # What the screen itself does.

    @abstractmethod
    def show_draft(self) -> None:
        """Show the show as it is now."""

    @abstractmethod
    def show_selection(self) -> None:
        """Show what is chosen."""

    # What is edited.

    @property
    def can_edit(self) -> bool:
        """Whether the show can be edited now: while a take is under way, it stays as it is."""
        return not self.is_watching and self.can_move

    def edit(self, build: Callable[[], Edit], nudges: Nudges | None = None) -> bool:
        """Make an edit; where it makes no sense, say why. Returns whether it was made."""
        try:
            self.make(build(), nudges)
        except Refusal as refused:
            self.say(str(refused), is_warning=True)
            return False
        return True

    def make(self, edit: Edit, nudges: Nudges | None = None) -> None:
        """Make an edit. Raises Refusal."""
        self.require_editing()
        try:
            where = files_of(self.draft.opened, edit.changes)
            step = self.draft.make(edit, nudges)
        except KeyError as error:
            raise Refusal("that is not in the show any more") from error
        if self.files is not None:
            self.files.make(step.number, step.name, where, self.draft.nudges.plain())
        self._after_edit()

    def require_editing(self) -> None:
        """Raise Refusal, with the way out, where the show cannot be edited now."""
        if self.is_watching:
            raise Refusal("this window only looks on: 'cuedeck open' without --watch edits")
        if not self.can_edit:
            raise Refusal("a shot runs on the line: s stops it, then edit")

    def nudge(self, name: str, nudges: Nudges, joins: str = "") -> None:
        """Set what is nudged."""
        step = self.draft.nudge(name, nudges, joins)
        if self.files is not None:
            self.files.make(step.number, step.name, [], nudges.plain())
        self._after_edit()

    def _after_edit(self) -> None:
        self.show_draft()
        self.stand_on_line()

    def say(self, text: str, *, is_warning: bool = False) -> None:
        """Say something for some seconds."""
        self.said.say(text, self.size.width, is_warning=is_warning)

    def ask(self, question: Question) -> None:
        """Ask for a value in the line at the bottom."""
        self.prompt.ask(question)

    def on_prompt_left(self) -> None:
        """Let the keys act on the screen again."""
        self.refresh_bindings()

    # What keys do.

    def action_undo(self) -> None:
        """Undo the last step."""
        self._turn(back=True)

    def action_redo(self) -> None:
        """Do again what was undone."""
        self._turn(back=False)

    def _turn(self, *, back: bool) -> None:
        draft = self.draft
        try:
            self.require_editing()
            step = draft.undo() if back else draft.redo()
        except Refusal as refused:
            self.say(str(refused), is_warning=True)
            return
        if step is None:
            other = "ctrl y does again what was undone" if back else "ctrl z undoes"
            ways = f": {other}" if draft.done or draft.undone else ""
            self.say(f"there is nothing to {'undo' if back else 'do again'}{ways}")
            return
        if self.files is not None:
            turn = self.files.undo if back else self.files.redo
            turn(step.number, step.name, draft.nudges.plain())
        self.say(f"{'undone' if back else 'done again'}: {step.name}")
        self._after_edit()

    def action_save(self) -> None:
        """Write what was edited into the files of the show."""
        if self.files is None:
            self.say("there is no folder to save to", is_warning=True)
        elif self._contested is not None:
            self.say(
                "the file was changed by another program where you changed it too: say who is right, with"
                " 'use mine' or 'use theirs' of the palette (ctrl p)",
                is_warning=True,
            )
        else:
            self.files.save()

    def action_use(self, whose: str) -> None:
        """Take in what another program changed, with ours or theirs where both changed the same."""
        number, self._contested = self._contested, None
        if self.files is not None and number is not None:
            step = self.draft.take_in(FOREIGN)
            self.files.take_in(step.number, "ours" if whose == "ours" else "theirs")

    @property
    def disk_trouble(self) -> DiskTrouble | None:
        """What keeps the files on the disk from being taken in."""
        return None if self.files is None else self.files.disk_trouble

    @property
    def is_contested(self) -> bool:
        """Whether another program changed what was changed here too."""
        return self._contested is not None

    # What comes of it.

    def listen_to_files(self) -> None:
        """Begin to hear what comes of what is written."""
        if self.files is not None:
            self.files.begin(self._hear)

    def _hear(self, news: DraftNews) -> None:
        with suppress(RuntimeError):  # a screen that is being closed hears nothing any more
            self.post_message(FilesNews(news))

    def on_files_news(self, message: FilesNews) -> None:
        """Take up what came of what was written."""
        files, draft = self.files, self.draft
        if files is None:
            return
        match message.news:
            case ShowChecked(opened, commands, is_saved) if commands == files.asked:
                self._take_up(opened, is_saved=is_saved)
            case ShowChecked():
                files.check_again()  # something was asked since, so that this is no longer what is to be seen
            case StepRefused(number, what, is_contested):
                draft.forget(number)
                self._contested = number if is_contested else None
                self.say(what, is_warning=True)
                self.show_draft()
            case ChangedOutside():
                self._waits_to_take_in = True
                self._take_in_when_free()
            case Saved(names, commands):
                self._after_save(names, is_newest=commands == files.asked)
            case NotSaved(what):
                self._takes_when_saved = False
                self.say(what, is_warning=True)
            case DraftNotice(what):
                self.say(what, is_warning=True)

    def heard(self, news: News) -> None:
        """Take in what another program changed, once no take is under way any more."""
        super().heard(news)
        self._take_in_when_free()

    def _take_in_when_free(self) -> None:
        if self._waits_to_take_in and self.can_move and self.files is not None:
            self._waits_to_take_in = False
            step = self.draft.take_in(FOREIGN)
            self.files.take_in(step.number)

    def _after_save(self, names: tuple[str, ...], *, is_newest: bool) -> None:
        self.say(f"saved: {', '.join(names)}" if names else "there was nothing to save")
        if is_newest:
            self.draft.saved()
        takes, self._takes_when_saved = self._takes_when_saved, False
        if takes and self.draft.is_saved:
            self.begin_take()
        self.show_draft()

    # Takes and runs on the line.

    def is_stopped_by_errors(self) -> bool:
        """Say so where the shot on the screen cannot run; return whether that is so."""
        plan = None if self.rehearsal is None else self.rehearsal.plan
        if plan is None or not plan.errors:
            return False
        self.say(f"shot {plan.name} has errors, so its light would be wrong: ! lists them", is_warning=True)
        return True

    def stand_on_line(self) -> None:
        """Put the look at the playhead on the line, where rehearsals go there and the look is what the show says."""
        if self.player is None or not self.player.to or not self.is_stopped_by_errors():
            super().stand_on_line()

    def action_take(self) -> None:
        """Count down and take the shot, as it is saved: what is not saved yet is saved first."""
        if self.is_stopped_by_errors():
            return
        if self.draft.nudges:
            looks = ", ".join(self.draft.nudges.looks)
            self.say(
                f"a nudge of look {looks} is in no look yet: k keeps it, backspace drops it; then t", is_warning=True
            )
        elif self.draft.is_saved or self.files is None:
            self.begin_take()
        elif self.is_contested:
            self.action_save()  # which says what is to be said first
        else:
            self._takes_when_saved = True
            self.files.save()

    def begin_take(self) -> None:
        """Count down and take the shot."""
        super().action_take()

    def run_shot(self) -> None:
        """Run the shot on the line from the playhead, as it is edited."""
        player, rehearsal = self.player, self.rehearsal
        if player is None or rehearsal is None:
            return
        if self.files is None or (self.draft.is_saved and not self.draft.nudges) or self.is_flipped:
            player.run(rehearsal)
            return
        nudges, opened = self.draft.nudges, self.draft.opened
        kept = [change for look in nudges.looks for change in keep_in_look(opened, nudges, look).changes]
        player.is_beginning = True

        def run(texts: dict[str, bytes]) -> None:
            try:
                player.run(rehearsal, texts)
            except Refusal as refused:
                self.say(str(refused), is_warning=True)

        where = files_of(opened, kept)
        self.files.unsaved(where, lambda texts: self.call_from_thread(run, packed_texts(texts)))

    def _take_up(self, opened: OpenedShow, *, is_saved: bool) -> None:
        """Show what was read from the text: the same show, with its problems and places; or another program's."""
        last = self.draft.done[-1].name if self.draft.done else ""
        is_other = opened.show != self.draft.opened.show or opened.moves.keys() != self.draft.opened.moves.keys()
        self.draft.read_again(opened, is_saved=is_saved)
        if is_other and last == FOREIGN:
            self.say("another program changed the show: it is shown as it is now")
        self.show_draft()
        if is_other:
            self.stand_on_line()

    def end_draft(self) -> list[str]:
        """End editing, and return what is to be said: what is not saved is not lost."""
        if self.files is None:
            return []
        self.files.end()
        if self.draft.is_saved and not self.draft.nudges:
            return []
        count = "a nudge" if self.draft.is_saved else "edits"
        return [f"{count} not saved yet: the next 'cuedeck open' has them again"]

    def recovered(self, names: tuple[str, ...], opened: OpenedShow, nudges: Nudges) -> None:
        """Take in edits that another window left behind, as the first step."""
        step = self.draft.make(Edit(f"edits from before: {', '.join(names[-3:])}", ()), nudges)
        assert step.number == RECOVERED  # noqa: S101 - it was counted so
        self.draft.read_again(opened, is_saved=False)
