"""The page of memory through which a blackout is asked for: it needs no connection, and nothing can fill it.

The player maps a small file of the private directory, and so does whoever asks. A request is a number that was not
there before, written into the page; the player looks at it with each packet, and writes the number beside it once
the line is dark, and again once that is on the disk. The page also holds whether the line is dark, so that this
outlives a player that is killed. It is never mapped from a show folder: another program could cut the file there,
and the system ends whoever reads memory that is gone.
"""

from __future__ import annotations

import mmap
import os
import secrets
from enum import IntEnum
from pathlib import Path

from cuedeck.folder.durable import replace_without_waiting

SIZE_BYTES = 4096
MAGIC = 0x3130_6B63_616C_6243
"""That the file is such a page, of this layout."""


class Word(IntEnum):
    """Where in the page, in words of eight bytes."""

    MAGIC = 0
    IS_BLACK = 1
    """1 while the line is dark, else 0. Anything else counts as dark."""
    BLACKOUT_ASKED = 2
    BLACKOUT_TAKEN = 3
    """The request that the player has taken up."""
    RELEASE_ASKED = 4
    """0 where it was given up."""
    RELEASE_TAKEN = 5
    ON_DISK = 6
    """The request whose outcome is on the disk."""
    PACKETS = 7
    """How many packets had left when the last blackout was taken up; 0 where nothing is sent."""
    BLACKOUTS = 8
    """How often the line went dark so far."""


class BlackoutPage:
    """The page, mapped."""

    def __init__(self, path: Path) -> None:
        """Raises OSError where there is none, and ValueError where the file is no such page."""
        flags = os.O_RDWR | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
        descriptor = os.open(path, flags)
        try:
            if os.fstat(descriptor).st_size != SIZE_BYTES:
                raise ValueError(f"{path} is damaged")
            self._memory = mmap.mmap(descriptor, SIZE_BYTES)
        finally:
            os.close(descriptor)
        self.words = memoryview(self._memory).cast("Q")
        """Each is read and written as a whole."""
        if self.words[Word.MAGIC] != MAGIC:
            self.close()
            raise ValueError(f"{path} is damaged")

    @property
    def is_black(self) -> bool:
        """Whether the line is dark, or is to be: a request that nobody has taken up counts too."""
        words = self.words
        return words[Word.IS_BLACK] != 0 or words[Word.BLACKOUT_ASKED] != words[Word.BLACKOUT_TAKEN]

    def ask(self, word: Word) -> int:
        """Ask for a blackout or its release; return the number of the request."""
        number = secrets.randbits(63) | 1
        self.words[word] = number
        return number

    def settle(self, is_black: bool | None = None) -> bool:
        """Note, for whoever has the folder to himself, whether the line is dark, and return it: as it was left, or so.

        What was asked until now is over. A blackout that is asked for meanwhile is not.
        """
        words = self.words
        asked, released = words[Word.BLACKOUT_ASKED], words[Word.RELEASE_ASKED]
        was_left = words[Word.IS_BLACK] != 0 or asked != words[Word.BLACKOUT_TAKEN]
        words[Word.IS_BLACK] = was_left if is_black is None else is_black
        words[Word.BLACKOUT_TAKEN], words[Word.RELEASE_TAKEN] = asked, released
        return bool(words[Word.IS_BLACK])

    def close(self) -> None:
        """Let go of the page; safe to call twice."""
        self.words.release()
        self._memory.close()


def page_at(path: Path) -> BlackoutPage | None:
    """Return the page where there is one that is whole."""
    try:
        return BlackoutPage(path)
    except (OSError, ValueError):
        return None


def made_page(path: Path) -> tuple[BlackoutPage, bool]:
    """Return the page, which is made where it is missing, and whether the one before was damaged. Raises OSError.

    A damaged one is replaced, and the new one says that the line is dark.
    """
    is_damaged = False
    try:
        return BlackoutPage(path), False
    except FileNotFoundError:
        pass
    except ValueError:
        is_damaged = True
    content = bytearray(SIZE_BYTES)  # written, so that the file system has given room for all of it
    words = memoryview(content).cast("Q")
    words[Word.MAGIC], words[Word.IS_BLACK] = MAGIC, is_damaged
    replace_without_waiting(path, content)
    return BlackoutPage(path), is_damaged
