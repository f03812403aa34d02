"""One player a show folder, whoever starts it and from wherever: a lock in the folder itself.

The lock follows the folder when it is renamed, and goes with the process that holds it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from cuedeck.folder.durable import sweep
from cuedeck.folder.file_lock import locked
from cuedeck.player.runtime_directory import is_private
from cuedeck.player.state_folder import StateFolder

LOCK_FILE = "lock"
RUNNING_FILE = "running"


@dataclass(frozen=True)
class Running:
    """What a player leaves in the show folder for as long as it runs: who finds it without one was killed."""

    pid: int
    base: str
    """Where its files are, without their endings."""
    folder: str
    """The folder, as `folder_id` names it: a copied folder brings a file along that is not about it."""


def folder_id(folder: Path) -> str:
    """Return what names a folder, also after it was renamed; nothing where it is gone."""
    try:
        status = folder.stat()
    except OSError:
        return ""
    return f"{status.st_dev}:{status.st_ino}"


def lock_folder(folder: Path) -> int | None:
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


def say_running(folder: Path, base: Path) -> None:
    """Leave word in the folder that this process plays it, where the folder can be written."""
    running = Running(os.getpid(), str(base), folder_id(folder))
    with suppress(OSError):
        StateFolder(folder).write(RUNNING_FILE, json.dumps(asdict(running)).encode())
        sweep(StateFolder(folder).path)


def say_ended(folder: Path) -> None:
    """Take back what `say_running` left: the player ends on purpose."""
    with suppress(OSError):
        StateFolder(folder).remove(RUNNING_FILE)


def running_in(folder: Path) -> Running | None:
    """Return the player that left word in a folder, be it alive or not."""
    try:
        noted = json.loads(StateFolder(folder).read(RUNNING_FILE) or b"")
        found = Running(noted["pid"], noted["base"], noted["folder"])
    except (OSError, ValueError, TypeError, LookupError, RecursionError):
        return None
    is_sound = type(found.pid) is int and type(found.base) is str and type(found.folder) is str
    # By the file's number alone: that of a disk may change when the computer is started anew.
    is_here = is_sound and found.folder.rpartition(":")[2] == folder_id(folder).rpartition(":")[2] != ""
    return found if is_here else None


def trusted_base(running: Running) -> Path | None:
    """Return where the files of a player are, if nobody but this user can have written them."""
    base = Path(running.base)
    is_own = hasattr(os, "getuid") and base.is_absolute() and is_private(base.parent)
    return base if is_own else None
