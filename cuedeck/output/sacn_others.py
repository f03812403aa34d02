"""The other sources of a universe, as a receiver of its multicast group hears them.

There is no thread and no clock: what came is read between two packets, and time is their due time. It answers one
question: whether another source has the lamps once this one ends. Network data loss after 2.5 s and on
Stream_Terminated is ANSI E1.31-2018, clause 6.7.1.
"""

from __future__ import annotations

from uuid import UUID

from cuedeck.output.e131 import PORT, SLOTS_AT, Options, data_header, group_of
from cuedeck.output.network import listening_socket

DATA_LOSS_NS = 2_500_000_000
"""E131_NETWORK_DATA_LOSS_TIMEOUT, appendix A."""
MOST_AT_ONCE = 32
"""Packets that are read between two of our own: anybody may send."""
MOST_SOURCES = 16


class OtherSources:
    """The other sources of one universe."""

    def __init__(self, own: UUID, universe: int, interface_address: str) -> None:
        """Join the group of a universe on the interface of an address. Raises OSError."""
        self.universe = universe
        self._own = own.bytes
        self._socket = listening_socket(group_of(universe), PORT, interface_address)
        self._now_ns = 0
        self._heard: dict[bytes, tuple[int, int]] = {}
        """The priority of each source and when it was heard last, in that order."""

    def listen(self, now_ns: int) -> None:
        """Read what has come."""
        self._now_ns = now_ns
        for _ in range(MOST_AT_ONCE):
            try:
                self._take(self._socket.recv(SLOTS_AT))
            except OSError:  # nothing more, or the network is away
                return

    def has_spare(self, priority: int) -> bool:
        """Whether a source is heard that receivers take once one of this priority has ended."""
        latest_ns = self._now_ns - DATA_LOSS_NS
        return any(theirs <= priority and at_ns > latest_ns for theirs, at_ns in self._heard.values())

    def close(self) -> None:
        """Listen no more."""
        self._socket.close()

    def _take(self, datagram: bytes) -> None:
        heard = data_header(datagram)
        if heard is None or heard.cid == self._own or heard.universe != self.universe:
            return
        self._heard.pop(heard.cid, None)
        if heard.options & (Options.STREAM_TERMINATED | Options.PREVIEW_DATA):
            return
        if len(self._heard) >= MOST_SOURCES:
            self._heard.pop(next(iter(self._heard)))  # the one that has been silent for longest
        self._heard[heard.cid] = (heard.priority, self._now_ns)
