"""When a player is said not to answer, and what is to be known then.

A player that is well says something every BEAT_S at the latest. Its client counts how long nothing came, and counts
only time in which it was awake itself: a client that was stopped, or kept waiting by a busy machine, accuses nobody.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

BEAT_S = 0.15
"""A player that has nothing new says the last again after so long."""
SILENT_S = 0.4
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


def light_text(outputs: Iterable[str]) -> str:
    """Return what becomes of the light while no packets leave for these outputs.

    ANSI E1.11 lets a receiver wait 1.25 s for the next packet, ANSI E1.31 2.5 s; what it does then is its own affair.
    """
    kinds = {name.partition(":")[0] for name in outputs} - {"simulator"}
    waits = ["1.25 s over DMX"] if kinds - {"sacn"} else []
    waits += ["2.5 s over sacn"] if "sacn" in kinds else []
    if not waits:
        return "it sends nothing"
    return f"it sends nothing: lamps hold their last look, or go dark by themselves after some {', '.join(waits)}"


def silent_text(pid: int, light: str = "") -> str:
    """Return that a player does not answer, what that means for the light, and what to do."""
    return (
        f"the player (process {pid}) is there and does not answer{f', and {light}' if light else ''}; {cure_text(pid)}"
    )


def cure_text(pid: int) -> str:
    """Return what can be done about a player that does not answer."""
    return (
        "wait, it may go on by itself; must lamps go dark now, cut their power by hand;"
        f" to replace it: kill -9 {pid}, then 'cuedeck player SHOW resume'"
    )
