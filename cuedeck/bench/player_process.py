"""A player for the time of a measurement: started as clients start it, and ended."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from cuedeck.player.channel.client import OnLost, PlayerClient, find_player, start_player
from cuedeck.player.channel.connect import PlayerLost, PlayerRefused
from cuedeck.player.channel.messages import Control, Ended, Quit, Snapshot
from cuedeck.player.priority import ASKED

_LONGEST_S = 30.0


@contextmanager
def asked_priority(priority: str) -> Iterator[None]:
    """Have the processes that are started meanwhile ask for a priority; "": for what they usually do."""
    before = os.environ.get(ASKED)
    if priority:
        os.environ[ASKED] = priority
    try:
        yield
    finally:
        if before is not None:
            os.environ[ASKED] = before
        elif priority:
            del os.environ[ASKED]


@contextmanager
def player_of(folder: Path, *, on_lost: OnLost | None = None) -> Iterator[PlayerClient]:
    """Start the player of a folder, and end it and whatever took its place."""
    client = start_player(folder, on_lost=on_lost)
    try:
        yield client
    finally:
        client.close()
        end_player(folder)


def end_player(folder: Path) -> None:
    """End the player of a folder, if there is one: asked, and where it does not listen, killed."""
    with suppress(PlayerLost, PlayerRefused):
        client = find_player(folder)
        if client is None:
            return
        try:
            client.ask(Control())
            client.ask(Quit())
            if not _wait_until(lambda: client.lost is not None):
                os.kill(client.pid, signal.SIGKILL)
        finally:
            client.close()


def rolling(client: PlayerClient) -> Snapshot:
    """Wait until packets of a take leave. Raises TimeoutError."""
    if not _wait_until(lambda: client.snapshot is not None and client.snapshot.state == "rolling"):
        raise TimeoutError("the take of the benchmark did not start")
    assert client.snapshot is not None  # noqa: S101 - for the type
    return client.snapshot


def ended(client: PlayerClient, timeout_s: float = _LONGEST_S) -> Ended:
    """Wait for the end of a take. Raises TimeoutError and PlayerLost."""
    until = time.monotonic() + timeout_s
    while (left_s := until - time.monotonic()) > 0:
        said = client.next(left_s)
        if isinstance(said, Ended):
            return said
    raise TimeoutError("the take of the benchmark did not end")


def _wait_until(is_so: Callable[[], bool]) -> bool:
    until = time.monotonic() + _LONGEST_S
    while not is_so():
        if time.monotonic() > until:
            return False
        time.sleep(0.01)
    return True
