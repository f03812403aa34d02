"""A take that writes down what is asked of it from the floor."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field


@dataclass
class Asked:
    """What a way in sees of a take."""

    is_started: bool = False
    is_rolling: bool = True
    asked: list[str] = field(default_factory=list)
    has_been_asked: threading.Event = field(default_factory=threading.Event)

    def start(self) -> None:
        """Start."""
        self.is_started = True
        self._note("start")

    def hold(self, is_held: bool | None = None) -> None:
        """Hold."""
        self._note("hold" if is_held is None else f"hold {is_held}")

    def fire_next(self) -> None:
        """Fire the next cue."""
        self._note("next cue")

    def fire(self, cue: str) -> None:
        """Fire a cue."""
        self._note(f"cue {cue}")

    def _note(self, what: str) -> None:
        self.asked.append(what)
        self.has_been_asked.set()
