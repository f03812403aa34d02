"""Where the player of a show folder can be found, and that there is one of it at most.

The invariant owned here: the lock is held by the process that plays a folder, for as long as that process
lives, whatever ends it. What a killed player left behind is never in the way of the next one.

Known limit: processes that are given different runtime directories do not see each other.
"""

from __future__ import annotations

import hashlib
import json
import os
import socket
import sys
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Self

from cuedeck.errors import Refusal
from cuedeck.player.private_place import private_place

VERSION = 2
"""Of the messages between player and clients. A player and a client of different versions do not talk."""
LONGEST_SOCKET_PATH = 100
"""Bytes. The shortest room for one on systems in use is 104, with a zero at the end; from memory."""
LONGEST_ANNOUNCEMENT = 4096
ALREADY_RUNS_EXIT = 75
"""With what exit code a player leaves that found another at work, so that its client looks for that one."""


class PlayerRuns(Refusal):
    """Another player plays this folder already."""


@dataclass(frozen=True)
class Announcement:
    """How a player can be reached."""

    address: str
    """`unix:` and a path, or `tcp:` and a port of this computer, 127.0.0.1."""
    pid: int
    secret: str = field(repr=False)
    """What both sides have to know, in hexadecimal digits. Whoever can read the file is the same user."""
    version: int = VERSION


class Whereabouts:
    """The files of the player of one show folder, all in the private directory."""

    def __init__(self, folder: Path, base: Path) -> None:
        self.folder = folder
        """The folder, resolved."""
        self._base = base
        self._lock: int | None = None

    def __repr__(self) -> str:
        return f"<Whereabouts of {self.folder}>"

    @classmethod
    def of(cls, folder: Path) -> Self:
        """Return where to look for the player of a folder. Raises NoPrivatePlace."""
        resolved = folder.resolve()
        name = hashlib.sha256(os.fsencode(os.path.normcase(resolved))).hexdigest()[:16]
        return cls(resolved, private_place() / name)

    @property
    def last_look(self) -> Path:
        """Where the player keeps the last look."""
        return self._base.with_suffix(".look")

    @property
    def log(self) -> Path:
        """Where the words of a player go that has no terminal."""
        return self._base.with_suffix(".log")

    @property
    def socket_path(self) -> Path | None:
        """Where the socket stands, or None where it has to be a port of this computer instead."""
        path = self._base.with_suffix(".sock")
        is_possible = hasattr(socket, "AF_UNIX") and sys.platform != "win32"
        return path if is_possible and len(os.fsencode(path)) < LONGEST_SOCKET_PATH else None

    def claim(self) -> None:
        """Become the one player of the folder, until this process ends. Raises PlayerRuns, and Refusal otherwise."""
        if self._lock is not None:
            return
        path = self._base.with_suffix(".lock")
        try:
            # Never closed: the lock goes when the process does, and the file stays, or two could hold two files.
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as error:
            raise Refusal(f"{path} cannot be opened: {error.strerror}") from error
        try:
            _lock(descriptor)
        except BlockingIOError:
            os.close(descriptor)
            raise PlayerRuns(self._runs()) from None
        except OSError as error:
            os.close(descriptor)
            raise Refusal(f"{path} cannot be locked: {error.strerror}") from error
        self._lock = descriptor

    def announce(self, address: str, secret: str) -> None:
        """Say where this process can be reached, in one step. Raises Refusal."""
        said = json.dumps(asdict(Announcement(address, os.getpid(), secret)))
        beside = self._base.with_suffix(f".{os.getpid()}")
        try:
            beside.unlink(missing_ok=True)
            descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(descriptor, "w", encoding="utf-8") as file:
                file.write(said)
            beside.replace(self._announcement)
        except OSError as error:
            raise Refusal(f"{self._announcement} cannot be written: {error.strerror}") from error

    def found(self) -> Announcement | None:
        """Return what a player announced last; one that was killed cannot take it back."""
        try:
            with self._announcement.open("rb") as file:
                status = os.fstat(file.fileno())
                said = file.read(LONGEST_ANNOUNCEMENT)
        except OSError:
            return None
        if hasattr(os, "getuid") and status.st_uid != os.getuid():
            return None
        return _understood(said)

    def withdraw(self) -> None:
        """Take back what this process announced; safe to call twice. The lock stays."""
        found = self.found()
        if found is None or found.pid != os.getpid():
            return
        for path in (self._announcement, self.socket_path):
            if path is not None:
                with suppress(OSError):
                    path.unlink()

    @property
    def _announcement(self) -> Path:
        return self._base.with_suffix(".json")

    def _runs(self) -> str:
        found = self.found()
        which = f" (process {found.pid})" if found else ""
        return f"a player of {self.folder} runs already{which}; end that one first, or use it"


def _understood(said: bytes) -> Announcement | None:
    """Return an announcement, unless it is none."""
    kinds = {"address": str, "pid": int, "secret": str, "version": int}
    try:
        words = json.loads(said)
        found = {name: words[name] for name in kinds}  # another version may have said more
    except (ValueError, TypeError, LookupError, RecursionError):
        return None
    return Announcement(**found) if all(type(found[name]) is kind for name, kind in kinds.items()) else None


if sys.platform == "win32":

    def _lock(descriptor: int) -> None:
        import msvcrt

        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError as error:
            raise BlockingIOError from error

else:

    def _lock(descriptor: int) -> None:
        import fcntl

        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
