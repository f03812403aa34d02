"""Making a show folder: it is there whole, or not at all."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path

from cuedeck.errors import Refusal
from cuedeck.folder.durable import make_folder, replace_file, sync_folder

_OTHER = "give another name"


class NoFolder(Refusal):
    """A folder that cannot be made. The message says why, and what to do."""


def check_new_folder(path: Path) -> None:
    """Raise NoFolder where a path cannot become a show folder: a bad name, or something stands there already."""
    if path.name in ("", "..") or "\0" in str(path):
        raise NoFolder(f"'{path}' is no name for a new folder: write one such as bottle")
    try:
        if path.is_dir() and any(path.iterdir()):
            raise NoFolder(f"the folder '{path}' is there already, with files in it: {_OTHER}, or move it away")
        if path.is_symlink() or (path.exists() and not path.is_dir()):
            raise NoFolder(f"'{path}' is there already, and is no empty folder: {_OTHER}")
        if not path.parent.is_dir():
            raise NoFolder(f"there is no folder '{path.parent}' to make '{path.name}' in: make it first")
    except OSError as error:
        raise _refusal(path, error) from error


def make_show_folder(path: Path, files: Mapping[str, str]) -> None:
    """Write the files of a show, by their paths inside it, and only then give the folder its name.

    Raises NoFolder; nothing is left behind then.
    """
    check_new_folder(path)
    try:
        # The rename needs the same disk, so the folder grows beside its place.
        with tempfile.TemporaryDirectory(prefix=".cuedeck-new-", dir=path.parent) as beside:
            folder = Path(beside) / "show"  # of its own, since a temporary folder is closed to others
            for name, text in files.items():
                file = folder / name
                make_folder(file.parent)
                replace_file(file, text.encode())
            folder.rename(path)
            sync_folder(path.parent)
    except OSError as error:
        raise _refusal(path, error) from error


def _refusal(path: Path, error: OSError) -> NoFolder:
    return NoFolder(f"the folder '{path}' cannot be made: {(error.strerror or str(error)).lower()}")
