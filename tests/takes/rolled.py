"""Takes put into a log without a player."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from cuedeck.arrays import Slots
from cuedeck.takes.blocks import block_of
from cuedeck.takes.carried import runs_of
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Lateness, Status, Take
from cuedeck.timeline.plan import FiredCue


def add_packets(
    store: TakeStore,
    take: int,
    numbers: Sequence[int],
    due_ns: Sequence[int],
    sent_ns: Sequence[int],
    slots: Slots,
    carried: Sequence[int] = (),
) -> None:
    """Write a block of packets; the slots have the shape (packets, universes, 512)."""
    store.put_in(store.by_id(take), [block_of(numbers, due_ns, sent_ns, slots, carried)])


def finish(
    store: TakeStore,
    take: int,
    status: Status,
    packets_due: int,
    packets_sent: int,
    fired: Sequence[FiredCue],
    late: Lateness | None,
    carried: Sequence[int] = (),
) -> Take:
    """Close a take."""
    ended = replace(
        store.by_id(take),
        status=status,
        packets_due=packets_due,
        packets_sent=packets_sent,
        fired=tuple(fired),
        lateness=late,
        carried=tuple(runs_of(carried)),
    )
    return store.finish_as(ended)


@contextlib.contextmanager
def locked(log: Path) -> Iterator[None]:
    """Hold the log as another program does."""
    locker = sqlite3.connect(log, timeout=5, isolation_level=None)
    locker.execute("begin exclusive")
    try:
        yield
    finally:
        locker.close()
