"""The second file of a take: all of its packets, for the case that something becomes of the log, or of the player.

The invariant owned here: such a file is removed only when all that can be read of it is committed in the log. While
its player lives, no other program can open it. What is written to it survives the player at once.
"""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from cuedeck.folder.inside import BESIDE_DATABASE
from cuedeck.takes.blocks import Block
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Status, Take
from cuedeck.takes.trouble import TakesUnreadable, Trouble

_SUFFIX = ".packets"


class Spool:
    """The second file of one take; the first of some places that takes it. From any thread."""

    def __init__(self, log: Path, take: Take, places: Sequence[Path]) -> None:
        self._files = [place / f"{_name_of(log)}-{take.key}{_SUFFIX}" for place in places]
        self._take = take
        self._store: TakeStore | None = None
        self._using = threading.Lock()
        self.written: set[int] = set()
        """The first packets of the blocks that it holds."""

    def put(self, blocks: Sequence[Block]) -> None:
        """Write those blocks that are not there yet. Raises TakesUnreadable where no place takes them."""
        with self._using:
            new = [block for block in blocks if block.first not in self.written]
            self._opened(self._take, new)
            self.written |= {block.first for block in new}

    def finish(self, take: Take) -> tuple[Take, Path]:
        """Write how the take ended; return it, and the file that it is in. Raises TakesUnreadable."""
        with self._using:
            store = self._opened(self._take, ())
            number = store.put_in(self._take, ())
            return store.finish_as(replace(take, id=number)), store.path

    def close(self) -> None:
        """Let go of the file, which stays; safe to call twice."""
        with self._using:
            self._close()

    def remove(self) -> None:
        """Remove the file: the log has it all."""
        with self._using:
            self._close()
            for file in self._files:  # in every place: one that failed in mid-take has a part of it
                _remove(file)
            self.written.clear()

    def _close(self) -> None:
        store, self._store = self._store, None
        if store is not None:
            store.close()

    def _opened(self, take: Take, blocks: Sequence[Block]) -> TakeStore:
        """Return the store after the blocks were put in; in the next place where one fails."""
        failed: TakesUnreadable | None = None
        for file in (None, *self._files):  # the one that is open comes first
            try:
                if file is not None:
                    # No patience: where another program has it, that one keeps it for as long as it lives.
                    self._store = TakeStore(file.parent, file=file, create=True, is_alone=True, patience_s=0)
                if self._store is not None:
                    self._store.put_in(take, blocks)
                    return self._store
            except TakesUnreadable as error:
                failed = failed or error
                self._close()
        raise failed or TakesUnreadable(Path(), Trouble.MISSING, "no place for a second file")


def take_in(log: Path, places: Sequence[Path]) -> list[str]:
    """Take into a log what waits for it, and return what is to be told of that."""
    told = []
    for file in waiting_for(log, places):
        try:
            with TakeStore(log.parent, file=file, create=True, is_alone=True, patience_s=0) as spooled:
                told += _taken_in(spooled, log)
        except TakesUnreadable as error:
            if not (error.path == file and error.trouble is Trouble.LOCKED):  # its player lives, and sees to it itself
                told.append(f"packets of a take wait in {file}: {error}")
        else:
            _remove(file)  # not sooner: by now the log has committed all of it
    return told


def waiting_for(log: Path, places: Sequence[Path]) -> Iterator[Path]:
    """Yield what waits for a log: files made for it where it stands, or for a take in it, where it stood elsewhere."""
    for place in places:
        for file in sorted(place.glob(f"*{_SUFFIX}")):
            name, _, key = file.stem.partition("-")
            if name == _name_of(log) or _holds(log, key):
                yield file


def _holds(log: Path, key: str) -> bool:
    with suppress(TakesUnreadable), TakeStore(log.parent, file=log) as store:
        return store.id_of(key) is not None
    return False


def _taken_in(spooled: TakeStore, log: Path) -> list[str]:
    told = []
    with TakeStore(log.parent, file=log, create=True) as store:
        takes, damaged = spooled.listed()
        for take in takes:
            number = store.put_in(take, ())
            had = len(store.firsts(take.key))
            _, bad = store.copy_blocks(spooled, take)
            is_news = len(store.firsts(take.key)) > had
            before = store.by_id(number)
            # Told of and not kept for: what cannot be read today is not readable tomorrow.
            told += [f"packets of take {before.slate} could not be read again: {one}" for one in bad]
            if take.status is not Status.ROLLING:
                store.finish_as(replace(take, id=number, number=before.number))
            elif before.status is Status.BROKEN:
                store.close_as_broken(before)
            is_renamed = "" if before.slate == take.slate else f", as {before.slate}: the log has another {take.slate}"
            if is_news:
                told.append(f"packets of take {take.slate} that had to wait are in the log now{is_renamed}")
        if damaged or spooled.check_file():
            raise TakesUnreadable(spooled.path, Trouble.DAMAGED, "what could be read of it is in the log")
    return told


def _name_of(log: Path) -> str:
    return hashlib.sha256(os.fsencode(os.path.normcase(log.resolve()))).hexdigest()[:16]


def _remove(file: Path) -> None:
    for part in BESIDE_DATABASE:
        with suppress(OSError):
            file.with_name(f"{file.name}{part}").unlink(missing_ok=True)
