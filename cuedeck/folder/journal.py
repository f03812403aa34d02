"""Journals of edits that are not saved, in the hidden folder .draft of a show: a crash loses none of them.

Each window that edits has a journal of its own, a line for each step, on the disk before the next one is written.
It begins with the files as they were when the editing began, and is gone once all is saved. The invariant owned
here: a journal is taken over only when nobody writes it any more, and taken away only by who has it.
"""

from __future__ import annotations

import contextlib
import json
import os
import secrets
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from cuedeck.draft.splices import Splice, Texts, spliced
from cuedeck.folder.durable import discard, make_folder, sync_folder

FOLDER = ".draft"
SUFFIX = ".journal"
_VERSION = 1


@dataclass(frozen=True)
class Record:
    """One step in a journal."""

    name: str
    splices: tuple[Splice, ...]
    nudges: Any
    """What is nudged after it, as plain data."""


class Journal:
    """A journal that is being written. Not for several threads at once."""

    def __init__(self, show: Path, base: Texts) -> None:
        """Begin one over files as they are on the disk. Raises OSError."""
        place = show / FOLDER
        make_folder(place)
        stamp = datetime.now(UTC).strftime("%Y-%m-%dT%H-%M-%S.%f")
        self.path = place / f"{stamp}-{secrets.token_hex(3)}{SUFFIX}"
        self._file = self.path.open("x", encoding="utf-8", newline="\n")
        _lock(self._file)
        self._write({"cuedeck draft": _VERSION, "base": dict(base)})
        sync_folder(place)

    def add(self, record: Record) -> None:
        """Write a step. Raises OSError."""
        splices = [[one.file, one.at, one.old, one.new] for one in record.splices]
        self._write({"step": record.name, "splices": splices, "nudges": record.nudges})

    def close(self) -> None:
        """Leave it where it is, for whoever opens the show next; safe to call twice."""
        self._file.close()

    def discard(self) -> None:
        """Take it away: nothing in it is lacking on the disk."""
        self.close()
        discard(self.path)
        with contextlib.suppress(OSError):
            self.path.parent.rmdir()  # where nothing else stands in it

    def _write(self, line: Mapping[str, Any]) -> None:
        self._file.write(json.dumps(line, ensure_ascii=False) + "\n")
        self._file.flush()
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


def left_behind(show: Path) -> Iterator[LeftBehind]:
    """Yield the journals of windows that have ended, the oldest first. What cannot be read stays where it is."""
    for path in sorted((show / FOLDER).glob(f"*{SUFFIX}")):
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError), path.open("r+", encoding="utf-8") as file:
            _lock(file)
            yield _read(path, file)


def _read(path: Path, file: IO[str]) -> LeftBehind:
    lines = file.read().split("\n")
    head = json.loads(lines[0])
    if head["cuedeck draft"] != _VERSION:
        raise ValueError("a journal of another cuedeck")
    base = {str(name): str(text) for name, text in head["base"].items()}
    texts, names, nudges = base, [], None
    for line in filter(None, lines[1:]):
        try:
            step = json.loads(line)
        except ValueError:
            break  # the machine went out while it was being written
        texts = spliced(texts, [Splice(*one) for one in step["splices"]])
        names.append(str(step["step"]))
        nudges = step["nudges"]
    return LeftBehind(path, base, texts, names, nudges)


def _lock(file: IO[str]) -> None:
    """Have a file to ourselves while it is open, where the system can do that. Raises OSError where another has it."""
    try:
        import fcntl
    except ImportError:
        import msvcrt  # Windows

        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
        return
    fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
