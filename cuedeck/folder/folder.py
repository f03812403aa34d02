"""Reading a show from its folder, and saving to it, and nothing outside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from cuedeck.errors import Refusal
from cuedeck.folder.saving import save_files
from cuedeck.show import SHOW_FILE
from cuedeck.show.source import PathRefused
from cuedeck.show.spelling import as_one
from cuedeck.show.yamltext.changes import Change
from cuedeck.show.yamltext.edit import apply_changes
from cuedeck.timeline.opening import OpenedShow, open_show
from cuedeck.timing.move_table import MOST_MOVE_BYTES

Stamp = tuple[int, int] | None
"""When a file was changed, in nanoseconds, and how long it is; None where there is none."""


class NoShow(Refusal):
    """A path that leads to no show. The message says what to do."""


class ShowFolder:
    """A folder with a show in it. Raises NoShow where there is none."""

    def __init__(self, path: str | Path, unsaved: Mapping[str, bytes] | None = None) -> None:
        """What is unsaved is read in the place of the files of these names."""
        folder = Path(path)
        if folder.name == SHOW_FILE and folder.is_file():
            folder = folder.parent
        if not folder.is_dir():
            raise NoShow(f"there is no folder '{path}': give the folder that holds {SHOW_FILE}")
        if not (folder / SHOW_FILE).is_file():
            raise NoShow(f"there is no {SHOW_FILE} in '{path}': give the folder of a show, or write one (see README)")
        self.path = folder
        self._unsaved = unsaved or {}

    @property
    def name(self) -> str:
        """The name of the folder, which names the show on slates and screens."""
        return self.path.resolve().name

    def read(self, relative: str) -> bytes:
        """Return the bytes of a file in the folder. Raises OSError, or PathRefused for a path that leaves it."""
        if relative in self._unsaved:
            return self._unsaved[relative]
        inside = "write a path inside the show folder, such as moves/slide-in.csv"
        try:
            path = (self.path / self.name_on_disk(relative)).resolve()
            if not path.is_relative_to(self.path.resolve()):
                raise PathRefused("this path leads out of the show folder", inside)
            if path.exists() and not (path.is_file() or path.is_dir()):
                raise PathRefused("this is a pipe or a device, not a file", inside)  # reading it might never end
            if path.stat().st_size > MOST_MOVE_BYTES:
                raise PathRefused(
                    f"the file is larger than {MOST_MOVE_BYTES // 1_000_000} MB", "use a shorter recording"
                )
            return path.read_bytes()
        except (RuntimeError, ValueError) as error:
            # Before Python 3.13, a link that leads back to itself is a RuntimeError.
            raise PathRefused("this is no path of a file", inside) from error

    def name_on_disk(self, relative: str) -> str:
        """Return a name of the show as the disk has it, which may put accents together in another way."""
        if relative.isascii() or (self.path / relative).exists():
            return relative
        found: list[str] = []
        for step in relative.split("/"):
            try:
                names = [entry.name for entry in self.path.joinpath(*found).iterdir()]
                there = [name for name in names if as_one(name) == as_one(step)]
            except (OSError, ValueError):
                there = []
            found.append(there[0] if len(there) == 1 else step)
        return "/".join(found)

    def open(self) -> OpenedShow:
        """Read and check the show. Raises ProblemsFound, and NoShow where its file cannot be read."""
        try:
            return open_show(self.read)
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            raise NoShow(f"{self.path / SHOW_FILE} cannot be read: {reason}; look at who may read it") from error
        except PathRefused as refused:
            what = f"{self.path / SHOW_FILE} is not read: {refused.what}"
            raise NoShow(f"{what}; put the file itself into the folder, at most 1 MB of it") from refused

    def save(self, files: Mapping[str, bytes], expected: Mapping[str, bytes]) -> None:
        """Save files by their names in the folder, where they are still as expected. Raises SaveRefused."""
        on_disk = {name: self.name_on_disk(name) for name in {*files, *expected}}
        save_files(
            self.path,
            {on_disk[name]: new for name, new in files.items()},
            {on_disk[name]: old for name, old in expected.items()},
        )

    def change(self, opened: OpenedShow, changes: Sequence[Change]) -> list[str]:
        """Make changes in the files of an opened show where what they change stands, and save them.

        Returns the names of the files that were saved. Raises SaveRefused, and EditRefused where a file as it
        is written does not allow a change.
        """
        by_file: dict[str, list[Change]] = {}
        for change in changes:
            by_file.setdefault(opened.source.place_of_key(change.path).file, []).append(change)
        files = opened.source.files
        new = {name: apply_changes(name, files[name], own) for name, own in by_file.items()}
        self.save(new, files)
        return list(new)


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
        try:
            found = (self.path / self.name_on_disk(relative)).stat()
        except (OSError, ValueError):
            return None
        return found.st_mtime_ns, found.st_size

    @property
    def changed(self) -> list[str]:
        """The files that are not as they were when they were read."""
        return [one for one, was in self.stamps.items() if self.stamp(one) != was]
