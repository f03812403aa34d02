"""The hidden folder of a show in which its players keep what must outlive them: a blackout, and that one runs.

The invariant owned here: nothing outside the show folder is read or written, wherever links lead, and what is
written is on the disk, whole or not at all.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

from cuedeck.folder.durable import discard, sync_folder, write_beside

NAME = ".player"
LONGEST_CONTENT = 4096


class StateFolder:
    """The hidden folder of one show. It is made when something is written."""

    def __init__(self, show: Path) -> None:
        self.path = show / NAME

    def __repr__(self) -> str:
        return f"<StateFolder {self.path}>"

    def read(self, name: str) -> bytes | None:
        """Return what a file holds, or None where there is none. Raises OSError where it cannot be read."""
        path = self.path / name
        try:
            self._require_folder()
            if not stat.S_ISREG(path.lstat().st_mode):
                raise OSError(errno.EINVAL, "it is no file", str(path))
            with path.open("rb") as file:
                return file.read(LONGEST_CONTENT)
        except FileNotFoundError:
            return None

    def write(self, name: str, content: bytes) -> None:
        """Put a file in the place of the one before. Raises OSError."""
        self._make()
        beside = write_beside(self.path / name, content, None)
        try:
            beside.replace(self.path / name)
        except OSError:
            discard(beside)
            raise
        sync_folder(self.path)

    def remove(self, name: str) -> None:
        """Remove a file, where there is one. Raises OSError."""
        try:
            self._require_folder()
            (self.path / name).lstat()  # a read-only disk refuses to remove what is not there
            (self.path / name).unlink()
        except FileNotFoundError:
            return
        sync_folder(self.path)

    def opened(self, name: str) -> int:
        """Return a descriptor of a file that stays, for a lock; it is made where it is missing. Raises OSError."""
        path, flags = self.path / name, getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)
        try:
            self._make()
            return os.open(path, os.O_RDWR | os.O_CREAT | flags, 0o666)
        except OSError:
            self._require_folder()
            return os.open(path, os.O_RDONLY | flags)

    def _make(self) -> None:
        """Make the folder where it is missing, in a show folder that is there. Raises OSError."""
        if not self.path.exists():
            self.path.mkdir(exist_ok=True)
            sync_folder(self.path.parent)
        self._require_folder()

    def _require_folder(self) -> None:
        """Raise OSError where the folder is none, or a link: it may lead anywhere."""
        if not stat.S_ISDIR(self.path.lstat().st_mode) or self.path.resolve() != self.path.parent.resolve() / NAME:
            raise OSError(errno.ENOTDIR, "it is a link, or no folder: remove it", str(self.path))
