"""The last versions of each file of a show, in its hidden folder `.versions`.

The names sort in the order of the saves, also where the clock was set back in between.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path, PurePosixPath

from cuedeck.folder.durable import discard, make_folder, sweep, sync_folder, write_beside

VERSIONS_FOLDER = ".versions"
MOST_VERSIONS = 10

_STAMP = "%Y-%m-%dT%H-%M-%S.%fZ"
_STAMPED = re.compile(r"\d{4}-\d\d-\d\dT\d\d-\d\d-\d\d\.\d{6}Z")
_LENGTH = len("2026-11-25T14-03-07.123456Z")


def list_versions(folder: Path, file: str) -> list[Path]:
    """Return the versions of a file that were kept, the oldest first."""
    place = _place(folder, file)
    if not place.is_dir():
        return []
    return sorted(path for path in place.iterdir() if _STAMPED.fullmatch(path.name[:_LENGTH]))


def keep_version(folder: Path, file: str, content: bytes, like: Path, now: datetime) -> Path | None:
    """Keep the content that a file has before it is replaced, durably. Return where, or None if it was kept already.

    Raises OSError.
    """
    place = _place(folder, file)
    make_folder(place)
    sweep(place)
    kept = list_versions(folder, file)
    if kept and kept[-1].read_bytes() == content:
        return None
    version = place / (_stamp(now, kept) + PurePosixPath(file).suffix)
    temporary = write_beside(version, content, like)
    try:
        temporary.replace(version)
        sync_folder(place)
    except BaseException:
        discard(temporary)
        raise
    return version


def drop_old_versions(folder: Path, file: str) -> None:
    """Remove the oldest versions of a file over the number that is kept, if that can be done."""
    for version in list_versions(folder, file)[:-MOST_VERSIONS]:
        discard(version)


def _place(folder: Path, file: str) -> Path:
    return folder / VERSIONS_FOLDER / file


def _stamp(now: datetime, kept: list[Path]) -> str:
    """Return the time for a name, a microsecond after the newest one where the clock is not beyond it."""
    moment = now.astimezone(UTC)
    if kept:
        newest = datetime.strptime(kept[-1].name[:_LENGTH], _STAMP).replace(tzinfo=UTC)
        moment = max(moment, newest + timedelta(microseconds=1))
    return moment.strftime(_STAMP)
