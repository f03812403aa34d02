"""Saving files of a show: each is on the disk in its old form or its new one, whole, whatever happens.

The invariants owned here: what was changed on disk since it was read is never written over, and no file is
replaced before its old content is kept in `.versions` and all new contents are on the disk. Files saved
together are replaced one after the other, in the order given: a machine that dies in between leaves some
of them old and some new, and the old ones in `.versions`.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path, PurePosixPath

from cuedeck.errors import Refusal
from cuedeck.folder.durable import discard, make_folder, reason_and_cure, replace_file, sweep, sync_folder, write_beside
from cuedeck.folder.file_lock import lock
from cuedeck.folder.inside import Foreign
from cuedeck.folder.versions import VERSIONS_FOLDER, drop_old_versions, keep_version

_NOW = partial(datetime.now, UTC)


class SaveRefused(Refusal):
    """A save that was not done; files are as they were. The message says why and what to do."""


class ChangedOnDisk(SaveRefused):
    """A file is not what was read, so saving would undo what somebody else did to it. Nothing was saved."""


@dataclass(frozen=True)
class _Save:
    """One file to save: its name in the show, where it really is, and its content before and after."""

    name: str
    target: Path
    old: bytes | None
    new: bytes


def save_files(
    folder: Path, files: Mapping[str, bytes], expected: Mapping[str, bytes], now: Callable[[], datetime] = _NOW
) -> None:
    """Save files of a show, by their names relative to its folder, and keep the versions they replace.

    `expected` holds the contents as they were read; a file that is not in it must not be there yet.
    Raises ChangedOnDisk, or SaveRefused where the system does not allow it; nothing is changed then.
    """
    names = [*files, *(name for name in expected if name not in files)]
    targets = {name: _target(folder, name) for name in names}
    if len(set(targets.values())) < len(targets):
        raise SaveRefused("two names stand for the same file; nothing was saved: take one of the links out")
    with _one_at_a_time(folder):
        _require_unchanged(targets, expected)
        changed = {name: new for name, new in files.items() if expected.get(name) != new}
        saves = [_Save(name, targets[name], expected.get(name), new) for name, new in changed.items()]
        _save_all(folder, saves, lambda: _require_unchanged(targets, expected), now)


def _target(folder: Path, name: str) -> Path:
    """Return the file that a name leads to, past links. Raises SaveRefused where that is not in the folder."""
    parts = PurePosixPath(name).parts
    inside = "keep it in the show folder"
    if not parts or ".." in parts or PurePosixPath(name).is_absolute() or parts[0] == VERSIONS_FOLDER:
        raise SaveRefused(f"'{name}' is no name for a file of the show; nothing was saved: {inside}")
    try:
        target = (folder / name).resolve()
    except (OSError, RuntimeError, ValueError) as error:
        raise SaveRefused(f"{name} was not saved: this is no path of a file; {inside}") from error
    if not target.is_relative_to(folder.resolve()):
        what = f"{name} is a link to {target}, out of the show folder; nothing was saved"
        raise SaveRefused(f"{what}: put the file itself in place of the link")
    return target


@contextlib.contextmanager
def _one_at_a_time(folder: Path) -> Iterator[None]:
    """Keep two saves into one folder apart, where the system can lock a folder."""
    if os.name == "nt":  # no folder can be opened there
        yield
        return
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise _refusal(str(folder), error) from error
    try:
        try:
            lock(descriptor)
        except BlockingIOError as error:
            what = "another cuedeck is saving this show at this moment; nothing was saved"
            raise SaveRefused(f"{what}: save again") from error
        except OSError:
            pass  # a disk on the network that knows no locks
        yield
    finally:
        os.close(descriptor)


def _require_unchanged(targets: Mapping[str, Path], expected: Mapping[str, bytes]) -> None:
    again = "open the show again, or give the command again; copy the folder first to keep both"
    for name, target in targets.items():
        try:
            if not target.is_dir() and target.exists() and not target.is_file():  # reading might never end
                raise SaveRefused(f"{name} is a pipe or a device now; nothing was saved: move it away")
            found: bytes | None = target.read_bytes()
        except FileNotFoundError:
            found = None
        except OSError as error:
            raise _refusal(name, error) from error
        if found == expected.get(name):
            continue
        if found is None:
            raise ChangedOnDisk(f"{name} is not there any more, since it was read; nothing was saved: {again}")
        if name not in expected:
            raise ChangedOnDisk(f"there is a {name} already; nothing was saved: give the new file another name")
        raise ChangedOnDisk(f"{name} was changed by somebody else since it was read; nothing was saved: {again}")


def _save_all(
    folder: Path, saves: list[_Save], require_unchanged: Callable[[], None], now: Callable[[], datetime]
) -> None:
    """Write all beside, keep all old versions, then replace. What was begun is taken back where one step fails."""
    written: dict[str, Path] = {}
    kept: list[Path] = []
    replaced: list[_Save] = []
    places = {save.target.parent for save in saves}
    # Told apart before any is made, so that a save that fails takes no other away.
    new_folders = [folder for place in places for folder in (place, *place.parents) if not folder.exists()]
    for place in places:
        sweep(place)
    try:
        for save in saves:
            with _in_words(save.name):
                written[save.name] = _write_new(save)
        for save in saves:
            with _in_words(save.name):
                version = None if save.old is None else keep_version(folder, save.name, save.old, save.target, now())
                kept += [] if version is None else [version]
        require_unchanged()  # again, as late as can be: writing took a while, and another editor may have saved
        for save in saves:
            with _in_words(save.name):
                written[save.name].replace(save.target)
                replaced.append(save)  # before the sync: where that fails, this one is put back too
                sync_folder(save.target.parent)
    except BaseException as error:
        lost = _take_back(replaced, written, kept)
        _remove_empty(new_folders)
        if lost:
            what = f"{' and '.join(lost)} could not be put back after a save that failed"
            raise SaveRefused(f"{what}: the old content is in '{VERSIONS_FOLDER}', copy it from there") from error
        raise
    for save in saves:  # last, so that a save that fails has cost no version
        with contextlib.suppress(OSError):
            drop_old_versions(folder, save.name)


def _write_new(save: _Save) -> Path:
    make_folder(save.target.parent)
    if save.old is None:
        return write_beside(save.target, save.new, None)
    temporary = write_beside(save.target, save.new, save.target)
    if not os.access(save.target, os.W_OK):
        # Replacing needs no leave from the file, but its owner has locked it for a reason.
        discard(temporary)
        raise SaveRefused(f"{save.name} is write-protected; nothing was saved: unlock the file, then save again")
    return temporary


def _take_back(replaced: list[_Save], written: Mapping[str, Path], kept: list[Path]) -> list[str]:
    """Undo a save as far as it went. Return the names of files that could not be put back."""
    for path in written.values():
        discard(path)
    lost = [save.name for save in reversed(replaced) if not _restore(save)]
    for path in kept if not lost else ():
        discard(path)
    return lost


def _remove_empty(folders: list[Path]) -> None:
    for folder in sorted(folders, reverse=True):  # what stands in another comes first
        with contextlib.suppress(OSError):
            folder.rmdir()


def _restore(save: _Save) -> bool:
    """Put the old content of a replaced file back. Return whether that could be done."""
    if save.old is None:
        discard(save.target)
        return True
    try:
        replace_file(save.target, save.old, save.target)
    except OSError:
        return False
    return True


@contextlib.contextmanager
def _in_words(name: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise _refusal(name, error) from error
    except Foreign as foreign:
        raise SaveRefused(f"{name} was not saved, the file is as it was: {foreign}") from foreign


def _refusal(name: str, error: OSError) -> SaveRefused:
    reason, cure = reason_and_cure(error)
    return SaveRefused(f"{name} was not saved: {reason}; the file is as it was: {cure}, then save again")
