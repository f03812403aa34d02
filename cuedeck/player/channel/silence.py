"""When a player is said not to answer, and what is to be known then.

A player that is well says something every BEAT_S at the latest. Its client counts how long nothing came, and counts
only time in which it was awake itself: a client that was stopped, or kept waiting by a busy machine, accuses nobody.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass

BEAT_S = 0.1
"""A player that has nothing new says so after so long."""
BEAT = b"\n"
"""What it says then: a line without a message."""
SILENT_S = 0.3
"""Nothing for so long, and the player does not answer: more than two beats are missing."""
STOOD_STILL_S = 0.5
"""A player that missed its own beat by so much stood still, and does nothing of what was asked before."""
GIVEN_UP_S = 0.7
"""When a client gives up what it asked: a player that was silent for so long knows that it stood still."""


@dataclass(frozen=True)
class Silence:
    """The player does not answer, or answers again."""

    lasted_s: float
    """How long so far, or in all."""
    is_over: bool = False

    def __str__(self) -> str:
        if self.is_over:
            return f"the player answers again, after {self.lasted_s:.1f} s in which it sent nothing"
        return "the player does not answer" + (f" for {self.lasted_s:.0f} s" if self.lasted_s >= 1 else "")


class Pulse:
    """The beat of a player, by which it knows whether it stood still."""

    def __init__(self) -> None:
        self._beat_ms = self._stood_still_ms = now_ms()

    def beat(self) -> None:
        """Note that the player is well."""
        beat_ms = now_ms()
        if beat_ms - self._beat_ms > STOOD_STILL_S * 1000:
            self._stood_still_ms = beat_ms  # before the beat: whoever looks in between finds one or the other
        self._beat_ms = beat_ms

    def has_missed_since(self, asked_ms: int | None) -> bool:
        """Whether the player stood still since something was asked, be it that it has just come to itself."""
        is_late = now_ms() - self._beat_ms > STOOD_STILL_S * 1000
        return asked_ms is not None and (is_late or self._stood_still_ms >= asked_ms)


def now_ms() -> int:
    """Return the time by the clock that all programs of a computer share."""
    return time.monotonic_ns() // 1_000_000


def silent_text(pid: int, outputs: Iterable[str] = (), instead: str = "then 'cuedeck player SHOW resume'") -> str:
    """Return that a player does not answer, what becomes of the light of these outputs meanwhile, and what to do.

    ANSI E1.11 lets a receiver wait 1.25 s for the next packet, ANSI E1.31 2.5 s; what it does then is its own affair.
    """
    kinds = {name.partition(":")[0] for name in outputs} - {"simulator"}
    waits = ["1.25 s over DMX"] if kinds - {"sacn"} else []
    waits += ["2.5 s over sACN"] if "sacn" in kinds else []
    lamps = ": lamps hold their last look or go dark by themselves after some " if waits else ""
    return (
        f"the player (process {pid}) does not answer and sends nothing{lamps}{' or '.join(waits)};"
        f" cut the power by hand if lamps must go dark now, else wait, or kill -9 {pid}, {instead}"
    )
