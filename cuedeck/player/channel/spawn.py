"""Starting a player as a process of its own, that lives on when its client and its terminal are gone."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

from cuedeck.folder.inside import open_own
from cuedeck.player.instance_lock import InstanceLock

LARGEST_LOG = 1024 * 1024
"""Bytes. A log that is larger is begun anew by the next player."""
LONGEST_REASON = 500


class StartedProcess:
    """A player that was started here."""

    def __init__(self, process: subprocess.Popen[bytes], log: Path, log_begins: int) -> None:
        self._process = process
        self.pid = process.pid
        self._log = log
        self._log_begins = log_begins

    @property
    def exit_code(self) -> int | None:
        """With what it ended; None while it runs."""
        return self._process.poll()

    @property
    def last_words(self) -> str:
        """The last line of its log, or else how it ended."""
        with self._log.open("rb") as file:
            file.seek(self._log_begins)
            lines = file.read().decode(errors="replace").split("\n")
        told = [line.strip() for line in lines if line.strip()]
        return told[-1][:LONGEST_REASON] if told else f"it ended with exit code {self._process.poll()} and said nothing"

    def give_up(self) -> None:
        """End it: another player was there first, and this one must not come to life when that one has ended."""
        if self._process.poll() is None:
            self._process.terminate()

    def leave_alone(self) -> None:
        """Let it live its life; it is only noticed when it ends, so that nothing is left of it then."""
        threading.Thread(target=self._process.wait, name=f"end of player {self.pid}", daemon=True).start()


def spawn(instance: InstanceLock, module: str, *, resume: bool) -> StartedProcess:
    """Start the player of a folder. Raises OSError, and Foreign."""
    descriptor = open_own(instance.log.parent, instance.log, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    try:
        if os.fstat(descriptor).st_size > LARGEST_LOG:
            os.ftruncate(descriptor, 0)
        begins = os.fstat(descriptor).st_size
        command = [sys.executable, "-m", module, str(instance.folder), *(["--resume"] if resume else [])]
        process = subprocess.Popen(  # noqa: S603 - this program itself
            command, stdin=subprocess.DEVNULL, stdout=descriptor, stderr=descriptor, **_detached()
        )
    finally:
        os.close(descriptor)
    return StartedProcess(process, instance.log, begins)


def _detached() -> dict[str, Any]:
    """Return what takes a process out of the terminal's hands, so that no Ctrl-C and no hang-up reaches it."""
    if sys.platform == "win32":
        return {"creationflags": subprocess.DETACHED_PROCESS | subprocess.CREATE_NEW_PROCESS_GROUP}
    return {"start_new_session": True}
