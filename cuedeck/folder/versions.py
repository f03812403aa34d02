"""The last versions of each file of a show, in its hidden folder `.versions`.

The names sort in the order of the saves, also where the clock was set back in between. What else lies there, a
folder, a link or a name that is no time, is no version: it is neither read nor taken away.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path, PurePosixPath

from cuedeck.folder.durable import discard, make_folder, replace_file, sweep
from cuedeck.folder.inside import is_plain_file, own_path

VERSIONS_FOLDER = ".versions"
MOST_VERSIONS = 10

_STAMP = "%Y-%m-%dT%H-%M-%S.%fZ"
_STAMPED = re.compile(r"(\d{4}-\d\d-\d\d)T(\d\d)-(\d\d)-(\d\d\.\d{6})Z", re.ASCII)
_LAST_YEAR = 9998
"""Of a version: the next one needs a later time, and the calendar of this language ends with the year 9999."""


def list_versions(folder: Path, file: str) -> list[Path]:
    """Return the versions of a file that were kept, the oldest first. Raises Foreign, and OSError."""
    place = _place(folder, file)
    if not place.is_dir():
        return []
    return sorted(path for path in place.iterdir() if _time_of(path) is not None and is_plain_file(path))


def keep_version(folder: Path, file: str, content: bytes, like: Path, now: datetime) -> Path | None:
    """Keep the content that a file has before it is replaced, durably. Return where, or None if it was kept already.

    Raises OSError, and Foreign.
    """
    place = _place(folder, file)
    make_folder(place)
    sweep(place)
    kept = list_versions(folder, file)
    if kept and _holds(kept[-1], content):
        return None
    version = place / (_stamp(now, kept) + PurePosixPath(file).suffix)
    replace_file(version, content, like)
    return version


def drop_old_versions(folder: Path, file: str) -> None:
    """Remove the oldest versions of a file over the number that is kept, if that can be done."""
    for version in list_versions(folder, file)[:-MOST_VERSIONS]:
        discard(version)


def _place(folder: Path, file: str) -> Path:
    return own_path(folder, VERSIONS_FOLDER, *PurePosixPath(file).parts)


def _holds(version: Path, content: bytes) -> bool:
    try:
        return version.stat().st_size == len(content) and version.read_bytes() == content
    except OSError:
        return False


def _time_of(path: Path) -> datetime | None:
    """Return when a version was kept, by its name; None where that is no time."""
    stamp = _STAMPED.match(path.name)
    try:
        time = datetime.fromisoformat("{}T{}:{}:{}+00:00".format(*stamp.groups())) if stamp else None
    except ValueError:
        return None
    return None if time is None or time.year > _LAST_YEAR else time


def _stamp(now: datetime, kept: list[Path]) -> str:
    """Return the time for a name, a microsecond after the newest one where the clock is not beyond it."""
    newest = _time_of(kept[-1]) if kept else None
    moment = now.astimezone(UTC)
    return (moment if newest is None else max(moment, newest + timedelta(microseconds=1))).strftime(_STAMP)
