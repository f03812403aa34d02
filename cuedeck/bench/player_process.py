"""A player for the time of a measurement: started as clients start it, and ended; and the take that it runs."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeVar

from cuedeck.bench.shows import SHOT
from cuedeck.player.channel.client import OnGone, PlayerClient, find_player, start_player
from cuedeck.player.channel.connect import PlayerGone, PlayerRefused
from cuedeck.player.channel.events import Ended, Snapshot
from cuedeck.player.channel.requests import Begin, Control, Quit, Stop
from cuedeck.player.priority import ASKED
from cuedeck.takes.store import TakeStore
from cuedeck.takes.times import PacketTimes

_LONGEST_S = 60.0
Found = TypeVar("Found")


@contextmanager
def requested_priority(priority: str) -> Iterator[None]:
    """Let the processes that are started meanwhile ask for a priority; "" is the one they usually ask for."""
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
def player_of(folder: Path, *, on_gone: OnGone | None = None) -> Iterator[PlayerClient]:
    """Start the player of a folder; at the end, end it or the one that took its place."""
    client = start_player(folder, on_gone=on_gone)
    try:
        yield client
    finally:
        client.close()
        end_player(folder)


@contextmanager
def rolling_take(folder: Path, *targets: str, osc: bool = False) -> Iterator[PlayerClient]:
    """Start the player of a folder and a take on some outputs, and wait until it rolls. Raises TimeoutError."""
    with player_of(folder) as client:
        client.ask(Begin(shot=SHOT, to=targets, osc=osc))
        wait_until_rolling(client)
        yield client


def end_player(folder: Path) -> None:
    """Ask the player of a folder to quit, if there is one, and kill it where it does not."""
    with suppress(PlayerGone, PlayerRefused):
        client = find_player(folder)
        if client is None:
            return
        try:
            client.ask(Control())
            client.ask(Quit())
            try:
                wait_for(lambda: client.gone, "the player of the benchmark did not end")
            except TimeoutError:
                os.kill(client.pid, signal.SIGKILL)
        finally:
            client.close()


def wait_until_rolling(client: PlayerClient) -> Snapshot:
    """Wait until packets of a take leave. Raises TimeoutError."""

    def rolling() -> Snapshot | None:
        snapshot = client.snapshot
        return snapshot if snapshot is not None and snapshot.state == "rolling" else None

    return wait_for(rolling, "the take of the benchmark did not start")


def stop_take(client: PlayerClient) -> Ended:
    """Stop the take and wait for its end. Raises TimeoutError and PlayerGone."""
    client.ask(Stop())
    until_s = time.monotonic() + _LONGEST_S
    while (left_s := until_s - time.monotonic()) > 0:
        event = client.next(left_s)
        if isinstance(event, Ended):
            return event
    raise TimeoutError("the take of the benchmark did not end")


def times_between(folder: Path, from_ns: int, to_ns: int) -> PacketTimes:
    """Return the times of the packets of the last take that were due between two times."""
    with TakeStore(folder) as store:
        times = store.times(store.takes()[-1])
    if times is None:
        raise ValueError("the take of the benchmark has no times")
    inside = (times.due_ns >= from_ns) & (times.due_ns <= to_ns)
    return PacketTimes(times.due_ns[inside], times.sent_ns[inside])


def wait_for(find: Callable[[], Found | None], otherwise: str) -> Found:
    """Look until something is found, and return it. Raises TimeoutError with the text `otherwise`."""
    until_s = time.monotonic() + _LONGEST_S
    while time.monotonic() < until_s:
        found = find()
        if found is not None:
            return found
        time.sleep(0.01)
    raise TimeoutError(otherwise)
