"""Where the player of a show folder can be found, and that there is one of it at most.

The invariant owned here: the lock is held by the process that plays a folder, for as long as that process
lives, whatever ends it. What a killed player left behind is never in the way of the next one.

There are two locks, in the private directory and in the folder itself: the second follows the folder when it is
renamed. A player that was started with another runtime directory, or before that, is found through what it left in the
folder. Known limit: on a network disk without locks, two computers do not see each other.
"""

from __future__ import annotations

import hashlib
import json
import os
import socket
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Self

from cuedeck.errors import Refusal
from cuedeck.folder.durable import replace_without_waiting, sweep
from cuedeck.folder.file_lock import locked
from cuedeck.player.runtime_directory import is_private, runtime_directory
from cuedeck.player.state_folder import StateFolder

VERSION = 3
"""Of the messages between player and clients. A player and a client of different versions do not talk."""
LONGEST_SOCKET_PATH = 100
"""Bytes. The shortest room for one on systems in use is 104, with a zero at the end; from memory."""
LONGEST_ANNOUNCEMENT = 4096
ALREADY_RUNS_EXIT = 75
"""With what exit code a player leaves that found another at work, so that its client looks for that one."""
LOCK_FILE = "lock"
RUNNING_FILE = "running"


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
    folder: str = field(default="", compare=False)
    """The folder, as `_folder_id` names it."""


@dataclass(frozen=True)
class Running:
    """What a player leaves in the show folder for as long as it runs: who finds it without one was killed."""

    pid: int
    base: str
    """Where its files are, without their endings."""
    folder: str
    """The folder, as `_folder_id` names it: a copied folder brings a file along that is not about it."""


class InstanceLock:
    """The files of the player of one show folder, all in the private directory."""

    def __init__(self, folder: Path, base: Path) -> None:
        self.folder = folder
        """The folder, resolved."""
        self._base = base
        self.last_look = base.with_suffix(".look")
        """Where the player keeps the last look."""
        self.blackout_page = base.with_suffix(".blackout")
        """Where a blackout is asked for."""
        self.log = base.with_suffix(".log")
        """Where the words of a player go that has no terminal."""
        self._announcement = base.with_suffix(".json")
        self._locks: list[int] = []

    @classmethod
    def of(cls, folder: Path) -> Self:
        """Return where to look for the player of a folder. Raises NoRuntimeDirectory."""
        resolved = folder.resolve()
        name = hashlib.sha256(os.fsencode(os.path.normcase(resolved))).hexdigest()[:16]
        return cls(resolved, runtime_directory() / name)

    @classmethod
    def used_by_player(cls, folder: Path) -> Self:
        """Return where the player of a folder has its files, which may be another runtime directory than this one's."""
        own = cls.of(folder)
        running = _running_in(own.folder)
        base = None if running is None else _trusted_base(running)
        other = own if base is None else cls(own.folder, base)
        announced = other.found()
        return own if announced is None or not announced.folder else other

    @property
    def socket_path(self) -> Path | None:
        """Where the socket stands, or None where it has to be a port of this computer instead."""
        path = self._base.with_suffix(".sock")
        is_possible = hasattr(socket, "AF_UNIX") and sys.platform != "win32"
        return path if is_possible and len(os.fsencode(path)) < LONGEST_SOCKET_PATH else None

    def claim(self) -> None:
        """Become the one player of the folder, until this process ends. Raises PlayerRuns, and Refusal otherwise."""
        if self._locks:
            return
        try:
            # Never closed: the locks go when the process does, and the file stays, or two could hold two files.
            self._locks.append(_locked(self._base.with_suffix(".lock")))
            in_folder = _lock_folder(self.folder)
        except BlockingIOError:
            self._unclaim()
            raise PlayerRuns(self._runs()) from None
        if in_folder is not None:
            self._locks.append(in_folder)

    @contextmanager
    def claimed(self) -> Iterator[None]:
        """Be the one player of the folder meanwhile, so that none begins. Raises PlayerRuns, and Refusal otherwise."""
        self.claim()
        try:
            yield
        finally:
            self._unclaim()

    def _unclaim(self) -> None:
        while self._locks:
            os.close(self._locks.pop())

    @property
    def was_killed(self) -> bool:
        """Whether the last player did not end on purpose; for whoever knows that none runs."""
        return self.last_look.exists() or _running_in(self.folder) is not None

    def ended(self) -> None:
        """Note that this process, the one player of the folder, ends on purpose."""
        with suppress(OSError):
            StateFolder(self.folder).remove(RUNNING_FILE)

    def announce(self, address: str, secret: str) -> None:
        """Say where this process can be reached, in one step. Raises Refusal."""
        text = json.dumps(asdict(Announcement(address, os.getpid(), secret, folder=_folder_id(self.folder))))
        try:
            replace_without_waiting(self._announcement, text.encode())
        except OSError as error:
            raise Refusal(f"{self._announcement} cannot be written: {error.strerror}") from error
        running = Running(os.getpid(), str(self._base), _folder_id(self.folder))
        with suppress(OSError):  # a folder that cannot be written
            StateFolder(self.folder).write(RUNNING_FILE, json.dumps(asdict(running)).encode())
            sweep(StateFolder(self.folder).path)

    def found(self) -> Announcement | None:
        """Return what a player announced last; one that was killed cannot take it back."""
        try:
            with self._announcement.open("rb") as file:
                status = os.fstat(file.fileno())
                text = file.read(LONGEST_ANNOUNCEMENT)
        except OSError:
            return None
        if hasattr(os, "getuid") and status.st_uid != os.getuid():  # of the open file: a path may change meanwhile
            return None
        found = _understood(text)
        # Where a folder was renamed and another has its name now, the player of the first is not that of the second.
        is_here = found is not None and found.folder in ("", _folder_id(self.folder) or found.folder)
        return found if is_here else None

    def withdraw(self) -> None:
        """Take back what this process announced; safe to call twice. The lock stays."""
        found = self.found()
        if found is None or found.pid != os.getpid():
            return
        for path in (self._announcement, self.socket_path):
            if path is not None:
                with suppress(OSError):
                    path.unlink()

    def _runs(self) -> str:
        found, running = InstanceLock.used_by_player(self.folder).found(), _running_in(self.folder)
        if found is not None:
            return f"a player of {self.folder} runs already (process {found.pid}); end that one first, or use it"
        which = f" (process {running.pid})" if running else ""
        return (
            f"a player of {self.folder} runs already{which}, and cannot be reached from here: another user started it,"
            " or a terminal with another XDG_RUNTIME_DIR; use it from there, or end that process"
        )


def _locked(path: Path) -> int:
    """Return the descriptor of a file that this process has locked. Raises BlockingIOError, and Refusal otherwise."""
    try:
        return locked(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
    except BlockingIOError:
        raise
    except OSError as error:
        raise Refusal(f"{path} cannot be locked: {error.strerror}") from error


def _understood(text: bytes) -> Announcement | None:
    kinds = {"address": str, "pid": int, "secret": str, "version": int}
    try:
        words = json.loads(text)
        found = {name: words[name] for name in kinds}  # another version may have said more
        folder = words.get("folder", "")
    except (ValueError, TypeError, LookupError, RecursionError):
        return None
    is_sound = type(folder) is str and all(type(found[name]) is kind for name, kind in kinds.items())
    return Announcement(**found, folder=folder) if is_sound else None


def _folder_id(folder: Path) -> str:
    """Return what names a folder, also after it was renamed; nothing where it is gone."""
    try:
        status = folder.stat()
    except OSError:
        return ""
    return f"{status.st_dev}:{status.st_ino}"


def _lock_folder(folder: Path) -> int | None:
    """Lock a folder and return the descriptor that holds the lock; None on a disk without locks.

    A file in it is locked; where there can be none, the folder itself, in which nothing is saved then (a save locks
    it too). Raises BlockingIOError where another process has it.
    """
    openings: list[Callable[[], int]] = [
        lambda: StateFolder(folder).opened(LOCK_FILE),
        lambda: os.open(folder, os.O_RDONLY),
    ]
    for opening in openings:
        try:
            return locked(opening())
        except BlockingIOError:
            raise
        except OSError:
            continue
    return None


def _running_in(folder: Path) -> Running | None:
    """Return the player that left word in a folder, be it alive or not."""
    try:
        noted = json.loads(StateFolder(folder).read(RUNNING_FILE) or b"")
        found = Running(noted["pid"], noted["base"], noted["folder"])
    except (OSError, ValueError, TypeError, LookupError, RecursionError):
        return None
    is_sound = type(found.pid) is int and type(found.base) is str and type(found.folder) is str
    # By the file's number alone: that of a disk may change when the computer is started anew.
    is_here = is_sound and found.folder.rpartition(":")[2] == _folder_id(folder).rpartition(":")[2] != ""
    return found if is_here else None


def _trusted_base(running: Running) -> Path | None:
    """Return where the files of a player are, if nobody but this user can have written them."""
    base = Path(running.base)
    is_own = hasattr(os, "getuid") and base.is_absolute() and is_private(base.parent)
    return base if is_own else None
