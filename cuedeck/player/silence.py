"""When a player is said not to answer, and what is to be known then.

A player that is well says something every BEAT_S at the latest. Its client counts how long nothing came, and counts
only time in which it was awake itself: a client that was stopped, or kept waiting by a busy machine, accuses nobody.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

BEAT_S = 0.1
"""A player that has nothing new says the last again after so long."""
SILENT_S = 0.3
"""Nothing for so long, and the player does not answer: more than two beats are missing."""
TAKEN_UP_S = 0.6
"""A request that the player has not taken up by then is never carried out."""
GIVEN_UP_S = 0.7
"""When a client gives up a request to a player that is silent: it is sure by then that nothing is done later."""


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
