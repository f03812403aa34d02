"""A show as it is being edited in another process, which has laid its files out in a folder inside the show."""

from __future__ import annotations

import re
from pathlib import Path

from cuedeck.errors import Refusal
from cuedeck.folder.folder import ShowFolder
from cuedeck.folder.journal import FOLDER
from cuedeck.timeline.opening import OpenedShow

_NAME = re.compile(rf"{re.escape(FOLDER)}/run-[0-9a-f]{{8}}")


class LentFolder(ShowFolder):
    """A show folder in which files that were lent stand before its own."""

    def __init__(self, path: Path, name: str) -> None:
        """Raises Refusal for a name that is none of a lent folder."""
        super().__init__(path)
        if not _NAME.fullmatch(name):
            raise Refusal("the show as it is edited is not where it is lent")
        self._lent = name

    def read(self, relative: str) -> bytes:
        """Return the bytes of a file, as it was lent where it was."""
        try:
            return super().read(f"{self._lent}/{relative}")
        except FileNotFoundError:
            return super().read(relative)


def open_lent(path: Path, name: str) -> OpenedShow:
    """Read and check a show as it is being edited. Raises Refusal."""
    return LentFolder(path, name).open()
