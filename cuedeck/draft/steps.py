"""Steps of editing. Each keeps only the difference between the show before and after it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

from cuedeck.draft.delta import Delta, apply_delta, delta_between
from cuedeck.draft.incremental import read_as
from cuedeck.draft.nudges import Key, Nudges, Parts, nudged_targets
from cuedeck.show.source import Data
from cuedeck.show.yamltext.changes import Change, is_same, value_at
from cuedeck.timeline.opening import OpenedShow
from cuedeck.timing.moves import Move


@dataclass(frozen=True)
class Edit:
    """Changes that belong together, with a name."""

    name: str
    """What undo calls it: move cue 3 to slide 62 mm."""
    changes: tuple[Change, ...]
    joins: str = ""
    """Edits in a row with the same text here are one step of undo, under the name of the last; empty joins none."""


@dataclass(frozen=True, eq=False)
class DraftState:
    """A show, and what is nudged in it."""

    opened: OpenedShow
    """As its files say it."""
    nudges: Nudges = field(default_factory=Nudges)
    """What is in no look yet."""
    version: int = 0
    """Two states of one version have the same files."""

    @cached_property
    def shown(self) -> OpenedShow:
        if not self.nudges:
            return self.opened
        opened = self.opened
        targets = nudged_targets(opened.show, opened.patch, opened.targets, self.nudges)
        return replace(opened, targets=targets)

    @property
    def record(self) -> StateRecord:
        """The state as plain data, from which it can be made again."""
        return StateRecord(self.opened.source.data, self.nudges.parts, self.opened.moves, self.version)

    def with_record(self, record: StateRecord) -> DraftState:
        """Return the state that plain data stands for; what is alike in both is taken over."""
        opened = self.opened
        if record.data is not opened.source.data:
            opened = replace(read_as(opened, record.data), moves=record.moves)
        nudges = self.nudges if record.nudges is self.nudges.parts else Nudges(record.nudges)
        return DraftState(opened, nudges, record.version)


class StateRecord(NamedTuple):
    """A state as plain data, and the moves, which were read from files."""

    data: Data
    nudges: Mapping[Key, Parts]
    moves: Mapping[str, Move]
    version: int


@dataclass(frozen=True, slots=True)
class StepDifference:
    """What differs between the states before and after a step."""

    data: Delta | None
    nudges: Delta | None
    moves: tuple[Mapping[str, Move], Mapping[str, Move]]
    """The moves that differ, before and after."""
    versions: tuple[int, int]

    @classmethod
    def between(cls, before: StateRecord, after: StateRecord) -> StepDifference:
        data = delta_between(before.data, after.data)
        moves = (_moves_of_their_own(before, after), _moves_of_their_own(after, before)) if data else ({}, {})
        return cls(data, delta_between(before.nudges, after.nudges), moves, (before.version, after.version))

    def applied(self, record: StateRecord, *, back: bool) -> StateRecord:
        """Return the state after the step from the one before it; with `back` the other way round."""
        gone, come = reversed(self.moves) if back else self.moves
        kept = {name: move for name, move in record.moves.items() if name not in gone}
        return StateRecord(
            apply_delta(record.data, self.data, back=back),
            apply_delta(record.nudges, self.nudges, back=back),
            {**kept, **come},
            self.versions[0 if back else 1],
        )


def _moves_of_their_own(one: StateRecord, other: StateRecord) -> dict[str, Move]:
    """Return the moves of one state that the other writes otherwise, or lacks."""
    return {
        name: move
        for name, move in one.moves.items()
        if name not in other.moves or not is_same(_move_written(one, name), _move_written(other, name))
    }


def _move_written(record: StateRecord, shot: str) -> Data:
    return value_at(record.data, ("shots", shot, "move"))


@dataclass(frozen=True, eq=False)
class EditStep:
    """What can be undone at once."""

    number: int
    """Counted from 1; the files know the step by it."""
    name: str
    joins: str
    difference: StepDifference
    dropped: tuple[EditStep, ...] = ()
    """The steps that could be redone before this one was made. They can be again if the files do not allow it."""
