"""Journals of edits that are not saved, in the hidden folder .draft of a show: a crash loses none of them.

Each window that edits has a journal of its own, a line for each step, on the disk before the next one is written.
It begins with who writes it where, and the files as they were when the editing began, and is gone once all is saved.
The invariants owned here: a journal is taken over only when nobody writes it any more, and taken away only by who
has it; and it is read as what it may be, a file that came with a copied folder.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from cuedeck.draft.splices import Splice, Texts, splice_between, spliced
from cuedeck.folder.durable import discard, make_folder, sync_folder
from cuedeck.folder.file_lock import lock, locked
from cuedeck.folder.inside import Foreign, open_own, own_path
from cuedeck.folder.origin import Origin
from cuedeck.visible import visible_line

FOLDER = ".draft"
SUFFIX = ".journal"
MOST_BYTES = 100_000_000
MOST_LINES, LONGEST_LINE = 12, 100
"""Of what is said of a journal from elsewhere."""
_VERSION = 1
_NOT_READABLE = (OSError, ValueError, TypeError, LookupError, AttributeError, RecursionError)
"""What reading raises where a file is no journal."""


@dataclass(frozen=True)
class Record:
    name: str
    splices: tuple[Splice, ...]
    nudges: Any
    """What is nudged after it, as plain data."""


class Journal:
    """A journal that is being written. Not for several threads at once."""

    def __init__(self, show: Path, base: Texts) -> None:
        """Begin one over files as they are on the disk. Raises OSError, and Foreign."""
        place = own_path(show, FOLDER)
        make_folder(place)
        stamp = datetime.now(UTC).strftime("%Y-%m-%dT%H-%M-%S.%f")
        self.path = place / f"{stamp}-{secrets.token_hex(3)}{SUFFIX}"
        self._file = self.path.open("x", encoding="utf-8", newline="\n")
        lock(self._file.fileno())  # before a line stands in it, or another window takes it for one left behind
        self._write({"cuedeck draft": _VERSION, "origin": asdict(Origin.here(show)), "base": dict(base)})
        sync_folder(place)  # its name too, or its lines are lost with it

    def add(self, record: Record) -> None:
        """Write a step. Raises OSError."""
        splices = [[one.file, one.at, one.old, one.new] for one in record.splices]
        self._write({"step": record.name, "splices": splices, "nudges": record.nudges})

    def close(self) -> None:
        """Leave it where it is, for whoever opens the show next; safe to call twice."""
        self._file.close()

    def discard(self) -> None:
        """Take it away: nothing in it is lacking on the disk."""
        self.close()  # first: Windows removes no file that is open
        discard(self.path)
        with contextlib.suppress(OSError):
            self.path.parent.rmdir()  # where nothing else stands in it

    def _write(self, line: Mapping[str, Any]) -> None:
        self._file.write(json.dumps(line, ensure_ascii=False) + "\n")
        self._file.flush()  # fsync knows nothing of what Python still holds
        os.fsync(self._file.fileno())


@dataclass(frozen=True)
class LeftBehind:
    """A journal that nobody writes any more."""

    path: Path
    base: Texts
    texts: Texts
    """The files with every step made."""
    names: Sequence[str]
    """Its steps."""
    nudges: Any
    """What was nudged last, as plain data."""
    origin: Origin | None
    """Who wrote it where; None where it does not say so."""

    def is_own(self, show: Path) -> bool:
        """Whether whoever works here now wrote it, in this folder. Raises OSError."""
        return self.origin is not None and self.origin.is_that_of(Origin.here(show))

    def words(self) -> Iterator[str]:
        """Yield lines that say whose edits they are, and what they would change."""
        whose = "by somebody" if self.origin is None else self.origin.words(datetime.now(UTC))
        yield f"{FOLDER}/{visible_line(self.path.name)} holds edits that are not saved, and were not made here: {whose}"
        for name, text in self.texts.items():
            lines = list(_changed_lines(splice_between(name, self.base.get(name, ""), text)))
            if lines:
                yield f"  they change {visible_line(name)}:"
                yield from (f"    {visible_line(line)[:LONGEST_LINE]}" for line in lines[:MOST_LINES])
            if len(lines) > MOST_LINES:
                yield f"    and {len(lines) - MOST_LINES} lines more"
        if self.nudges:
            yield f"  they nudge lights: {visible_line(json.dumps(self.nudges))[:LONGEST_LINE]}"


def _changed_lines(splice: Splice) -> Iterator[str]:
    yield from (f"- {line.strip()}" for line in splice.old.splitlines() if line.strip())
    yield from (f"+ {line.strip()}" for line in splice.new.splitlines() if line.strip())


def left_behind(show: Path, tell: Callable[[str], object] = lambda _: None) -> Iterator[LeftBehind]:
    """Yield the journals of windows that have ended, the oldest first.

    What cannot be read stays where it is. What is no file of its own is told of, and not opened.
    """
    try:
        paths = sorted(own_path(show, FOLDER).glob(f"*{SUFFIX}"))
    except Foreign as foreign:
        tell(str(foreign))
        return
    for path in paths:
        try:
            descriptor = locked(open_own(show, path, os.O_RDWR))
        except Foreign as foreign:
            tell(str(foreign))
            continue
        except OSError:  # most often: its window is still there
            continue
        with os.fdopen(descriptor, "r+", encoding="utf-8") as file:
            try:
                left = _read(path, file)
            except _NOT_READABLE:
                continue
            yield left  # locked until the asker is done with it: two windows that begin at once do not both make it


def _read(path: Path, file: IO[str]) -> LeftBehind:
    if os.fstat(file.fileno()).st_size > MOST_BYTES:
        raise ValueError("too long for a journal")
    lines = file.read().split("\n")
    head = _plain(lines[0])
    if head["cuedeck draft"] != _VERSION:
        raise ValueError("a journal of another cuedeck")
    base = {str(name): str(text) for name, text in head["base"].items()}
    texts, names, nudges = base, [], None
    for line in filter(None, lines[1:]):
        try:
            step = _plain(line)
        except ValueError:
            break  # the machine went out while it was being written
        texts = spliced(texts, [Splice(*one) for one in step["splices"]])
        names.append(visible_line(str(step["step"])))
        nudges = step["nudges"]
    return LeftBehind(path, base, texts, names, nudges, Origin.of_plain(head.get("origin")))


def _plain(line: str) -> Any:
    """Return the data of a line. Raises ValueError, also for half characters, which no file can hold."""
    data = json.loads(line)
    json.dumps(data, ensure_ascii=False).encode()
    return data
