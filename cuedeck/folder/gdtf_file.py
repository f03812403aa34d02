"""GDTF files (zip archives, DIN SPEC 15800) on disk.

Owns the promise that a hostile archive costs little: nothing of it is ever written to disk, only its
description is unpacked, reading stops at the limits whatever the archive says of itself, and no single
read takes more than a megabyte.
"""

from __future__ import annotations

import io
import os
import stat
import zipfile
from collections import Counter
from pathlib import Path
from typing import NoReturn

from cuedeck.rig.gdtf.fixture_types import GdtfRefused
from cuedeck.rig.gdtf.xml import DESCRIPTION_FILE, MOST_DESCRIPTION_BYTES, too_large
from cuedeck.show.units import shorten

MOST_FILE_BYTES = 100_000_000
MOST_ENTRIES = 2_000
MOST_UNPACKED_BYTES = 1_000_000_000
MOST_READ_BYTES = 1_000_000
_CHUNK_BYTES = 65_536
_ENCRYPTED = 0x1
_PACKINGS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


class _NarrowReader(io.FileIO):
    """A file that refuses to be read in large pieces, as a directory of millions of entries would ask for."""

    def read(self, size: int | None = -1, /) -> bytes:
        wanted = os.fstat(self.fileno()).st_size - self.tell() if size is None or size < 0 else size
        if wanted > MOST_READ_BYTES:
            raise zipfile.BadZipFile("its directory is far too large")
        return super().read(wanted) or b""


def read_archive(path: Path) -> bytes:
    """Return the bytes of the description in a GDTF file.

    Raises GdtfRefused for a file that cannot be read, is no sound archive or breaks a limit, and
    ProblemsFound for a description over its limit.
    """
    try:
        size = path.stat().st_size
        if not path.is_file():
            _refuse(path, "this is no file", "give the path of a .gdtf file")
        if size > MOST_FILE_BYTES:
            _refuse(
                path, f"the file is larger than {MOST_FILE_BYTES // 1_000_000} MB", "ask the maker for a smaller one"
            )
        with _NarrowReader(path) as file, zipfile.ZipFile(file) as archive:
            return _description(path, archive)
    except GdtfRefused:
        raise
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise GdtfRefused(f"{_shown(path)} cannot be read: {reason}; look at its name and who may read it") from error
    except zipfile.BadZipFile as error:
        cure = "give a GDTF file, or fetch it again where it was cut short"
        raise GdtfRefused(f"{_shown(path)}: this is no sound zip archive ({_reason(error)}); {cure}") from error
    except Exception as error:
        if type(error).__module__.startswith("cuedeck."):
            raise
        # zipfile and zlib raise many kinds of errors on damaged archives: RuntimeError, EOFError, zlib.error, ...
        raise GdtfRefused(f"{_shown(path)}: the archive is damaged ({_reason(error)}); fetch it again") from error


def _description(path: Path, archive: zipfile.ZipFile) -> bytes:
    entries = archive.infolist()
    if len(entries) > MOST_ENTRIES:
        _refuse(path, f"the archive has more than {MOST_ENTRIES:,} entries", "ask the maker for a smaller one")
    for entry in entries:
        _check_entry(path, entry)
    for name, count in Counter(entry.filename for entry in entries).items():
        if count > 1:
            _refuse(path, f"the archive has two entries '{shorten(name)}'", "ask the maker which is meant")
    if sum(entry.file_size for entry in entries) > MOST_UNPACKED_BYTES:
        what = f"the archive would unpack to more than {MOST_UNPACKED_BYTES // 1_000_000:,} MB"
        _refuse(path, what, "ask the maker for a smaller one")
    if DESCRIPTION_FILE not in archive.namelist():
        _refuse(path, f"the archive has no {DESCRIPTION_FILE} at its root", "give a GDTF file")
    return _unpacked(path, archive)


def _check_entry(path: Path, entry: zipfile.ZipInfo) -> None:
    shown = f"the entry '{shorten(entry.filename)}'"
    mend = "ask the maker for a sound file"
    name = entry.orig_filename.replace("\\", "/")
    if name.startswith("/") or ":" in name.partition("/")[0] or ".." in name.split("/") or "\0" in name:
        _refuse(path, f"{shown} has a path that leads out of the archive", mend)
    if stat.S_ISLNK(entry.external_attr >> 16):
        _refuse(path, f"{shown} is a link", mend)
    if entry.flag_bits & _ENCRYPTED:
        _refuse(path, f"{shown} is encrypted", "ask the maker for a file without a password")


def _unpacked(path: Path, archive: zipfile.ZipFile) -> bytes:
    """Return the description, unpacked up to its limit, whatever size the archive claims."""
    if archive.getinfo(DESCRIPTION_FILE).compress_type not in _PACKINGS:
        _refuse(path, f"{DESCRIPTION_FILE} is packed in an unusual way", "pack it again, stored or deflated")
    parts: list[bytes] = []
    total = 0
    with archive.open(DESCRIPTION_FILE) as stream:
        while part := stream.read(_CHUNK_BYTES):
            total += len(part)
            if total > MOST_DESCRIPTION_BYTES:
                raise too_large(str(path))
            parts.append(part)
    return b"".join(parts)


def _refuse(path: Path, what: str, cure: str) -> NoReturn:
    raise GdtfRefused(f"{_shown(path)}: {what}; {cure}")


def _shown(path: Path) -> str:
    return shorten(str(path), 200)


def _reason(error: Exception) -> str:
    return shorten(str(error) or type(error).__name__, 100)
