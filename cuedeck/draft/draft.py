"""The one place that holds the edited show and its history.

Every edit is made at once on the show in memory; what was before is kept, so that undo is as quick. The text of the
files follows elsewhere, in the order of the steps. The invariant owned here: undoing a step and doing it again
leaves the show as it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from cuedeck.draft.edit import Edit
from cuedeck.draft.nudges import Nudges, nudged_targets
from cuedeck.draft.quick import changed
from cuedeck.show.changes import Change
from cuedeck.timeline.opening import OpenedShow


@dataclass(frozen=True, eq=False)
class State:
    """A show, and what is nudged in it."""

    opened: OpenedShow
    """As its files say it."""
    nudges: Nudges = field(default_factory=Nudges)
    """What is in no look yet."""

    @cached_property
    def shown(self) -> OpenedShow:
        """The show with the nudges in its looks."""
        if not self.nudges:
            return self.opened
        opened = self.opened
        targets = nudged_targets(opened.show, opened.patch, opened.targets, self.nudges)
        return replace(opened, targets=targets)


@dataclass(frozen=True, eq=False)
class Step:
    """What can be undone at once."""

    number: int
    """Counted from 1; the files know the step by it."""
    name: str
    joins: str
    before: State
    after: State

    @property
    def changes_files(self) -> bool:
        """Whether it changed what the files say, and not only nudges."""
        return self.before.opened is not self.after.opened


class Draft:
    """A show that is being edited."""

    def __init__(self, opened: OpenedShow, nudges: Nudges | None = None) -> None:
        self.state = State(opened, nudges or Nudges())
        self._saved: OpenedShow | None = self.state.opened
        """What the files on the disk say; None where that is no state of this draft."""
        self.done: list[Step] = []
        self.undone: list[Step] = []
        self._count = 0

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
        """What is nudged."""
        return self.state.nudges

    @property
    def is_saved(self) -> bool:
        """Whether the files on the disk say all that was edited, but for nudges."""
        return self.state.opened is self._saved

    def make(self, edit: Edit, nudges: Nudges | None = None) -> Step:
        """Make an edit, and set what is nudged after it. Raises Refusal, and then nothing was changed."""
        kept = self.nudges if nudges is None else nudges
        opened = changed(self.opened, edit.changes) if edit.changes else self.opened
        return self._take(edit.name, State(opened, kept), edit.joins)

    def nudge(self, name: str, nudges: Nudges, joins: str = "") -> Step:
        """Set what is nudged."""
        return self._take(name, State(self.opened, nudges), joins)

    def take_in(self, name: str, opened: OpenedShow) -> Step:
        """Take in a show as it was changed by someone else."""
        return self._take(name, State(opened, self.nudges))

    def undo(self) -> Step | None:
        """Undo the last step and return it; None where there is none."""
        if not self.done:
            return None
        step = self.done.pop()
        self.undone.append(step)
        self.state = step.before
        return step

    def redo(self) -> Step | None:
        """Do again what was undone last and return it; None where nothing was."""
        if not self.undone:
            return None
        step = self.undone.pop()
        self.done.append(step)
        self.state = step.after
        return step

    def saved(self, opened: OpenedShow) -> None:
        """Know that the files on the disk say what a state of the show says."""
        self._saved = opened

    def read_again(self, opened: OpenedShow, *, is_saved: bool | None = None) -> None:
        """Take the show as it now reads from its files, where nothing was edited since: places and problems are new.

        `is_saved` says whether the files on the disk say the same, where that is known; else it is as before.
        """
        fresh = State(opened, self.nudges)
        if self.is_saved or is_saved:
            self._saved = None if is_saved is False else opened
        if self.done:
            self.done[-1] = replace(self.done[-1], after=fresh)
        if self.undone:
            self.undone[-1] = replace(self.undone[-1], before=fresh)
        self.state = fresh

    def forget(self, number: int, opened: OpenedShow) -> None:
        """Forget a step that the files did not allow; `opened` is the show as they say it."""
        self.done = [step for step in self.done if step.number != number]
        self.undone.clear()
        self.read_again(opened)

    def _take(self, name: str, state: State, joins: str = "") -> Step:
        last = self.done[-1] if self.done else None
        if last is not None and joins and last.joins == joins and not self.undone:
            step = replace(last, name=name, after=state)
            self.done[-1] = step
        else:
            self._count += 1
            step = Step(self._count, name, joins, self.state, state)
            self.done.append(step)
        self.undone.clear()
        self.state = state
        return step


def files_of(opened: OpenedShow, changes: Sequence[Change]) -> list[tuple[str, Change]]:
    """Return changes with the file in which each is to be written."""
    return [(opened.source.place_of_key(change.path).file, change) for change in changes]
