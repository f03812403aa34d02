"""Streaming ACN: every universe of the rig to the network (ANSI E1.31-2018), by multicast or to one address.

A packet of a take becomes a data packet for each universe that has something to say, then one that makes
them count together, and every ten seconds the list of universes. It never waits: what the system has no
room for is dropped and counted, and goes with the next packet.
"""

from __future__ import annotations

import contextlib
import errno
import socket
from dataclasses import dataclass, replace

from cuedeck.output import network
from cuedeck.output.base import Line, Output, OutputLost, Packet
from cuedeck.output.e131 import (
    DISCOVERY_UNIVERSE,
    LOWEST_PRIORITY,
    NOT_SYNCHRONISED,
    PORT,
    DiscoveryPace,
    SacnSource,
    discovery_packets,
    group_of,
    synchronisation_packet,
)
from cuedeck.output.sacn_others import OtherSources
from cuedeck.output.sacn_streams import SYNCHRONISED_FROM, Streams
from cuedeck.output.words import cannot_open, was_lost

Address = tuple[str, int]
RESUMED_IS_LOWER = 20
"""By how much the priority of a look that is resumed is lower. It stands still, while a second machine may be in
the middle of the take with ten less than the first: that one lights the lamps then."""


@dataclass(frozen=True)
class Destination:
    """Where the packets of a source go, and how they are to be taken there."""

    host: str | None = None
    """One receiver, as an IPv4 address or by name; None: the multicast group of each universe."""
    port: int = PORT
    interface: str | None = None
    """The interface they leave by, its name or its IPv4 address; None: as the system finds its way."""
    synchronisation: int | None = None
    """The universe of the synchronisation packets, 0 for none; None: the lowest of the line, if it has several."""
    has_spare: bool = False
    """Whether a second computer is said to stand behind this one."""

    def __str__(self) -> str:
        host = f":{self.host}" if self.host else ""
        port = f",port={self.port}" if self.port != PORT else ""
        return f"sacn{host}{port}" + (f",interface={self.interface}" if self.interface else "")

    def synchronisation_of(self, line: Line) -> int:
        """Return the synchronisation address for a line, 0 for none."""
        if self.synchronisation is not None:
            return self.synchronisation
        return min(line.universes) if len(line.universes) >= SYNCHRONISED_FROM else NOT_SYNCHRONISED


class Sacn:
    """A source of streaming ACN."""

    is_prompt = True
    port = None

    def __init__(self, source: SacnSource, destination: Destination | None = None) -> None:
        self.source = source
        self.destination = destination or Destination()
        self.dropped = 0
        """Packets that the system had no room for."""
        self._pace = DiscoveryPace()
        self._listed: set[int] = set()
        self._sequences: dict[int, int] = {}
        self._synchronisation_sequence = 255
        self._synchronisation = NOT_SYNCHRONISED
        self._streams: Streams | None = None
        self._others: OtherSources | None = None
        self._addresses: list[Address] = []
        self._host: str | None = None
        """The address of the one receiver, kept once it is known: with the network its name service may be away."""
        self._interface: str | None = None
        """The interface that multicast left by first, where none was named."""
        self._local = ""
        """The address of the interface that multicast leaves by."""
        self._socket: socket.socket | None = None

    @property
    def name(self) -> str:
        return str(self.destination)

    def __repr__(self) -> str:
        return f"<{self.name} {self.source.name!r} priority {self.source.priority}>"

    @property
    def has_spare(self) -> bool:
        """Whether another source has the lamps once this one ends: one that was named, or that is heard."""
        return self.destination.has_spare or (self._others is not None and self._others.has_spare(self.source.priority))

    def renew(self, asked: Output) -> bool:
        """Take the priority, the name and the synchronisation of another; return whether that is a change."""
        if not isinstance(asked, Sacn) or (asked.source, asked.destination) == (self.source, self.destination):
            return False
        self.source, self.destination = asked.source, asked.destination
        return True

    def open(self, line: Line) -> None:
        """Get ready to send; where it is open, end the universes that leave and go on with the others.

        Raises OutputLost. A host that is given by name is looked up here, which may take a while.
        """
        if self._streams is not None:
            self._end(self._streams, set(self._streams.universes) - set(line.universes))
            self._streams = None
        if self._socket is None:
            try:
                self._socket = self._make_socket()
            except (OSError, network.NoInterface) as error:
                raise OutputLost(cannot_open(self.name, network.words_of(error))) from error
        self._synchronisation = self.destination.synchronisation_of(line)
        self._streams = Streams(self._source_of(line), line, self._synchronisation, self._sequences)
        self._addresses = [self._address_for(universe) for universe in line.universes]
        self._listen(min(line.universes))
        self._list({*line.universes, self._synchronisation} - {NOT_SYNCHRONISED})

    def send(self, packet: Packet) -> None:
        """Send what has changed or is due to be kept alive. Raises OutputLost."""
        streams, sending = self._streams, self._socket
        if streams is None or sending is None:
            raise OutputLost(f"{self.name} is not open")
        leaving = streams.load(packet.slots, packet.due_ns)
        sendto, rows, addresses = sending.sendto, streams.rows, self._addresses
        for row in leaving:
            try:
                sendto(rows[row], addresses[row])
            except OSError as error:
                self._take(error)
                streams.dropped(row)
        if leaving and self._synchronisation != NOT_SYNCHRONISED:
            self._synchronise()
        if self._others is not None:
            self._others.listen(packet.due_ns)
        if self._pace.is_due(packet.due_ns):
            self._announce(sending)

    def close(self) -> None:
        """End every stream and let go; safe to call twice. The sequence numbers go on if it is opened again."""
        streams, self._streams = self._streams, None
        if streams is not None:
            self._end(streams, set(streams.universes))
        self._let_go()

    def _make_socket(self) -> socket.socket:
        destination = self.destination
        if destination.host is not None and self._host is None:
            self._host = network.address_of_host(destination.host)
        if destination.interface is not None:
            self._local = network.address_of_interface(destination.interface)
            return network.sending_socket(self._local, self._local)
        self._local = self._multicast_interface()
        return network.sending_socket(None, self._local)

    def _multicast_interface(self) -> str:
        """Return the address by which multicast leaves, discovery too: where the data leaves.

        The interface that was found first is kept: while it is away, the light must not wander to another network.
        """
        if self._interface is not None:
            return network.address_of_interface(self._interface)
        address = network.local_address_to(self._host or group_of(DISCOVERY_UNIVERSE))
        self._interface = network.interface_with(address)
        return address

    def _listen(self, universe: int) -> None:
        """Hear who else lights a universe. What goes to one address is heard there only, so nobody is heard then."""
        if self._others is not None and self._others.universe != universe:
            self._stop_listening()
        if self._others is None and self._host is None:
            with contextlib.suppress(OSError):  # nobody is heard then; a spare can be named
                self._others = OtherSources(self.source.cid, universe, self._local)

    def _stop_listening(self) -> None:
        others, self._others = self._others, None
        if others is not None:
            others.close()

    def _source_of(self, line: Line) -> SacnSource:
        if not line.is_resumed:
            return self.source
        return replace(self.source, priority=max(self.source.priority - RESUMED_IS_LOWER, LOWEST_PRIORITY))

    def _address_for(self, universe: int) -> Address:
        return (self._host or group_of(universe), self.destination.port)

    def _synchronise(self) -> None:
        self._synchronisation_sequence = (self._synchronisation_sequence + 1) & 0xFF
        packet = synchronisation_packet(self.source, self._synchronisation, self._synchronisation_sequence)
        self._send_one(packet, self._address_for(self._synchronisation))

    def _list(self, universes: set[int]) -> None:
        """Put the universes into the list that others discover."""
        if universes != self._listed:
            self._listed = universes
            self._pace.change()

    def _announce(self, sending: socket.socket) -> None:
        """Send the list of universes; that it cannot be sent stops no light."""
        for packet in discovery_packets(self.source, self._listed):
            with contextlib.suppress(OSError):
                sending.sendto(packet, (group_of(DISCOVERY_UNIVERSE), PORT))

    def _end(self, streams: Streams, universes: set[int]) -> None:
        """Tell three times that some universes end, and keep the sequence numbers of all.

        Where it was lost nothing is told or counted: a number that runs far ahead of what was heard is refused.
        """
        if self._socket is not None:
            with contextlib.suppress(OutputLost):
                for row, packet in streams.ending(universes):
                    self._send_one(packet, self._addresses[row])
        streams.leave()

    def _send_one(self, packet: bytes | memoryview, address: Address) -> None:
        if self._socket is None:
            return
        try:
            self._socket.sendto(packet, address)
        except OSError as error:
            self._take(error)

    def _take(self, error: OSError) -> None:
        """Count what was dropped, let pass that nobody listens. Raises OutputLost for all else, and lets go."""
        if error.errno in network.HAS_NO_ROOM:
            self.dropped += 1
        elif error.errno not in network.NOBODY_LISTENS:
            self._let_go()
            if error.errno == errno.EHOSTUNREACH:
                self._host = None  # it may have another address by now
            raise OutputLost(was_lost(self.name, network.words_of(error))) from error

    def _let_go(self) -> None:
        self._stop_listening()
        sending, self._socket = self._socket, None
        if sending is not None:
            sending.close()
