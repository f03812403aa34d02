"""A cpio archive in the format "newc", as the kernel's documentation (initramfs buffer format) gives it."""

from __future__ import annotations

import stat
from pathlib import Path, PurePosixPath

_MAGIC = "070701"
_ALIGNED = 4


class Archive:
    """Files for the memory of a machine that starts, each under an absolute path, in the order they were added."""

    def __init__(self) -> None:
        self._content = bytearray()
        self._paths = {PurePosixPath("/")}

    def add(self, path: str | Path, content: bytes, *, mode: int = 0o755, modified_s: int = 0) -> None:
        """Add a file and the folders it lies in; a path that is there already stays as it is."""
        place = PurePosixPath(path)
        if place not in self._paths:
            self.add_folder(place.parent)
            self._entry(place, stat.S_IFREG | mode, content, modified_s)

    def add_folder(self, path: str | PurePosixPath) -> None:
        """Add a folder and those it lies in."""
        place = PurePosixPath(path)
        if place not in self._paths:
            self.add_folder(place.parent)
            self._entry(place, stat.S_IFDIR | 0o755)

    def add_copy(self, path: str | Path) -> None:
        """Add a file of this machine under the same path, also where that leads over links."""
        here = Path(path)
        self.add(here, here.read_bytes(), modified_s=int(here.stat().st_mtime))

    def to_bytes(self) -> bytes:
        """Return the whole archive."""
        ended = Archive()
        ended._content = self._content.copy()
        ended._entry(PurePosixPath("/TRAILER!!!"), 0)
        return bytes(ended._content)

    def _entry(self, path: PurePosixPath, mode: int, content: bytes = b"", modified_s: int = 0) -> None:
        name = str(path).lstrip("/").encode() + b"\0"
        number, owner, group, links = len(self._paths), 0, 0, 1
        fields = (number, mode, owner, group, links, modified_s, len(content), 0, 0, 0, 0, len(name), 0)
        self._append(_MAGIC.encode() + b"".join(b"%08x" % field for field in fields) + name)
        self._append(content)
        self._paths.add(path)

    def _append(self, content: bytes) -> None:
        self._content += content
        self._content += bytes(-len(self._content) % _ALIGNED)
