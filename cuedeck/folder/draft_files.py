"""The text of the files while a show is edited: written step by step, journalled, checked, saved.

What the screen does at once in memory follows here, in a thread of its own, in the order of the steps. The
invariants owned here: a step is in the journal before the next is begun; what another program wrote is taken in
or refused, and never written over.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from cuedeck.draft.merging import MergeRefused, Preference, merged
from cuedeck.draft.splices import Splice, inverse, spliced, splices_between
from cuedeck.errors import Refusal, internal_error
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
from cuedeck.folder.durable import discard, reason_and_cure
from cuedeck.folder.folder import StampedFolder
from cuedeck.folder.inside import Foreign
from cuedeck.folder.journal import FOLDER, Journal, LeftBehind, Record, left_behind
from cuedeck.folder.saving import ChangedOnDisk
from cuedeck.show.problems import ProblemsFound
from cuedeck.show.yamltext.changes import Change
from cuedeck.show.yamltext.edit import apply_changes
from cuedeck.timeline.opening import OpenedShow, open_show

QUIET_S = 0.25
"""How long nothing is edited before the whole show is checked."""
LOOKS_AT_FILES_S = 0.5

RECOVERED = 1
"""The number of the step that makes edits again which were left behind: the first of a draft."""

FilesChanges = Sequence[tuple[str, Change]]


@dataclass(frozen=True)
class Recovery:
    """Edits of a window that ended without saving them."""

    names: tuple[str, ...]
    nudges: Any


class DraftFiles:
    def __init__(self, path: Path) -> None:
        self._folder = StampedFolder(path)
        self._texts: dict[str, str] = {}
        self._base: dict[str, str] = {}
        self._steps: dict[int, tuple[Splice, ...]] = {}
        self._journal: Journal | None = None
        self._nudges: Any = None
        self.disk_trouble: DiskTrouble | None = None
        """What keeps the files on the disk from being taken in; None where they are as they were read last."""
        self._hear: Callable[[DraftNews], object] = lambda _: None
        self._commands: queue.Queue[Callable[[], None] | None] = queue.Queue()
        self.asked = 0
        """How many commands the screen has given."""
        self._done = 0
        self._is_unchecked = False
        self._told: list[str] = []
        self._thread: threading.Thread | None = None

    # Before it begins.

    def open(self) -> OpenedShow:
        """Read the show with its edits. Raises Refusal."""
        opened = open_show(self._read)
        if not self._base:
            self._base = _texts_of(opened)
            self._texts = dict(self._base)
        return opened

    def recover(self, may_make: Callable[[LeftBehind], bool] = lambda _: False) -> Recovery | None:
        """Make the edits again that other windows left behind; None where there are none.

        Whoever is there is asked about those that were made elsewhere, and came with the folder. The show is opened
        before it, and after it once more.
        """
        names: list[str] = []
        nudges: Any = None
        for left in left_behind(self._folder.path, self._told.append):
            if not left.is_own(self._folder.path) and not may_make(left):
                place = f"{FOLDER}/{left.path.name}"
                self._told.append(f"edits that came with the folder are kept in {place}, and not made")
            elif self._is_recovered(left):
                names += left.names
                nudges = left.nudges or nudges
                discard(left.path)
        return Recovery(tuple(names), nudges) if names else None

    def _is_recovered(self, left: LeftBehind) -> bool:
        """Put edits that were left behind into the text; what contradicts the files stays in its journal."""
        try:
            texts = {
                name: _merged(name, left.base.get(name, ""), left.texts.get(name, ""), text)
                for name, text in self._texts.items()
            }
            splices = _splices(self._texts, texts)
            self._sound_with(texts)
            self._nudges = left.nudges
            self._steps[RECOVERED] = (*self._steps.get(RECOVERED, ()), *splices)
            self._write_down(f"edits from before: {', '.join(left.names[-3:])}", splices)
        except (Refusal, KeyError, ValueError) as refused:
            place = f"{FOLDER}/{left.path.name}"
            self._told.append(f"edits of an earlier window are kept in {place}, and not made: {refused}")
            return False
        return True

    # What the screen asks; each returns at once.

    def begin(self, hear: Callable[[DraftNews], object]) -> None:
        """Begin to work, and to tell what comes of it, from a thread of its own."""
        self._hear = hear
        for told in self._told:
            hear(DraftNotice(told))
        self._thread = threading.Thread(target=self._work, name="writing the draft", daemon=True)
        self._thread.start()

    def make(self, number: int, name: str, changes: FilesChanges, nudges: Any) -> None:
        """Write a step, or more of the one that was written last."""
        self._put(partial(self._make, number, name, changes, nudges))

    def undo(self, number: int, name: str, nudges: Any) -> None:
        self._put(partial(self._turn, number, f"undo {name}", nudges, back=True))

    def redo(self, number: int, name: str, nudges: Any) -> None:
        self._put(partial(self._turn, number, name, nudges, back=False))

    def take_in(self, number: int, prefer: Preference = "neither") -> None:
        """Take in, as a step, what another program has changed."""
        self._put(partial(self._take_in, number, prefer))

    def save(self) -> None:
        self._put(self._save)

    def unsaved(self, changes: FilesChanges, then: Callable[[dict[str, str]], object]) -> None:
        """Hand over the texts that are not so on the disk, with some changes more."""
        self._put(partial(self._hand_over, changes, then))

    def check_again(self) -> None:
        """Read the whole show once more, when nobody has edited for a moment."""
        self._is_unchecked = True

    def settle(self) -> None:
        """Wait until all that was asked is done and checked."""
        is_settled = threading.Event()
        self._put(self._check_if_due)
        self._put(is_settled.set)
        is_settled.wait()

    def end(self) -> None:
        """End the work, once all that was asked is done; what is not saved stays in the journal."""
        if self._thread is not None:
            self._commands.put(None)  # behind all that was asked
            self._thread.join()
            self._thread = None
        if self._journal is not None:
            self._journal.close()
        with suppress(OSError):
            (self._folder.path / FOLDER).rmdir()  # where nothing else stands in it

    # The work.

    def _put(self, command: Callable[[], None]) -> None:
        self.asked += 1
        self._commands.put(command)

    def _work(self) -> None:
        looked_s = time.monotonic()
        while True:
            try:
                command = self._commands.get(timeout=QUIET_S)
            except queue.Empty:  # nobody has edited for a moment
                self._guarded(self._check_if_due)
                if time.monotonic() - looked_s >= LOOKS_AT_FILES_S:
                    looked_s = time.monotonic()
                    self._guarded(self._look_at_files)
                continue
            if command is None:
                return
            self._done += 1  # also where it fails: the screen waits for this number
            self._guarded(command)

    def _guarded(self, work: Callable[[], None]) -> None:
        """Do something, and go on whatever comes of it: edits are to be written down."""
        try:
            work()
        except Exception as error:
            self._hear(DraftNotice(internal_error(error)))

    def _make(self, number: int, name: str, changes: FilesChanges, nudges: Any) -> None:
        try:
            texts = self._with_changes(changes)
        except (Refusal, KeyError, ValueError) as refused:
            self._is_unchecked = True
            what = f"{name}: {_why(refused)}"
            is_begun = number in self._steps  # a step of which something stands can still be undone
            self._hear(DraftNotice(what) if is_begun else StepRefused(number, what))
            return
        splices = _splices(self._texts, texts)
        self._steps[number] = (*self._steps.get(number, ()), *splices)
        self._nudges = nudges
        self._texts = texts
        self._write_down(name, splices)

    def _with_changes(self, changes: FilesChanges) -> dict[str, str]:
        """Return the texts with changes made, each in its file. Raises Refusal, KeyError and ValueError."""
        texts = dict(self._texts)
        for file in dict.fromkeys(file for file, _ in changes):
            own = [change for where, change in changes if where == file]
            texts[file] = apply_changes(file, texts[file].encode(), own).decode()
        return texts

    def _sound_with(self, texts: dict[str, str]) -> OpenedShow:
        """Take texts in place of ours, and return the show that they read as; one that cannot run is not taken."""
        before, self._texts = self._texts, texts
        try:
            opened = open_show(self._read)
            if opened.errors_of_all:
                raise ProblemsFound(opened.errors_of_all)
        except BaseException:
            self._texts = before
            raise
        return opened

    def _turn(self, number: int, name: str, nudges: Any, *, back: bool) -> None:
        forth = self._steps.get(number, ())
        splices = inverse(forth) if back else forth
        self._texts = spliced(self._texts, splices)
        self._nudges = nudges
        self._write_down(name, splices)

    def _write_down(self, name: str, splices: Sequence[Splice]) -> None:
        self._is_unchecked = self._is_unchecked or bool(splices)
        try:
            if self._journal is None:  # not sooner: a show that is only looked at is not written to
                self._journal = Journal(self._folder.path, self._base)
            self._journal.add(Record(name, tuple(splices), self._nudges))
        except OSError as error:
            reason, cure = reason_and_cure(error)
            self._hear(DraftNotice(f"edits cannot be kept safe from a crash: {reason}; {cure}, and save soon"))
        except Foreign as foreign:
            self._hear(DraftNotice(f"edits cannot be kept safe from a crash: {foreign}"))

    def _check_if_due(self) -> None:
        if not self._is_unchecked:
            return
        self._is_unchecked = False
        try:
            opened = open_show(self._read)
        except (Refusal, OSError) as error:
            self._hear(DraftNotice(f"the show as it is edited cannot be read: {error}"))
            return
        self._hear(ShowChecked(opened, self._done, self._texts == self._base))

    def _look_at_files(self) -> None:
        changed = self._folder.changed
        if not changed:
            return
        own = [name for name in changed if name in self._base and self._is_other_on_disk(name)]
        if own:
            # Said once, and not at every look.
            self._folder.stamps.update({name: self._folder.stamp(name) for name in changed})
            self._hear(ChangedOutside(tuple(own)))
        else:
            if self._base.keys() & set(changed):
                self.disk_trouble = None
            self._is_unchecked = True  # a move was recorded anew, or a file was touched
            self._check_if_due()

    def _take_in(self, number: int, prefer: Preference) -> None:
        try:
            base = {name: self._folder.read(name).decode() for name in self._base}
            texts = {
                name: _merged(name, self._base[name], self._texts[name], theirs, prefer)
                for name, theirs in base.items()
            }
            before, opened = self._texts, self._sound_with(texts)
            added = {name: text for name, text in _texts_of(opened).items() if name not in base}
        except MergeRefused as refused:
            what = f"{refused}; save is refused until you say who is right"
            cure = "choose 'use mine' or 'use theirs' in the palette (ctrl p)"
            self.disk_trouble = DiskTrouble("changed here and on disk", (f"{refused}\n→ {cure}",))
            self._hear(StepRefused(number, what, is_contested=True))
            return
        except (Refusal, OSError, ValueError, KeyError) as refused:
            problems = _problems_of(refused)
            self.disk_trouble = DiskTrouble("file on disk broken", problems)
            what = f"the show was changed by another program and is not taken in, see !: {problems[0]}"
            self._hear(StepRefused(number, what))
            return
        self.disk_trouble = None
        splices = _splices(before, texts)
        self._base = {**base, **added}
        self._texts = {**texts, **added}
        self._steps[number] = splices
        self._renew_journal()
        self._hear(ShowChecked(opened, self._done, self._texts == self._base))

    def _renew_journal(self) -> None:
        """Begin a journal over the files as they are on the disk now."""
        old, self._journal = self._journal, None
        if self._texts != self._base or self._nudges:
            self._write_down("edits so far", _splices(self._base, self._texts))
        if old is not None:
            old.discard()  # last: a crash before leaves both, and what is made twice merges with itself

    def _save(self) -> None:
        changed = {name: text.encode() for name, text in self._texts.items() if text != self._base.get(name)}
        try:
            self._folder.save(changed, {name: text.encode() for name, text in self._base.items()})
        except Refusal as refused:
            self._hear(NotSaved(str(refused)))
            if isinstance(refused, ChangedOnDisk):  # as never read: the next look at the files tells of the change
                self._folder.stamps.update(dict.fromkeys(self._base))
            return
        self._base = dict(self._texts)
        self.disk_trouble = None
        for name in changed:
            self._folder.stamps[name] = self._folder.stamp(name)
        self._renew_journal()
        self._hear(Saved(tuple(changed), self._done))
        self._is_unchecked = True

    def _hand_over(self, changes: FilesChanges, then: Callable[[dict[str, str]], object]) -> None:
        try:
            texts, on_disk = self._with_changes(changes), self._folder.changed
        except (Refusal, KeyError, ValueError) as refused:
            self._hear(DraftNotice(f"the player cannot be given what is edited: {_why(refused)}"))
            return
        then({name: text for name, text in texts.items() if text != self._base.get(name) or name in on_disk})

    def _read(self, relative: str) -> bytes:
        """Return a file as it is edited, else as it is on the disk: only what is read there is known as it is now."""
        return self._texts[relative].encode() if relative in self._texts else self._folder.read(relative)

    def _is_other_on_disk(self, name: str) -> bool:
        try:
            return self._folder.read(name) != self._base[name].encode()
        except (Refusal, OSError):
            return True


def _texts_of(opened: OpenedShow) -> dict[str, str]:
    return {name: raw.decode() for name, raw in opened.source.files.items()}


def _merged(name: str, base: str, ours: str, theirs: str, prefer: Preference = "neither") -> str:
    return merged(name, base.encode(), ours.encode(), theirs.encode(), prefer).decode()


def _splices(before: Mapping[str, str], after: Mapping[str, str]) -> tuple[Splice, ...]:
    changed = [name for name in after if after[name] != before.get(name, "")]
    return tuple(splice for name in changed for splice in splices_between(name, before.get(name, ""), after[name]))


def _problems_of(refused: Exception) -> tuple[str, ...]:
    """Return what keeps files from being taken in, in words, one text for each problem."""
    if isinstance(refused, ProblemsFound):
        return tuple(map(str, refused.problems))
    if isinstance(refused, OSError):
        reason, cure = reason_and_cure(refused)
        return (f"the file cannot be read: {reason}; {cure}",)
    if isinstance(refused, UnicodeDecodeError):
        return ("the file is no text in UTF-8: save it as UTF-8",)
    return (_why(refused),)


def _why(error: Exception) -> str:
    return str(error) if isinstance(error, Refusal) else f"it does not fit the file any more ({error})"
