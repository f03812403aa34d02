"""Where packets are kept that a log cannot take yet: beside the user's state on the disk, else at runtime."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from cuedeck.errors import Refusal
from cuedeck.player.runtime_directory import APPLICATION, runtime_directory


def log_places() -> list[Path]:
    """Return the private folders for them, made where they are missing, the one to be tried first at the front."""
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
