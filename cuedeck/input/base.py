"""What every way in has in common: what it may ask of a take, and how it says that it is lost."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Protocol

from cuedeck.errors import Refusal

RETRY_NS = 1_000_000_000
"""How long to leave a lost port alone before it is tried again."""


class InputLost(Refusal):
    """A way in that cannot be opened. The message says which and why."""


def started(thread: threading.Thread, close: Callable[[], None]) -> threading.Thread:
    """Start the thread of a way in that is open, and return it. Raises InputLost, and then the way in is closed."""
    try:
        thread.start()
    except RuntimeError as error:
        close()
        why = "the system lets no more threads begin: end other programs"
        raise InputLost(f"{thread.name} cannot be listened to: {why}") from error
    return thread


class RunningTake(Protocol):
    """What a way in may ask of a take, from its own thread."""

    @property
    def is_started(self) -> bool:
        """Whether the take was asked to start."""

    @property
    def is_rolling(self) -> bool:
        """Whether packets of the shot are leaving."""

    def start(self) -> None:
        """Start a take that waits for it."""

    def hold(self, is_held: bool | None = None) -> None:
        """Hold the shot where it is, or let it go on; without a word, the other of the two."""

    def fire_next(self) -> None:
        """Fire the next operator cue with the next packet."""

    def fire(self, cue: str) -> None:
        """Fire a cue by name with the next packet."""
