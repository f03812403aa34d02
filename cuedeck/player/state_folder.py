"""The hidden folder of a show in which its players keep what must outlive them: a blackout, and that one runs.

The invariant owned here: nothing outside the show folder is read or written, wherever links lead, and what is
written is on the disk, whole or not at all.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cuedeck.folder.durable import replace_file, sync_folder
from cuedeck.folder.inside import Foreign, open_own, require_own_folder

NAME = ".player"
LONGEST_CONTENT = 4096


class StateFolder:
    """The hidden folder of one show. It is made when something is written."""

    def __init__(self, show: Path) -> None:
        self._show = show
        self.path = show / NAME

    def read(self, name: str) -> bytes | None:
        """Return what a file holds, or None where there is none. Raises OSError where it cannot be read."""
        try:
            with os.fdopen(self._open(name, os.O_RDONLY), "rb") as file:
                return file.read(LONGEST_CONTENT)
        except FileNotFoundError:
            return None

    def write(self, name: str, content: bytes) -> None:
        """Put a file in the place of the one before. Raises OSError."""
        self._make()
        replace_file(self.path / name, content)

    def remove(self, name: str) -> None:
        """Remove a file, where there is one. Raises OSError."""
        self._require_plain()
        try:
            (self.path / name).lstat()  # a read-only disk refuses to remove what is not there
            (self.path / name).unlink()
        except FileNotFoundError:
            return
        sync_folder(self.path)

    def opened(self, name: str) -> int:
        """Return a descriptor of a file that stays, for a lock; it is made where it is missing. Raises OSError."""
        try:
            self._make()
            return self._open(name, os.O_RDWR | os.O_CREAT)
        except OSError:
            return self._open(name, os.O_RDONLY)

    def _open(self, name: str, flags: int) -> int:
        self._require_plain()
        with _as_os_error():
            return open_own(self._show, self.path / name, flags, 0o666)

    def _make(self) -> None:
        """Make the folder where it is missing, in a show folder that is there. Raises OSError."""
        self._require_plain()
        if not self.path.is_dir():
            self.path.mkdir(exist_ok=True)
            sync_folder(self._show)

    def _require_plain(self) -> None:
        with _as_os_error():
            require_own_folder(self._show, self.path)


@contextmanager
def _as_os_error() -> Iterator[None]:
    try:
        yield
    except Foreign as foreign:
        raise OSError(errno.EINVAL, str(foreign)) from foreign
