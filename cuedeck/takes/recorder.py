"""The recorder: an output that writes every packet into the file of takes while the take runs.

A thread of its own does the writing, so that the disk is never waited for between two packets.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Sequence

import numpy as np

from cuedeck.clock import Clock
from cuedeck.output.base import Line, OutputLost, Packet
from cuedeck.takes.store import TakeStore, TakesUnreadable

_BLOCK_NS = 500_000_000
"""How much of a take is written at once, and so how much of it a crash can cost."""

_Sent = tuple[Packet, int]
"""A packet and when it left, in nanoseconds."""


class Recorder:
    """Records the packets of one take."""

    name = "recorder"
    is_prompt = True

    def __init__(self, store: TakeStore, take: int, clock: Clock) -> None:
        self._store = store
        self._take = take
        self._clock = clock
        self._queue: queue.SimpleQueue[_Sent | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None
        self._failure: TakesUnreadable | None = None

    def open(self, line: Line) -> None:  # noqa: ARG002 - every output is told what is sent
        """Start the writing thread."""
        self._thread = threading.Thread(target=self._write, name="recorder", daemon=True)
        self._thread.start()

    def send(self, packet: Packet) -> None:
        """Take a packet that leaves now. Raises OutputLost where an earlier one could not be written."""
        self.record(packet, self._clock.now_ns())

    def record(self, packet: Packet, sent_ns: int) -> None:
        """Take a packet, and when its sending began. Raises OutputLost where an earlier one could not be written."""
        if self._failure is not None:
            raise OutputLost(f"the recorder was lost: {self._failure}")
        self._queue.put((packet, sent_ns))

    def close(self) -> None:
        """Write what is left; safe to call twice. Raises OutputLost where that fails."""
        thread, self._thread = self._thread, None
        if thread is not None:
            self._queue.put(None)
            thread.join()
        if self._failure is not None:
            raise OutputLost(f"the recorder was lost: {self._failure}")

    def _write(self) -> None:
        """Write block after block; it works right after a packet has left, and is done before the next is due."""
        block: list[_Sent] = []
        while (sent := self._queue.get()) is not None:
            block.append(sent)
            if sent[1] - block[0][1] >= _BLOCK_NS:
                self._write_block(block)
                block = []
        self._write_block(block)

    def _write_block(self, block: Sequence[_Sent]) -> None:
        if not block or self._failure is not None:
            return
        packets = [packet for packet, _ in block]
        try:
            self._store.add_packets(
                self._take,
                [packet.number for packet in packets],
                [packet.due_ns for packet in packets],
                [sent_ns for _, sent_ns in block],
                np.stack([packet.slots for packet in packets]),
                _carried(packets),
            )
        except TakesUnreadable as error:
            self._failure = error


def _carried(packets: Sequence[Packet]) -> list[int]:
    """Return which packets of the shot these are; nothing where all are those of their numbers."""
    if all(packet.carried is None for packet in packets):
        return []
    return [packet.number if packet.carried is None else packet.carried for packet in packets]
