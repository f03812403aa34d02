"""The recorder: an output that keeps every packet of a take while it runs, whatever becomes of the log.

Two threads do that, so that no disk is waited for between two packets. One makes blocks of the packets, and puts each
into a second file at once, which costs little: that one is not synced. The other writes the log, and goes on trying.
In memory are all blocks as well, until there are too many: those that the log has go first.

The invariant owned here: a packet that left more than half a second ago survives the player, though the log was
locked, full, damaged or replaced.
"""

from __future__ import annotations

import queue
import threading
import time
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from cuedeck.clock import Clock
from cuedeck.output.base import Line, Packet
from cuedeck.show.problems import counted
from cuedeck.takes.blocks import Block, block_of
from cuedeck.takes.memory import Memory
from cuedeck.takes.spool import Spool
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Take
from cuedeck.takes.trouble import TakesUnreadable, Trouble

MOST_BYTES = 256_000_000
"""Of blocks in memory, and of packets that wait to be put into one."""
_BLOCK_NS = 250_000_000
"""How much of a take is written at once."""
_LOOKS_AGAIN_S = 0.375
"""How long a packet waits that no other follows soon enough to make a block of them."""
_PATIENCE_S = 0.1
"""How long the log is waited for that another program holds, before it is tried again."""
_AT_END_S = 2.0
"""How long the log is tried once the take is over."""
_STUCK_S = 10.0
"""How long a disk is waited for that does not answer at all."""
_MOST_AT_ONCE = 100
"""Blocks that are written to the log together."""
LONGEST_STORY = 2_000
"""Characters of what is kept of it with the take."""

_Sent = tuple[Packet, int]
"""A packet and when it left, in nanoseconds."""


@dataclass
class Spell:
    """A time in which the log could not be written."""

    what: str
    first: int
    last: int

    def __str__(self) -> str:
        return f"packets {self.first} to {self.last} had to wait: {self.what}"


class Recorder:
    name = "recorder"
    is_prompt = True

    def __init__(
        self, log: Path, take: Take, clock: Clock, places: Sequence[Path] = (), most_bytes: int = MOST_BYTES
    ) -> None:
        self._log = log
        self._take = take
        self._clock = clock
        self._sent: deque[_Sent] = deque()
        """What is in no block yet."""
        self._block_since_ns: int | None = None
        self._wake: queue.SimpleQueue[bool] = queue.SimpleQueue()
        """Says that there is a block to be made, and whether it is the last."""
        self._threads: list[threading.Thread] = []
        self._memory = Memory(most_bytes)
        self._store: TakeStore | None = None
        self._news = threading.Condition()
        """Told when there is a new block, when the log was tried, and at the end."""
        self._has_new = self._is_ending = self._lacks_some_beside = False
        self._failure: TakesUnreadable | None = None
        self.spool = Spool(log, take, places)
        self.lost: list[Spell] = []
        """Packets that could not be kept, and why."""
        self.spells: list[Spell] = []
        """When the log could not be written, and why."""

    @property
    def trouble(self) -> str:
        """What is wrong with the log now; nothing while all is well."""
        failure = self._failure
        if failure is None:
            return ""
        lost = sum(one.last - one.first + 1 for one in self.lost)
        kept = f"{failure.in_short}; {counted(self._memory.waiting_packets, 'packet')} kept in memory"
        return f"{kept}, {lost} LOST" if lost else kept

    @property
    def story(self) -> str:
        """What was wrong with the log, and which packets are not kept: for the take."""
        lost = [f"packets {one.first} to {one.last} are not kept: {one.what}" for one in self.lost]
        return "; ".join([*lost, *map(str, self.spells)])[:LONGEST_STORY]

    @property
    def lacks_some(self) -> bool:
        """Whether the second file has blocks that are not in memory any more."""
        return self._memory.lacks_some

    @property
    def blocks(self) -> list[Block]:
        """The blocks that are in memory, in order."""
        return self._memory.all()

    def open(self, line: Line) -> None:  # noqa: ARG002 - every output is told what is sent
        for name, run in (("recorder", self._make_blocks), ("log", self._write_log)):
            # Daemons: a disk that never answers keeps no process from ending.
            thread = threading.Thread(target=run, name=name, daemon=True)
            thread.start()
            self._threads.append(thread)

    def send(self, packet: Packet) -> None:
        self.record(packet, self._clock.now_ns())

    def record(self, packet: Packet, sent_ns: int) -> None:
        """Take a packet, and when its sending began. Never waits."""
        if len(self._sent) * packet.slots.nbytes > MOST_BYTES:
            _note(self.lost, "no disk answered", packet.number, packet.number)
            return
        self._sent.append((packet, sent_ns))
        if self._block_since_ns is None:
            self._block_since_ns = sent_ns
        elif sent_ns - self._block_since_ns >= _BLOCK_NS:  # not each time: a thread costs as much to wake as a block
            self._block_since_ns = None
            self._wake.put(False)

    def close(self) -> None:
        """Write what is left, as far as that can be done in some seconds; safe to call twice."""
        threads, self._threads = self._threads, []
        if threads:
            self._wake.put(True)
        for thread in threads:
            thread.join(_STUCK_S)
        self._close_log()

    # The thread that makes blocks.

    def _make_blocks(self) -> None:
        """Make block after block; it works right after a packet has left, and is done before the next is due."""
        self._put_beside(())  # it is made before the first packet is due
        is_last = False
        while not is_last:
            with suppress(queue.Empty):  # packets are further apart than blocks are long
                is_last = self._wake.get(timeout=_LOOKS_AGAIN_S)
            for block in self._taken():
                self._keep(block)
        with self._news:
            self._is_ending = True
            self._news.notify_all()

    def _taken(self) -> Iterator[list[_Sent]]:
        """Yield what waits, in blocks; the last one may be short."""
        block: list[_Sent] = []
        while self._sent:
            block.append(self._sent.popleft())
            if block[-1][1] - block[0][1] >= _BLOCK_NS:
                yield block
                block = []
        if block:
            yield block

    def _keep(self, sent: Sequence[_Sent]) -> None:
        """Have a block written, and see to it that it is safe."""
        block = _block_of(sent)
        self._memory.add(block)  # first: from here on it is tried again, whatever fails
        with self._news:
            self._has_new = True
            self._news.notify_all()
            failure = self._failure
        if failure is not None:
            _note(self.spells, failure.in_short, block.first, block.last)
        self._put_beside([block])
        for one in self._memory.make_room(lambda one: one.first in self.spool.written):
            _note(self.lost, "the log was too slow" if failure is None else failure.in_short, one.first, one.last)

    def _put_beside(self, blocks: Sequence[Block]) -> None:
        """Put blocks into the second file, with those that it did not take before."""
        try:
            self.spool.put(self._memory.all() if self._lacks_some_beside else blocks)
            self._lacks_some_beside = False
        except TakesUnreadable:
            self._lacks_some_beside = True  # they are in memory, and tried again with the next block

    # The thread that writes the log.

    def _write_log(self) -> None:
        """Write what waits, again and again; after the end of the take for some seconds more."""
        tries_left = int(_AT_END_S / _PATIENCE_S)
        while True:
            again_s = None if self._failure is None else _BLOCK_NS / 1e9
            with self._news:
                self._news.wait_for(lambda: self._is_ending or self._has_new, again_s)
                # Before the log is tried: a block that comes meanwhile counts as new again.
                is_ending, self._has_new = self._is_ending, False
            failure = self._tried()
            with self._news:
                self._failure = failure
                self._news.notify_all()
            tries_left -= is_ending
            if is_ending and (failure is None or not tries_left):
                return

    def _tried(self) -> TakesUnreadable | None:
        """Write what waits to the log; return what is wrong where that fails."""
        try:
            store = self._opened()
            while some := self._memory.waiting(_MOST_AT_ONCE):
                store.put_in(self._take, some)
                self._memory.are_written(some)
        except TakesUnreadable as failure:
            if failure.trouble in (Trouble.DAMAGED, Trouble.NO_DATABASE):
                self._memory.log_has(set())  # what it had may be gone with it
            if failure.trouble not in (Trouble.LOCKED, Trouble.FULL):
                self._close_log()
            time.sleep(0 if failure.trouble is Trouble.LOCKED else _PATIENCE_S)  # one that is locked was waited for
            return failure
        except Exception as error:  # whatever it is, the packets are to be kept
            self._close_log()
            return TakesUnreadable(self._log, Trouble.UNKNOWN, f"{type(error).__name__}: {error}")
        return None

    def _opened(self) -> TakeStore:
        """Return the log, which is opened again where another file stands in its place."""
        if self._store is not None and not self._store.is_in_place:
            self._close_log()
        if self._store is None:
            self._store = TakeStore(self._log.parent, file=self._log, create=True, patience_s=_PATIENCE_S)
            # What was written is asked of the file, not remembered: another one may stand there by now.
            self._memory.log_has(self._store.firsts(self._take.key))
        return self._store

    def _close_log(self) -> None:
        store, self._store = self._store, None
        if store is not None:
            store.close()


def _note(spells: list[Spell], what: str, first: int, last: int) -> None:
    if spells and spells[-1].what == what and spells[-1].last + 1 >= first:
        spells[-1].last = last
    else:
        spells.append(Spell(what, first, last))


def _block_of(sent: Sequence[_Sent]) -> Block:
    packets = [packet for packet, _ in sent]
    return block_of(
        [packet.number for packet in packets],
        [packet.due_ns for packet in packets],
        [sent_ns for _, sent_ns in sent],
        np.stack([packet.slots for packet in packets]),
        _carried(packets),
    )


def _carried(packets: Sequence[Packet]) -> list[int]:
    """Return which packets of the shot these are; nothing where all are those of their numbers."""
    if all(packet.carried is None for packet in packets):
        return []
    return [packet.number if packet.carried is None else packet.carried for packet in packets]
