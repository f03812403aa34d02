"""Who wrote a file where, so that one that came with a copied folder is told from one's own."""

from __future__ import annotations

import getpass
import platform
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

from cuedeck.visible import visible_line

LONGEST = 200


@dataclass(frozen=True)
class Origin:
    """Who wrote something, on which computer, in which folder, and when that began."""

    user: str
    computer: str
    folder: str
    inode: int
    """The number that the disk gives to the folder: it stays where the folder is moved or renamed."""
    began_utc: str

    @classmethod
    def here(cls, folder: Path) -> Self:
        """Return that of whoever works in a folder now. Raises OSError."""
        resolved = folder.resolve()
        began = datetime.now(UTC).isoformat(timespec="seconds")
        user, computer, where = map(visible_line, (_user(), platform.node(), str(resolved)))
        return cls(user, computer, where, resolved.stat().st_ino, began)

    @classmethod
    def of_plain(cls, data: Any) -> Self | None:
        """Return what plain data stands for, or None where that is none."""
        kinds = {"user": str, "computer": str, "folder": str, "inode": int, "began_utc": str}
        if not isinstance(data, dict) or not all(type(data.get(name)) is kind for name, kind in kinds.items()):
            return None
        return cls(**{name: data[name] for name in kinds})

    def is_that_of(self, other: Origin) -> bool:
        """Whether the same user wrote both in the same folder.

        A folder is the same where two of three are: a computer may get another name, a folder too, and one that
        is put back from a backup gets another number.
        """
        same = (self.computer == other.computer, self.folder == other.folder, self.inode == other.inode)
        return self.user == other.user and sum(same) >= 2

    def words(self, now: datetime) -> str:
        """Return it in words: by whom, where, and how long ago."""
        place = visible_line(f"by {self.user} on {self.computer} in {self.folder}"[:LONGEST])
        return f"{place}, {_age(self.began_utc, now)}"


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return "?"  # a user without a name


def _age(began_utc: str, now: datetime) -> str:
    try:
        seconds = (now - datetime.fromisoformat(began_utc)).total_seconds()
    except (ValueError, TypeError, OverflowError):
        return "at a time that it does not say"
    if seconds < 0:
        return "at a time that has not come yet"
    for name, length_s in (("day", 86_400), ("hour", 3_600), ("minute", 60)):
        if seconds >= length_s:
            count = int(seconds // length_s)
            return f"{count} {name}{'' if count == 1 else 's'} ago"
    return "just now"
