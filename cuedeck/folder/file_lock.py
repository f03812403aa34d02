"""Locks on files: one process has a file to itself, until it closes it or ends, whatever ends it."""

from __future__ import annotations

import os
import sys

if sys.platform == "win32":
    import msvcrt

    def lock(descriptor: int) -> None:
        """Lock the byte at which a file stands. Raises BlockingIOError where another process has it, and OSError."""
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError as error:
            raise BlockingIOError from error

else:
    import fcntl

    def lock(descriptor: int) -> None:
        """Lock a file or a folder. Raises BlockingIOError where another process has it, and OSError without locks."""
        # Not lockf, which lets go of a file as soon as this process closes any other descriptor of it.
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


def locked(descriptor: int) -> int:
    """Lock a file and return it; it is closed where that fails. Raises as `lock` does."""
    try:
        lock(descriptor)
    except OSError:
        os.close(descriptor)
        raise
    return descriptor
