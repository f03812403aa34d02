"""The streams of one source, a universe each: what leaves when, and under which number.

The packets stand ready in one array, so that a beat is one copy of slots and one count of sequences;
what is handed out are views of its rows. Owned here (ANSI E1.31-2018):

- a sequence number for each universe, clause 6.7.2, which goes on wherever the universe comes back;
- sending on change, clause 6.6.2: a universe that stands still is sent three times more, and then once
  in 800 to 1000 ms, on the packet nearest to 900 ms. Time is the due time of packets.

A source that was killed and is back before it was missed counts anew, and receivers refuse what lies up to
19 behind the number that they heard last. So a universe that begins leaves 20 times more.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np

from cuedeck.arrays import Mask, Slots
from cuedeck.output.base import Line
from cuedeck.output.e131 import (
    NOT_SYNCHRONISED,
    OPTIONS_AT,
    SEQUENCE_AT,
    SLOTS_AT,
    TERMINATED_PACKETS,
    Options,
    SacnSource,
    data_packet,
)

UNCHANGED_PACKETS = 3
"""How often what stands still is sent before only keep-alives are, clause 6.6.2."""
REFUSED_PACKETS = 20
"""How many packets of a source that counts anew may be refused, clause 6.7.2."""
KEEP_ALIVE_NS = 900_000_000
"""The middle of the 800 to 1000 ms of clause 6.6.2."""
SYNCHRONISED_FROM = 2
"""With how many universes their data is synchronised where nobody asks for anything else."""

_NEVER = np.iinfo(np.int64).min
_BEFORE_THE_FIRST = 255


class Streams:
    """The universes of a line, ready to leave."""

    def __init__(self, source: SacnSource, line: Line, synchronisation: int, sequences: dict[int, int]) -> None:
        self.universes = line.universes
        self._sequences = sequences
        """The last sequence number of each universe that was ever sent; shared with the streams before and after."""
        options = Options.PREVIEW_DATA if line.is_rehearsal else Options(0)
        if synchronisation != NOT_SYNCHRONISED:
            # A lost synchronisation must not hold the light: a blackout has to reach it.
            options |= Options.FORCE_SYNCHRONISATION
        ready = [
            data_packet(
                source,
                universe,
                sequences.get(universe, _BEFORE_THE_FIRST),
                bytes(line.slots_sent),
                synchronisation=synchronisation,
                options=options,
            )
            for universe in line.universes
        ]
        shape = (len(ready), SLOTS_AT + line.slots_sent)
        self._packets = np.frombuffer(bytearray().join(ready), np.uint8).reshape(shape)
        self._slots = self._packets[:, SLOTS_AT:]
        eights = (len(ready), -(-line.slots_sent // 8))
        self._now, self._before = np.zeros(eights, np.uint64), np.zeros(eights, np.uint64)
        """The slots of this packet and of the one before, eight in each number: quicker to compare."""
        self._to_send = np.array([self._opening(universe) for universe in line.universes], np.int64)
        """How often each universe is sent before it is only kept alive."""
        self._left_ns = np.full(len(ready), _NEVER)
        self._half_period_ns = round(5e8 / line.refresh_hz)
        self.rows = [row.data for row in self._packets]
        """The packets as they leave, in the order of the universes."""

    def _opening(self, universe: int) -> int:
        """Return how often a universe is sent at first, even where it stands still."""
        return 1 + UNCHANGED_PACKETS + (0 if universe in self._sequences else REFUSED_PACKETS)

    def load(self, slots: Slots, due_ns: int) -> list[int]:
        """Take the slots of every universe, and return which rows leave now, already numbered."""
        wanted = slots[:, : self._slots.shape[1]]
        self._now.view(np.uint8)[:, : wanted.shape[1]] = wanted
        to_send = self._to_send  # each call of numpy costs some microseconds here, whatever it does: as few as will do
        has_changed = np.logical_or.reduce(self._now != self._before, axis=1)
        self._now, self._before = self._before, self._now
        np.maximum(to_send, 1 + UNCHANGED_PACKETS, out=to_send, where=has_changed)
        self._slots[:] = wanted
        is_leaving = to_send > 0
        np.subtract(to_send, 1, out=to_send, where=is_leaving)
        if not is_leaving.all():
            is_leaving |= self._is_kept_alive(due_ns)
        self._packets[:, SEQUENCE_AT] += is_leaving
        self._left_ns[is_leaving] = due_ns
        leaving: list[int] = is_leaving.nonzero()[0].tolist()
        return leaving

    def _is_kept_alive(self, due_ns: int) -> Mask:
        """Return which universes have waited long enough, or for longer than their clock can tell."""
        latest_ns = due_ns + self._half_period_ns - KEEP_ALIVE_NS
        return (self._left_ns <= latest_ns) | (self._left_ns > due_ns)

    def dropped(self, row: int) -> None:
        """Take notice that a row did not leave: its slots are as if they had changed."""
        self._to_send[row] = max(int(self._to_send[row]), 1 + UNCHANGED_PACKETS)

    def ending(self, universes: Collection[int]) -> Iterator[tuple[int, memoryview]]:
        """Give three times for each of these universes that was sent: its row, and the packet that ends its stream."""
        rows = [row for row, one in enumerate(self.universes) if one in universes and self._left_ns[row] != _NEVER]
        self._packets[rows, OPTIONS_AT] |= np.uint8(Options.STREAM_TERMINATED)
        for _ in range(TERMINATED_PACKETS):
            self._packets[rows, SEQUENCE_AT] += 1
            for row in rows:
                yield row, self.rows[row]

    def leave(self) -> None:
        """Keep the last sequence numbers for the streams that come after."""
        for row, universe in enumerate(self.universes):
            if self._left_ns[row] != _NEVER:
                self._sequences[universe] = int(self._packets[row, SEQUENCE_AT])
