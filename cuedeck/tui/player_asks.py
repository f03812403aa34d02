"""What keys ask of the player, and when each can be asked."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from cuedeck.player.channel.events import Snapshot
from cuedeck.player.channel.requests import AnyRequest, Control, Fire, Hold, Release, Stop
from cuedeck.player.states import PlayerState

REQUESTS: Mapping[str, Callable[[Snapshot], AnyRequest]] = {
    "fire": lambda _: Fire(),
    "hold": lambda snapshot: Hold(is_held=not snapshot.is_held),
    "stop_take": lambda _: Stop(),
    "release": lambda _: Release(),
    "control": lambda _: Control(),
}
"""By the action of the key."""


def can_ask(action: str, snapshot: Snapshot) -> bool:
    """Whether something can be asked of a player that stands so."""
    is_running = bool(snapshot.shot)
    match action:
        case "fire":
            return snapshot.state == PlayerState.ROLLING and bool(snapshot.next_cue)
        case "hold":
            return is_running and (snapshot.state == PlayerState.ROLLING or snapshot.is_held)
        case "stop_take":
            return is_running
        case "release":
            return snapshot.is_blacked_out or snapshot.is_held or not (is_running or snapshot.state == PlayerState.IDLE)
        case "control":
            return not snapshot.has_control
    return False
