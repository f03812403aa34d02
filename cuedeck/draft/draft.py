"""The one place that holds the edited show and its history.

Every edit is made at once on the show in memory. A step keeps only what differs, so that a day of edits takes no
more memory than its texts. The files are written elsewhere, in the order of the steps. The invariant owned here:
undoing a step and doing it again leaves the show as it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cuedeck.draft.incremental import changed
from cuedeck.draft.nudges import Nudges
from cuedeck.draft.steps import DraftState, Edit, EditStep, StepDifference
from cuedeck.show.yamltext.changes import Change, is_same
from cuedeck.timeline.opening import OpenedShow


class Draft:
    """A show that is being edited."""

    def __init__(self, opened: OpenedShow, nudges: Nudges | None = None) -> None:
        self.state = DraftState(opened, nudges or Nudges())
        self._saved: int | None = self.state.version
        """The version in the files on the disk; None where that is no state of this draft."""
        self.done: list[EditStep] = []
        self.undone: list[EditStep] = []
        self._count = 0
        self._versions = 0

    @property
    def shown(self) -> OpenedShow:
        """The show as it is to be seen, with its nudges."""
        return self.state.shown

    @property
    def opened(self) -> OpenedShow:
        """The show as its files say it, saved or not."""
        return self.state.opened

    @property
    def nudges(self) -> Nudges:
        return self.state.nudges

    @property
    def is_saved(self) -> bool:
        """Whether every edit, except nudges, is in the files on the disk."""
        return self.state.version == self._saved

    def make(self, edit: Edit, nudges: Nudges | None = None) -> EditStep:
        """Make an edit, and set what is nudged after it. Raises Refusal, and then nothing was changed."""
        kept = self.nudges if nudges is None else nudges
        if not edit.changes:
            return self.nudge(edit.name, kept, edit.joins)
        opened = changed(self.opened, edit.changes)
        return self._take(edit.name, DraftState(opened, kept, self._new_version()), edit.joins)

    def nudge(self, name: str, nudges: Nudges, joins: str = "") -> EditStep:
        return self._take(name, replace(self.state, nudges=nudges), joins)

    def take_in(self, name: str) -> EditStep:
        """Add a step for a change by another program; the show itself follows when it is read again."""
        return self._take(name, self.state)

    def undo(self) -> EditStep | None:
        """Undo the last step and return it; None where there is none."""
        if not self.done:
            return None
        step = self.done.pop()
        self.undone.append(step)
        self.state = self.state.with_record(step.difference.applied(self.state.record, back=True))
        return step

    def redo(self) -> EditStep | None:
        """Do again what was undone last and return it; None where nothing was."""
        if not self.undone:
            return None
        step = self.undone.pop()
        self.done.append(step)
        self.state = self.state.with_record(step.difference.applied(self.state.record, back=False))
        return step

    def saved(self) -> None:
        """Note that the show is saved as it is now."""
        self._saved = self.state.version

    def read_again(self, opened: OpenedShow, *, is_saved: bool | None = None) -> None:
        """Take the show as read from its files, where nothing was edited since: places and problems are new.

        `is_saved` is whether the files on the disk are the same, where that is known; else it stays as it was.
        """
        was = self.state.record
        is_other = not is_same(opened.source.data, was.data)
        fresh = DraftState(opened, self.nudges, self._new_version() if is_other else was.version)
        if self.is_saved or is_saved:
            self._saved = None if is_saved is False else fresh.version
        if self.done:
            last = self.done[-1]
            before = last.difference.applied(was, back=True)
            self.done[-1] = replace(last, difference=StepDifference.between(before, fresh.record), dropped=())
        if self.undone and is_other:
            last = self.undone[-1]
            after = last.difference.applied(was, back=False)
            self.undone[-1] = replace(last, difference=StepDifference.between(fresh.record, after))
        self.state = fresh

    def forget(self, number: int) -> None:
        """Forget a step that the files did not allow, with what it changed."""
        later, plain = [], self.state.record
        while self.done and self.done[-1].number > number:
            later.append(self.done.pop())
            plain = later[-1].difference.applied(plain, back=True)
        self.undone.clear()
        if self.done and self.done[-1].number == number:
            gone = self.done.pop()
            before = gone.difference.applied(plain, back=True)
            if later:
                after = later[-1].difference.applied(plain, back=False)
                later[-1] = replace(later[-1], difference=StepDifference.between(before, after))
            else:
                self.undone = list(gone.dropped)
                self.state = self.state.with_record(before)
        self.done += reversed(later)

    def _new_version(self) -> int:
        self._versions += 1
        return self._versions

    def _take(self, name: str, state: DraftState, joins: str = "") -> EditStep:
        last = self.done[-1] if self.done else None
        if last is not None and joins and last.joins == joins and not self.undone:
            before = last.difference.applied(self.state.record, back=True)
            step = replace(last, name=name, difference=StepDifference.between(before, state.record))
            self.done[-1] = step
        else:
            self._count += 1
            difference = StepDifference.between(self.state.record, state.record)
            step = EditStep(self._count, name, joins, difference, dropped=tuple(self.undone))
            self.done.append(step)
        self.undone.clear()
        self.state = state
        return step


def files_of(opened: OpenedShow, changes: Sequence[Change]) -> list[tuple[str, Change]]:
    """Return changes with the file in which each is to be written."""
    return [(opened.source.place_of_key(change.path).file, change) for change in changes]
