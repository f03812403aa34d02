"""What waits to be heard by one listener, who may be slow.

The invariant owned here: one snapshot waits at most, the newest, in the place of the first that waited; so
whoever has heard an answer has also heard how things stood when it was given. Everything else keeps its
order, and there is a bound to it. Knows no threads: who shares one guards it.
"""

from __future__ import annotations

from collections import deque
from typing import Generic, TypeVar

from cuedeck.player.channel.events import AnyEvent, Snapshot
from cuedeck.player.channel.silence import Silence

T = TypeVar("T", bound=AnyEvent | Silence)


class Outbox(Generic[T]):
    """Events in the order in which they are to be heard."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._events: deque[T | None] = deque()
        self._newest: T | None = None

    def __len__(self) -> int:
        return len(self._events)

    def put(self, event: T) -> bool:
        """Add one, and return whether there was room for it. There always is for a snapshot."""
        if isinstance(event, Snapshot):
            if self._newest is None:
                self._events.append(None)
            self._newest = event
            return True
        if len(self._events) >= self._most:
            return False
        self._events.append(event)
        return True

    def take(self) -> T | None:
        """Return what is to be heard next, or None where nothing waits."""
        if not self._events:
            return None
        event = self._events.popleft()
        if event is None:
            event, self._newest = self._newest, None
        return event
