"""The show of a player, read again when its files change.

A show of which no shot can run never takes the place of one that can: what is wrong with it is told, and the one
that was read before goes on.
"""

from __future__ import annotations

from pathlib import Path

from cuedeck.errors import Refusal
from cuedeck.folder.folder import StampedFolder
from cuedeck.show.problems import ProblemsFound
from cuedeck.show.source import PathRefused
from cuedeck.timeline.choosing import require_sound
from cuedeck.timeline.opening import OpenedShow


class ShowKeeper:
    """The newest state of a show that can run. Not for several threads at once."""

    def __init__(self, path: Path, *, must_exist: bool = True) -> None:
        """Raises NoShow where there is none and one `must_exist`; otherwise it may come back."""
        self._path = path
        self._folder = StampedFolder(path) if must_exist else None
        self._opened: OpenedShow | None = None
        self.problem = ""
        """What is wrong with the show as it is on the disk; nothing while all is well."""

    @property
    def path(self) -> Path:
        return self._path if self._folder is None else self._folder.path

    @property
    def is_stale(self) -> bool:
        """Whether a file that was read has changed, or nothing was read yet."""
        return self._folder is None or not self._folder.stamps or bool(self._folder.changed)

    def opened(self) -> OpenedShow:
        """Return the show as it is on the disk. Raises Refusal where it cannot run."""
        if self.is_stale or self._opened is None or self.problem:
            self._read()
        if self.problem or self._opened is None:
            raise Refusal(self.problem)
        return self._opened

    def last_sound(self) -> OpenedShow:
        """Return the newest state of the show that can run, be it on the disk or not. Raises Refusal."""
        try:
            return self.opened()
        except Refusal:
            if self._opened is None:
                raise
            return self._opened

    def refreshed(self) -> OpenedShow | None:
        """Return the show where it has changed since and can run; otherwise None, and `problem` says why."""
        if not self.is_stale:
            return None
        self._read()
        return None if self.problem else self._opened

    def _read(self) -> None:
        try:
            self._folder = self._folder or StampedFolder(self._path)
            self._folder.stamps.clear()
            opened = self._folder.open()
            require_sound(opened)
        except (ProblemsFound, PathRefused, Refusal) as error:
            self.problem = str(error)
        else:
            self._opened, self.problem = opened, ""
