"""The states of the player: every pair of a state and a happening, each with what is expected of it."""

from __future__ import annotations

from itertools import product

import pytest

from cuedeck.player.states import TRANSITIONS, Machine, NotNow, PlayerState, Transition

ALLOWED = {
    PlayerState.IDLE: {"STOOD_BY": "STANDING_BY", "SHOWN": "HOLDING", "LET_GO": "IDLE", "BROKE": "FAULTED"},
    PlayerState.STANDING_BY: {"COUNTED": "COUNTING", "STARTED": "ROLLING", "ENDED": "HOLDING", "BROKE": "FAULTED"},
    PlayerState.COUNTING: {"STARTED": "ROLLING", "ENDED": "HOLDING", "BROKE": "FAULTED"},
    PlayerState.ROLLING: {"HELD": "HOLDING", "ENDED": "HOLDING", "BROKE": "FAULTED"},
    PlayerState.HOLDING: {
        "STOOD_BY": "STANDING_BY",
        "WENT_ON": "ROLLING",
        "ENDED": "HOLDING",
        "SHOWN": "HOLDING",
        "LET_GO": "IDLE",
        "BROKE": "FAULTED",
    },
    PlayerState.FAULTED: {"STOOD_BY": "STANDING_BY", "SHOWN": "HOLDING", "LET_GO": "IDLE", "BROKE": "FAULTED"},
}
"""Written out a second time, as somebody would ask for it: what may happen in each state."""


@pytest.mark.parametrize(("state", "what"), product(PlayerState, Transition), ids=lambda one: one.name.lower())
def test_each_happening_leads_where_it_should_or_nowhere(state: PlayerState, what: Transition) -> None:
    machine = Machine(state)
    after = ALLOWED[state].get(what.name)
    if after is None:
        with pytest.raises(NotNow, match=f"not while the player is {state}"):
            machine.happened(what)
        assert machine.state is state, "what cannot happen changes nothing"
    else:
        machine.happened(what)
        assert machine.state is PlayerState[after]


def test_every_state_can_be_reached_and_left() -> None:
    reached, found = {PlayerState.IDLE}, True
    while found:
        before = len(reached)
        reached |= {after for (state, _), after in TRANSITIONS.items() if state in reached}
        found = len(reached) > before
    assert reached == set(PlayerState)
    for state in PlayerState:
        assert {after for (before_, _), after in TRANSITIONS.items() if before_ is state} - {state}


def test_whatever_breaks_the_player_can_be_told_so() -> None:
    assert all(TRANSITIONS[state, Transition.BROKE] is PlayerState.FAULTED for state in PlayerState)
