"""What the player is doing: six states, and what leads from one to another.

The table is all there is: what is not in it cannot happen in that state. A blackout is no state: it lies over
whatever the player does.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from cuedeck.errors import Refusal


class PlayerState(StrEnum):
    """What the player is doing."""

    IDLE = "idle"
    """Nothing is sent."""
    STANDING_BY = "standing by"
    """The first packet of a shot stands on the line and waits for its start."""
    COUNTING = "counting"
    """The first packet of a shot stands on the line while the seconds are counted."""
    ROLLING = "rolling"
    """The packets of a shot leave one after another."""
    HOLDING = "holding"
    """One look stands on the line: of a shot that is held or over, or one that was shown."""
    FAULTED = "faulted"
    """Something broke; where there is a line, what it had last stands on it."""


class Transition(StrEnum):
    """What may happen to the player."""

    STOOD_BY = "a shot was put on the line"
    COUNTED = "the count has begun"
    STARTED = "the shot has started"
    HELD = "the shot is held"
    WENT_ON = "the held shot goes on"
    ENDED = "the shot is over, or was cut"
    SHOWN = "a look was put on the line"
    LET_GO = "the line was let go of"
    BROKE = "something broke"


# A fault never ends the light: from FAULTED a look or a take can begin as from HOLDING. What is missing on purpose:
# a shot that stands by, counts or rolls is stopped before anything else is shown; and only what rolls can be held.
_S, _H = PlayerState, Transition
TRANSITIONS: Mapping[tuple[PlayerState, Transition], PlayerState] = {
    (_S.IDLE, _H.STOOD_BY): _S.STANDING_BY,
    (_S.IDLE, _H.SHOWN): _S.HOLDING,
    (_S.IDLE, _H.LET_GO): _S.IDLE,
    (_S.IDLE, _H.BROKE): _S.FAULTED,
    (_S.STANDING_BY, _H.COUNTED): _S.COUNTING,
    (_S.STANDING_BY, _H.STARTED): _S.ROLLING,
    (_S.STANDING_BY, _H.ENDED): _S.HOLDING,
    (_S.STANDING_BY, _H.BROKE): _S.FAULTED,
    (_S.COUNTING, _H.STARTED): _S.ROLLING,
    (_S.COUNTING, _H.ENDED): _S.HOLDING,
    (_S.COUNTING, _H.BROKE): _S.FAULTED,
    (_S.ROLLING, _H.HELD): _S.HOLDING,
    (_S.ROLLING, _H.ENDED): _S.HOLDING,
    (_S.ROLLING, _H.BROKE): _S.FAULTED,
    (_S.HOLDING, _H.STOOD_BY): _S.STANDING_BY,
    (_S.HOLDING, _H.WENT_ON): _S.ROLLING,
    (_S.HOLDING, _H.ENDED): _S.HOLDING,
    (_S.HOLDING, _H.SHOWN): _S.HOLDING,
    (_S.HOLDING, _H.LET_GO): _S.IDLE,
    (_S.HOLDING, _H.BROKE): _S.FAULTED,
    (_S.FAULTED, _H.STOOD_BY): _S.STANDING_BY,
    (_S.FAULTED, _H.SHOWN): _S.HOLDING,
    (_S.FAULTED, _H.LET_GO): _S.IDLE,
    (_S.FAULTED, _H.BROKE): _S.FAULTED,
}


class NotNow(Refusal):
    """Something that cannot happen in the state that the player is in."""


class Machine:
    """The state of one player. Only the thread that sends packets moves it; any may read it."""

    def __init__(self, state: PlayerState = PlayerState.IDLE) -> None:
        self.state = state

    def happened(self, what: Transition) -> None:
        """Go on to the next state. Raises NotNow where the table has none."""
        # No lock: one thread moves it, and whoever reads it sees the state before or the one after.
        after = TRANSITIONS.get((self.state, what))
        if after is None:
            raise NotNow(f"not while the player is {self.state}: {what}")
        self.state = after
