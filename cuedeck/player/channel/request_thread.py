"""Where the slow requests of one client are carried out, one after the other, in a thread of its own.

A thread for each client, and none that anything waits for: a request that hangs keeps up neither the other
clients, nor a blackout of the same client, nor the end of the process.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable

MOST_SLOW = 16
"""Slow requests of one client that may wait."""


class RequestThread:
    """Runs what it is given in order. Its thread begins with the first."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._jobs: queue.Queue[Callable[[], None]] = queue.Queue(MOST_SLOW)
        self._thread: threading.Thread | None = None
        self._is_closed = False

    def put(self, job: Callable[[], None]) -> bool:
        """Have something done, and return whether there was room for it. It must not raise."""
        try:
            self._jobs.put_nowait(job)
        except queue.Full:
            return False
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name=self._name, daemon=True)
            self._thread.start()
        return True

    def close(self) -> None:
        """Finish what is being done, and do nothing that still waits. Does not wait; safe to call twice."""
        self._is_closed = True
        if self._thread is not None:
            self.put(lambda: None)  # wakes the thread; where there is no room, it is awake

    def _run(self) -> None:
        while True:
            job = self._jobs.get()
            if self._is_closed:
                return
            job()
