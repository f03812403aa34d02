"""Files that cuedeck keeps for itself in a show folder, which may have come from anywhere.

The invariant owned here: what is opened there is a plain file in a plain folder. A link would lead reading and
writing out of the show, and a pipe or a device might keep whoever opens it waiting for ever.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

from cuedeck.errors import Refusal

_FLAGS = sum(getattr(os, name, 0) for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "O_BINARY"))
BESIDE_DATABASE = ("", "-wal", "-shm", "-journal")
"""What SQLite keeps beside a database. [sqlite.org, Temporary Files Used By SQLite]"""
_JUNCTION = 0xA0000003
"""IO_REPARSE_TAG_MOUNT_POINT. [MS-FSCC, reparse tags]"""
_MOVE = "move it away, and a new one is made"


class Foreign(Refusal):
    """Something in the show folder that is not opened. The message says what, and what to do."""


def own_path(folder: Path, *names: str) -> Path:
    """Return the path that names lead to below a folder, whether there is something or not.

    Raises Foreign where a link, a pipe or a device stands in the way.
    """
    path = folder
    for name in names:
        path = path / name
        _require_plain(folder, path, may_be_folder=True)
    return path


def require_own_folder(folder: Path, path: Path) -> None:
    """Raise Foreign where anything but a plain folder stands; it may be missing."""
    _require_plain(folder, path, may_be_folder=True, may_be_file=False)


def require_own_database(path: Path) -> None:
    """Raise Foreign where a database, or what stands beside it, is anything but a plain file."""
    for suffix in BESIDE_DATABASE:
        _require_plain(path.parent, path.with_name(f"{path.name}{suffix}"), may_be_folder=False)


def open_own(folder: Path, path: Path, flags: int, mode: int = 0o600) -> int:
    """Open a plain file and return its descriptor. Raises Foreign for anything else, and OSError."""
    _require_plain(folder, path, may_be_folder=False)
    descriptor = os.open(path, flags | _FLAGS, mode)
    if stat.S_ISREG(os.fstat(descriptor).st_mode):
        return descriptor
    os.close(descriptor)
    raise Foreign(_words(folder, path, "no plain file", _MOVE))


def is_plain_file(path: Path) -> bool:
    """Whether there is a plain file, and no link to one."""
    try:
        return stat.S_ISREG(path.lstat().st_mode)
    except (OSError, ValueError):
        return False


def _require_plain(folder: Path, path: Path, *, may_be_folder: bool, may_be_file: bool = True) -> None:
    try:
        status = path.lstat()
    except (OSError, ValueError):
        return  # it is not there, or whoever opens it is told why that cannot be done
    mode = status.st_mode
    # On Windows a junction leads elsewhere too, and is no link to the system.
    if stat.S_ISLNK(mode) or getattr(status, "st_reparse_tag", 0) == _JUNCTION:
        cure = "put the file or the folder itself in its place, or take the link away"
        raise Foreign(_words(folder, path, "a link, which is not followed", cure))
    if stat.S_ISDIR(mode) and not may_be_folder:
        raise Foreign(_words(folder, path, "a folder, and no file", _MOVE))
    if stat.S_ISREG(mode) and not may_be_file:
        raise Foreign(_words(folder, path, "a file, and no folder", _MOVE))
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
        raise Foreign(_words(folder, path, "a pipe or a device, and no file", _MOVE))


def _words(folder: Path, path: Path, what: str, cure: str) -> str:
    return f"{path.relative_to(folder)} in {folder} is {what}: {cure}"
