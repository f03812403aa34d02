"""What is wrong with a file of takes, in words: the cure fits the cause."""

from __future__ import annotations

import errno
import os
import sqlite3
from enum import Enum
from pathlib import Path

from cuedeck.errors import Refusal

ELSEWHERE = "or log elsewhere: 'shoot' and 'open' take --log FILE"
RESCUE = "'cuedeck takes SHOW rescue' writes what is readable into a new file and keeps this one"


class Trouble(Enum):
    """Why a file of takes cannot be used, and what helps."""

    LOCKED = ("is locked by another program", "close what has it open: a browser of databases, a backup, a sync")
    FULL = ("cannot grow: the disk is full", "make room")
    PROTECTED = ("is write-protected, or its folder or disk is", "look at who may write there")
    DAMAGED = ("is damaged", RESCUE)
    NO_DATABASE = (
        "is no file of takes, or its beginning is damaged",
        f"{RESCUE}; or move it away, and a new one is made",
    )
    EMPTY = ("has no takes", "shoot one first")
    NO_FILE = ("is not opened", "a plain file can stand there, and none is made while this does")
    FOLDER = ("is a folder", "move it away, and a new file is made")
    MISSING = ("cannot be made: its folder is not there", "look whether the folder was moved or its disk unplugged")
    NEWER = ("was written by a newer cuedeck, or its beginning is damaged", "install that version, or move the file")
    FOREIGN = ("holds something other than takes", "move it away, and a new one is made")
    TWO_NAMES = ("has a second name, a hard link", "put a copy in its place: two writers by two names spoil it")
    DISK = ("cannot be read or written: the disk reports an error", "look at the disk")
    UNKNOWN = ("cannot be used", "look whether the disk is full or the folder is write-protected")

    def __init__(self, what: str, cure: str) -> None:
        self.what = what
        self.cure = cure


_BY_CODE = {
    sqlite3.SQLITE_BUSY: Trouble.LOCKED,
    sqlite3.SQLITE_LOCKED: Trouble.LOCKED,
    sqlite3.SQLITE_FULL: Trouble.FULL,
    sqlite3.SQLITE_READONLY: Trouble.PROTECTED,
    sqlite3.SQLITE_PERM: Trouble.PROTECTED,
    sqlite3.SQLITE_CORRUPT: Trouble.DAMAGED,
    sqlite3.SQLITE_TOOBIG: Trouble.DAMAGED,
    sqlite3.SQLITE_NOTADB: Trouble.NO_DATABASE,
    sqlite3.SQLITE_IOERR: Trouble.DISK,
    sqlite3.SQLITE_CANTOPEN: Trouble.PROTECTED,
}


class TakesUnreadable(Refusal):
    """A file of takes that cannot be used, or a part of it. The message says why."""

    def __init__(self, path: Path, trouble: Trouble, detail: str = "") -> None:
        self.path = path
        self.trouble = trouble
        self.detail = detail
        cure = trouble.cure.replace("SHOW", str(path.parent))
        super().__init__(f"the file of takes {path} {trouble.what}{f' ({detail})' if detail else ''}; {cure}")

    @property
    def in_short(self) -> str:
        """What is wrong, in a few words."""
        return f"{self.path.name} {self.trouble.what}"


class TakeDamaged(TakesUnreadable):
    """A take of which a part cannot be read."""

    def __init__(self, path: Path, what: str) -> None:
        super().__init__(path, Trouble.DAMAGED, what)


def unreadable(path: Path, error: sqlite3.Error) -> TakesUnreadable:
    """Return what to tell of an error of SQLite's with a file."""
    code = getattr(error, "sqlite_errorcode", None)
    trouble = Trouble.UNKNOWN if code is None else _BY_CODE.get(code & 0xFF, Trouble.UNKNOWN)
    if code == sqlite3.SQLITE_IOERR_SHORT_READ:
        trouble = Trouble.DAMAGED
    if "no such table" in str(error) or "no such column" in str(error) or "has no column" in str(error):
        trouble = Trouble.DAMAGED
    if path.is_dir():
        trouble = Trouble.FOLDER
    elif not path.parent.is_dir():
        trouble = Trouble.MISSING
    elif trouble in (Trouble.DISK, Trouble.PROTECTED) and _is_full(path.parent):
        trouble = Trouble.FULL
    return TakesUnreadable(path, trouble, str(error))


def _is_full(folder: Path) -> bool:
    """Whether the disk of a folder has no room: SQLite says so in some places as an error of another kind."""
    if not hasattr(os, "statvfs"):
        return False
    try:
        return os.statvfs(folder).f_bavail == 0
    except OSError as error:
        return error.errno == errno.ENOSPC
