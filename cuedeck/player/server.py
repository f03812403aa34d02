"""The player's side of the channel: clients come, ask, are told, and go."""

from __future__ import annotations

from typing import Protocol

from cuedeck.errors import Refusal
from cuedeck.player.messages import AnyRequest, AnySay
from cuedeck.player.whereabouts import Whereabouts


class ChannelFailed(Refusal):
    """The channel could not be opened."""


class Handler(Protocol):
    """What stands behind the channel. All but slow requests are handed over in the thread "control"."""

    def came(self, client: int) -> None:
        """A client is there, and was welcomed. Its first snapshot is the last one published."""

    def left(self, client: int, on_purpose: bool) -> None:
        """A client is gone: it said `leave`, or was lost. Not called for those that are there at `close`."""

    def answer(self, client: int, request: AnyRequest) -> None:
        """Carry out a request; `leave` never comes here.

        Quick requests come in the thread "control" and must not wait; slow ones come in a thread of their
        client's, one after the other. Raises Refusal, whose words the client gets.
        """


class ControlServer:
    """Serves the clients of one player, in a thread of its own. Safe to close twice."""

    def __init__(self, where: Whereabouts, handler: Handler) -> None:
        self._where = where
        self._handler = handler

    def start(self) -> None:
        """Open the channel and announce it. Raises ChannelFailed."""

    def publish(self, say: AnySay, to: int | None = None) -> None:
        """Say something to all clients, or to one. Never waits, never raises; from any thread."""

    def close(self) -> None:
        """Say what is still to be said, for a second at most, then end the connections and withdraw."""
