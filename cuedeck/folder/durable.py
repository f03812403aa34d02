"""Putting bytes on the disk so that they are there after a crash, whole or not at all.

The invariant owned here: a temporary file has a name that nothing else in a show has, hidden and without
a suffix that is read, and is swept away when its process could not do so itself.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import IO

_PREFIX, _SUFFIX = ".cuedeck-", ".saving"
_FOLDERS_CANNOT_SYNC = (errno.EINVAL, errno.ENOTSUP, errno.EACCES, errno.EPERM, errno.EBADF, errno.EISDIR)
"""What a disk says that has no such call for folders, or a folder that may be written and not read."""

_REASONS = {
    errno.ENOSPC: ("the disk is full", "make room"),
    errno.EDQUOT: ("your share of the disk is used up", "make room"),
    errno.EROFS: ("the disk is read-only", "unlock or remount it, or copy the show to another disk"),
    errno.EACCES: ("you may not write there", "look at who may write to the show folder and its '.versions'"),
    errno.EPERM: ("you may not write there", "look at who may write to the show folder and its '.versions'"),
    errno.EFBIG: ("the file is larger than this system allows", "split it with 'include:', or lift the limit"),
    errno.EIO: ("the disk reports an error", "copy the show to another disk"),
    errno.ENAMETOOLONG: ("its name is too long", "give the file a shorter name"),
    errno.ENOTDIR: ("a file stands where a folder is needed", "move that file away"),
    errno.EEXIST: ("a file stands where a folder is needed", "move that file away"),
    errno.ELOOP: ("its link leads back to itself", "put the file itself in place of the link"),
}


def reason_and_cure(error: OSError) -> tuple[str, str]:
    """Return why the system did not do something, in the user's words, and what to do about it."""
    unknown = ((error.strerror or str(error)).lower(), "look at the disk and at who may write there")
    return _REASONS.get(error.errno or 0, unknown)


def write_beside(target: Path, content: bytes, like: Path | None) -> Path:
    """Write bytes durably to a temporary file in the folder of a target, and return its path.

    It gets the mode, and where possible the owner, of the file `like`. Raises OSError, and leaves nothing then.
    """
    with _beside(target, like) as file:
        file.write(content)
    return Path(file.name)


@contextlib.contextmanager
def replacing(path: Path, like: Path | None = None) -> Iterator[IO[bytes]]:
    """Open a file that takes the place of `path` durably once it is complete. Raises OSError."""
    with _beside(path, like) as file:
        yield file
    temporary = Path(file.name)
    try:
        temporary.replace(path)
    except BaseException:
        discard(temporary)
        raise
    sync_folder(path.parent)


def replace_file(path: Path, content: bytes, like: Path | None = None) -> None:
    """Put a file in the place of the one before, durably. Raises OSError."""
    with replacing(path, like) as file:
        file.write(content)


def replace_without_waiting(path: Path, content: bytes | bytearray) -> None:
    """Put a file that is this user's alone in the place of the one before, in one step, unsynced. Raises OSError.

    For what has to outlive the process, and not the power, and may not wait for a disk.
    """
    temporary = _temporary_for(path)
    try:
        with _made(temporary, 0o600) as file:
            file.write(content)
        temporary.replace(path)
    except BaseException:
        discard(temporary)
        raise


def discard(path: Path) -> None:
    """Remove a file, if that can be done."""
    with contextlib.suppress(OSError):
        path.unlink()


def sweep(folder: Path) -> None:
    """Remove the temporary files that a killed save has left in a folder, if that can be done."""
    for left in folder.glob(f"{_PREFIX}*{_SUFFIX}"):
        discard(left)


def make_folder(folder: Path) -> None:
    """Make a folder and those around it, each durably. Raises OSError."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def sync_folder(folder: Path) -> None:
    """Make what was renamed in a folder last, where the system can do that. Raises OSError where the disk fails."""
    if os.name == "nt":  # no folder can be opened there
        return
    try:
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
    except OSError as error:
        if error.errno not in _FOLDERS_CANNOT_SYNC:
            raise


@contextlib.contextmanager
def _beside(target: Path, like: Path | None) -> Iterator[IO[bytes]]:
    temporary = _temporary_for(target)
    try:
        # Closed to others until it has the owner and the mode of the file that it replaces.
        with _made(temporary, 0o666 if like is None else 0o600) as file:
            yield file
            file.flush()
            if like is not None:
                _copy_owner_and_mode(like, temporary)
            os.fsync(file.fileno())  # before it is renamed: else a name may outlive the power without its bytes
    except BaseException:
        discard(temporary)
        raise


def _temporary_for(target: Path) -> Path:
    # In the folder of the target: a rename that leaves the disk is a copy, which can be half done.
    return target.with_name(f"{_PREFIX}{secrets.token_hex(8)}{_SUFFIX}")


def _made(path: Path, mode: int) -> IO[bytes]:
    # "x" opens nothing that is there, so no link that somebody laid is written through.
    return open(path, "xb", opener=lambda name, flags: os.open(name, flags, mode))


def _copy_owner_and_mode(like: Path, path: Path) -> None:
    status = like.stat()
    with contextlib.suppress(OSError, AttributeError):
        os.chown(path, status.st_uid, status.st_gid)
    # After the owner: a change of owner takes special bits away.
    path.chmod(status.st_mode & 0o7777)
