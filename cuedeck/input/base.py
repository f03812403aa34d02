"""What the inputs of a take have in common: what they may ask of it, and a thread of their own."""

from __future__ import annotations

import threading
from abc import ABC, abstractmethod
from typing import ClassVar, Protocol, Self

from cuedeck.errors import Refusal
from cuedeck.ports import NO_MORE_THREADS


class InputUnusable(Refusal):
    """An input that cannot be opened or read. The message says which and why."""


class RunningTake(Protocol):
    """What an input may ask of a take, from its own thread."""

    @property
    def is_started(self) -> bool:
        """Whether the take was asked to start."""

    @property
    def is_rolling(self) -> bool:
        """Whether packets of the shot are leaving."""

    def start(self) -> None:
        """Start a take that waits for it."""

    def hold(self, is_held: bool | None = None) -> None:
        """Hold the shot where it is, or let it go on; None changes from one to the other."""

    def fire_next(self) -> None:
        """Fire the next operator cue with the next packet."""

    def fire(self, cue: str) -> None:
        """Fire a cue by name with the next packet."""


class ThreadedInput(ABC):
    """An input that is read in a thread of its own. Used with `with`."""

    thread_name: ClassVar[str]

    def __init__(self) -> None:
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def __enter__(self) -> Self:
        """Open the input and start its thread. Raises InputUnusable."""
        self.open()
        thread = threading.Thread(target=self._listen, name=self.thread_name, daemon=True)
        try:
            thread.start()
        except RuntimeError as error:
            self.close()
            why = NO_MORE_THREADS
            raise InputUnusable(f"{self.thread_name} cannot be listened to: {why}") from error
        self._thread = thread
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @abstractmethod
    def open(self) -> None:
        """Open the input. Raises InputUnusable."""

    def close(self) -> None:
        """Stop the thread and close the input; safe to call twice."""
        self._stop.set()
        thread, self._thread = self._thread, None
        # The thread is joined first: a port that is closed while another thread reads it may crash in its driver.
        if thread is not None:
            thread.join()
        self._release()

    @abstractmethod
    def _listen(self) -> None:
        """Read until `_stop` is set; look at it several times a second, as `close` waits for that."""

    @abstractmethod
    def _release(self) -> None:
        """Close what `open` has opened; safe to call twice."""
