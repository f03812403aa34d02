"""A client's side of the channel: it finds the player, asks, and hears what it says."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from cuedeck.errors import Refusal
from cuedeck.player.messages import AnyRequest, AnySay, Snapshot


class PlayerLost(Refusal):
    """The player ended, or cannot be reached any more."""


class PlayerSilent(PlayerLost):
    """The player is there and does not answer."""


class PlayerRefused(Refusal):
    """The player does not do what was asked."""


class PlayerClient:
    """A connection to the player. Its methods may be called from any thread but that of the callbacks."""

    pid: int
    """The process of the player."""
    number: int
    """The number of this client, as in `controller` of a snapshot."""

    @property
    def snapshot(self) -> Snapshot | None:
        """The latest that came, or None where none came yet."""
        return None

    @property
    def lost(self) -> PlayerLost | None:
        """Why the connection ended, or None while it stands."""
        return None

    def ask(self, request: AnyRequest, timeout_s: float = 30) -> None:
        """Ask for something and wait until it is done. Raises PlayerRefused and PlayerLost."""
        raise NotImplementedError

    def next(self, timeout_s: float) -> AnySay | None:
        """Return what the player said next (a snapshot, `told`, `ended`), or None after the timeout.

        Of several snapshots only the newest waits. What was said before the end of the connection is still
        handed out; then PlayerLost is raised. Nothing waits here where `on_say` was given.
        """
        raise NotImplementedError

    def close(self, *, leave: bool = True) -> None:
        """End the connection, with a farewell or without; safe to call twice."""


OnSay = Callable[[AnySay], None]
OnLost = Callable[[PlayerLost], None]


def find_player(folder: Path, *, on_say: OnSay | None = None, on_lost: OnLost | None = None) -> PlayerClient | None:
    """Return a connection to the player of a folder, or None where none runs. Raises PlayerRefused, PlayerSilent.

    The callbacks are called in the reader's thread, the first ones before this returns.
    """
    raise NotImplementedError


def start_player(
    folder: Path,
    *,
    resume: bool = False,
    timeout_s: float = 10,
    on_say: OnSay | None = None,
    on_lost: OnLost | None = None,
    module: str = "cuedeck.player",
) -> PlayerClient:
    """Return a connection to the player of a folder, which is started where none runs. Raises PlayerLost."""
    raise NotImplementedError
