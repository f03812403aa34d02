"""What waits to be heard by one listener, who may be slow.

The invariant owned here: one snapshot waits at most, the newest, in the place of the first that waited; so
whoever has heard an answer has also heard how things stood when it was given. Everything else keeps its
order, and there is a bound to it. Knows no threads: who shares one guards it.
"""

from __future__ import annotations

from collections import deque
from typing import Generic, TypeVar

from cuedeck.player.channel.messages import AnySay, Snapshot
from cuedeck.player.channel.silence import Silence

T = TypeVar("T", bound=AnySay | Silence)


class Waiting(Generic[T]):
    """Says in the order in which they are to be heard."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._says: deque[T | None] = deque()
        self._newest: T | None = None

    def __len__(self) -> int:
        return len(self._says)

    def put(self, say: T) -> bool:
        """Add one, and return whether there was room for it. There always is for a snapshot."""
        if isinstance(say, Snapshot):
            if self._newest is None:
                self._says.append(None)
            self._newest = say
            return True
        if len(self._says) >= self._most:
            return False
        self._says.append(say)
        return True

    def take(self) -> T | None:
        """Return what is to be heard next, or None where nothing waits."""
        if not self._says:
            return None
        say = self._says.popleft()
        if say is None:
            say, self._newest = self._newest, None
        return say
