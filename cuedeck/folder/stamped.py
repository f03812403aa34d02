"""A show folder that remembers how its files were when they were read, so that a change of them is noticed."""

from __future__ import annotations

from pathlib import Path

from cuedeck.folder.folder import ShowFolder

Stamp = tuple[int, int] | None
"""When a file was changed, in nanoseconds, and how long it is; None where there is none."""


class StampedFolder(ShowFolder):
    """A show folder that remembers which files were read, and how they were then."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.stamps: dict[str, Stamp] = {}

    def read(self, relative: str) -> bytes:
        """Return the bytes of a file, and remember its stamp from before it was read."""
        self.stamps[relative] = self.stamp(relative)
        return super().read(relative)

    def stamp(self, relative: str) -> Stamp:
        """Return the stamp that a file has now."""
        try:
            found = (self.path / self.name_on_disk(relative)).stat()
        except (OSError, ValueError):
            return None
        return found.st_mtime_ns, found.st_size

    @property
    def changed(self) -> list[str]:
        """The files that are not as they were when they were read."""
        return [one for one, was in self.stamps.items() if self.stamp(one) != was]
