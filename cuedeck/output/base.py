"""What every way out has in common."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from cuedeck.errors import Refusal

START_CODE_LEVELS = 0
"""ANSI E1.11: the NULL start code, untyped level data."""


@dataclass(frozen=True)
class Line:
    """What a take sends: the same for every packet of it."""

    universes: tuple[int, ...]
    slots_sent: int
    refresh_hz: float


@dataclass(frozen=True, eq=False)
class Packet:
    """The slots of every universe for one instant of a take, start code 0."""

    number: int
    """Counted from the start of the take."""
    due_ns: int
    """When it is to leave, on the clock of the take."""
    slots: npt.NDArray[np.uint8]
    """Shape (universes, 512)."""


class OutputLost(Refusal):
    """An output that cannot send any more. The message says which and why."""


class Output(Protocol):
    """A way out for packets."""

    @property
    def name(self) -> str:
        """What the user calls it."""

    def open(self, line: Line) -> None:
        """Get ready to send. Raises OutputLost."""

    def send(self, packet: Packet) -> None:
        """Send one packet now. Raises OutputLost."""

    def close(self) -> None:
        """Let go of it; safe to call twice."""
