"""A directory that only the user's own account can look into, for what the player and its clients share.

The invariant owned here: what is returned belongs to this user and is open to nobody else, whatever the
environment says and whoever made a directory of that name first.
"""

from __future__ import annotations

import getpass
import os
import stat
import tempfile
import warnings
from contextlib import suppress
from pathlib import Path

from cuedeck.errors import Refusal

APPLICATION = "cuedeck"


class NoRuntimeDirectory(Refusal):
    """There is no directory that could be kept from other users."""


def runtime_directory() -> Path:
    """Return the private directory, which is made where it is missing. Raises NoRuntimeDirectory."""
    at_runtime = _runtime_path()
    if at_runtime is not None and _is_own(at_runtime.parent) and _is_made_private(at_runtime):
        return at_runtime
    instead = Path(tempfile.gettempdir()) / f"{APPLICATION}-{_user()}"
    if _is_made_private(instead):
        return instead
    raise NoRuntimeDirectory(
        f"{instead} cannot be kept from other users of this computer: it cannot be made, or belongs to someone else; "
        "set XDG_RUNTIME_DIR to a directory that is yours, or have that one removed"
    )


def _runtime_path() -> Path | None:
    """Return where the system has such things, if it says so in good order."""
    import platformdirs

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a variable that is not set or not in order is no news for the user
        try:
            return Path(platformdirs.user_runtime_dir(APPLICATION, appauthor=False))
        except OSError:
            return None


def _user() -> str:
    return str(os.getuid()) if hasattr(os, "getuid") else getpass.getuser()


def _is_own(path: Path) -> bool:
    """Whether a path is a directory of this user's, and no link to one."""
    try:
        status = path.lstat()
    except OSError:
        return False
    return stat.S_ISDIR(status.st_mode) and (not hasattr(os, "getuid") or status.st_uid == os.getuid())


def is_private(path: Path) -> bool:
    """Whether a path is a directory of this user's that is open to nobody else."""
    return _is_own(path) and stat.S_IMODE(path.lstat().st_mode) == 0o700


def _is_made_private(path: Path) -> bool:
    """Make a directory that is open to its owner only. Returns whether it is there, owned, and can be written."""
    try:
        path.mkdir(mode=0o700, exist_ok=True)
        if not _is_own(path):
            return False
        if hasattr(os, "getuid") and stat.S_IMODE(path.lstat().st_mode) != 0o700:
            path.chmod(0o700)
    except OSError:
        return False
    return os.access(path, os.W_OK | os.X_OK)


def log_places() -> list[Path]:
    """Return the private folders for packets that a log cannot take yet, made where they are missing.

    The one in the state directory of the user is to be tried first: it outlives the computer being switched off.
    """
    import platformdirs

    places = []
    with suppress(OSError):
        state = Path(platformdirs.user_state_dir(APPLICATION, appauthor=False)) / "unlogged"
        state.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not hasattr(os, "getuid") or state.lstat().st_uid == os.getuid():
            state.chmod(0o700)
            places.append(state)
    with suppress(Refusal):
        places.append(runtime_directory())
    return places
