"""A receiver of streaming ACN, written from ANSI E1.31-2018 alone: it shares no code with the sender.

`Receiver` is told what arrives and what time it is, and says what a lamp would show. Run as a module it
listens to a network and writes a line of JSON for each fact:

    python -m tests.output.sacn_receiver [--interface ADDRESS] [--address ADDRESS] [--port N] UNIVERSE...

It ends when its standard input does. Rules [source seen, but for those marked *]: network data loss after
2.5 s and on Stream_Terminated (6.7.1), sequence (6.7.2), the highest priority wins (6.2.3*), Preview_Data
lights no lamp (6.2.6*), synchronisation (6.2.4, 11.1), the universe is that of the packet (9.1.1). Among
sources of one priority the first stays*: the standard leaves it to the receiver.
"""

from __future__ import annotations

import argparse
import json
import select
import socket
import struct
import sys
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field

DATA_LOSS_S = 2.5
"""E131_NETWORK_DATA_LOSS_TIMEOUT, appendix A."""
PORT = 5568
_IDENTIFIER = bytes.fromhex("0010 0000 4153432D45312E3137000000")
_MULTICAST_ALL = 49
"""IP_MULTICAST_ALL of Linux: hear only the groups that this socket has joined."""


@dataclass(frozen=True)
class Data:
    """A data packet."""

    cid: str
    name: str
    priority: int
    synchronisation: int
    sequence: int
    is_preview: bool
    is_terminated: bool
    is_forced: bool
    universe: int
    start_code: int
    slots: bytes


@dataclass(frozen=True)
class Synchronisation:
    """A synchronisation packet."""

    cid: str
    sequence: int
    universe: int


@dataclass(frozen=True)
class Discovery:
    """A page of the list of universes."""

    cid: str
    name: str
    page: int
    last: int
    universes: tuple[int, ...]


class Malformed(Exception):
    """A packet that the standard has a receiver throw away."""


def read(datagram: bytes) -> Data | Synchronisation | Discovery:
    """Take a packet apart. Raises Malformed."""
    if datagram[:16] != _IDENTIFIER:
        raise Malformed("no ACN packet")
    try:
        _layer(datagram, 16)
        _layer(datagram, 38)
        (root,), cid, (kind,) = _numbers(">I", datagram, 18), datagram[22:38].hex(), _numbers(">I", datagram, 40)
        match root, kind:
            case 4, 2:
                return _data(datagram, cid)
            case 8, 1:
                sequence, universe, _ = _numbers(">BHH", datagram, 44)
                return Synchronisation(cid, sequence, universe)
            case 8, 2:
                return _discovery(datagram, cid)
    except struct.error as error:
        raise Malformed("cut short") from error
    raise Malformed(f"vectors {root} and {kind}")


def _numbers(layout: str, datagram: bytes, place: int) -> tuple[int, ...]:
    return struct.unpack_from(layout, datagram, place)


def _layer(datagram: bytes, place: int) -> None:
    (flags_and_length,) = _numbers(">H", datagram, place)
    if flags_and_length != 0x7000 | (len(datagram) - place):
        raise Malformed(f"flags and length {flags_and_length:04X} at {place} of {len(datagram)} octets")


def _name(datagram: bytes) -> str:
    return datagram[44:108].partition(b"\0")[0].decode()


def _data(datagram: bytes, cid: str) -> Data:
    _layer(datagram, 115)
    priority, synchronisation, sequence, options, universe = _numbers(">BHBBH", datagram, 108)
    vector, kind, first, increment, count, start_code = _numbers(">BBHHHB", datagram, 117)
    if (vector, kind, first, increment) != (2, 0xA1, 0, 1) or count != len(datagram) - 125 or priority > 200:
        raise Malformed("property layer or priority")
    flags = (bool(options & 0x80), bool(options & 0x40), bool(options & 0x20))
    return Data(cid, _name(datagram), priority, synchronisation, sequence, *flags, universe, start_code, datagram[126:])


def _discovery(datagram: bytes, cid: str) -> Discovery:
    _layer(datagram, 112)
    _, page, last = _numbers(">IBB", datagram, 114)
    universes = _numbers(f">{(len(datagram) - 120) // 2}H", datagram, 120)
    return Discovery(cid, _name(datagram), page, last, universes)


def is_in_sequence(new: int, last: int) -> bool:
    """Return whether a packet counts after another (6.7.2)."""
    difference = (new - last + 128) % 256 - 128
    return not -20 < difference <= 0


@dataclass(frozen=True)
class Fact:
    """Something that happened to a universe."""

    what: str
    """heard: a source appeared; shown: the look of a lamp changed; lost: a source was silent for 2.5 s;
    terminated: a source said that it ends; dark: no source is left, and the last look is held."""
    universe: int
    cid: str
    time_s: float
    heard_s: float = 0.0
    """When the last packet of that source came."""
    level: int = -1
    """The first slot of what is shown."""
    slots: str = ""
    """All slots of what is shown, in hexadecimal digits."""


@dataclass
class _Stream:
    """One source on one universe."""

    last: Data
    heard_s: float
    waiting: Data | None = None
    """What waits for the next synchronisation packet."""


@dataclass
class Receiver:
    """The lamps of some universes."""

    looks: dict[int, bytes] = field(default_factory=dict)
    """What the lamps of each universe show; the last look is held."""
    facts: list[Fact] = field(default_factory=list)
    discovered: dict[str, dict[int, tuple[int, ...]]] = field(default_factory=dict)
    """The pages of each source."""
    _streams: dict[int, dict[str, _Stream]] = field(default_factory=dict)
    _synchronised_s: dict[int, float] = field(default_factory=dict)
    _synchronisations: dict[tuple[str, int], int] = field(default_factory=dict)

    def hear(self, datagram: bytes, now_s: float) -> None:
        """Take a packet that arrived. What is malformed or for other start codes is let pass."""
        self.tick(now_s)
        try:
            packet = read(datagram)
        except Malformed:
            return
        match packet:
            case Data(start_code=0):
                self._hear_data(packet, now_s)
            case Synchronisation():
                self._hear_synchronisation(packet, now_s)
            case Discovery():
                self.discovered.setdefault(packet.cid, {})[packet.page] = packet.universes

    def tick(self, now_s: float) -> None:
        """Give up the sources that have been silent for too long."""
        for universe, streams in self._streams.items():
            for cid, stream in list(streams.items()):
                if now_s - stream.heard_s >= DATA_LOSS_S:
                    self._leave("lost", universe, cid, now_s)

    def winner(self, universe: int) -> str | None:
        """Return the source that lights a universe: the highest priority, of several the first."""
        streams = {cid: one for cid, one in self._streams.get(universe, {}).items() if not one.last.is_preview}
        return max(streams, key=lambda cid: streams[cid].last.priority, default=None)

    def _hear_data(self, packet: Data, now_s: float) -> None:
        streams = self._streams.setdefault(packet.universe, {})
        stream = streams.get(packet.cid)
        if stream is not None and not is_in_sequence(packet.sequence, stream.last.sequence):
            return
        if packet.is_terminated:
            if stream is not None:
                self._leave("terminated", packet.universe, packet.cid, now_s)
            return
        if stream is None:
            streams[packet.cid] = stream = _Stream(packet, now_s)
            self._tell("heard", packet.universe, packet.cid, now_s)
        stream.last, stream.heard_s = packet, now_s
        if self._waits(packet, now_s):
            stream.waiting = packet
        else:
            stream.waiting = None
            self._show(packet, now_s)

    def _waits(self, packet: Data, now_s: float) -> bool:
        """Return whether a packet waits for synchronisation: not before there was any, and it may be lost."""
        last_s = self._synchronised_s.get(packet.synchronisation) if packet.synchronisation else None
        return last_s is not None and (now_s - last_s < DATA_LOSS_S or not packet.is_forced)

    def _hear_synchronisation(self, packet: Synchronisation, now_s: float) -> None:
        key = (packet.cid, packet.universe)
        if key in self._synchronisations and not is_in_sequence(packet.sequence, self._synchronisations[key]):
            return
        self._synchronisations[key] = packet.sequence
        self._synchronised_s[packet.universe] = now_s
        for streams in self._streams.values():
            for stream in streams.values():
                if stream.waiting is not None and stream.waiting.synchronisation == packet.universe:
                    self._show(stream.waiting, now_s)
                    stream.waiting = None

    def _show(self, packet: Data, now_s: float) -> None:
        if self.winner(packet.universe) == packet.cid and self.looks.get(packet.universe) != packet.slots:
            self.looks[packet.universe] = packet.slots
            self._tell("shown", packet.universe, packet.cid, now_s)

    def _leave(self, what: str, universe: int, cid: str, now_s: float) -> None:
        """Let a source go; whoever is left is shown at once with what was heard last."""
        self._tell(what, universe, cid, now_s)
        was_winner = self.winner(universe) == cid
        del self._streams[universe][cid]
        next_one = self.winner(universe)
        if next_one is None:
            self._tell("dark", universe, cid, now_s)
        elif was_winner:
            self._show(self._streams[universe][next_one].last, now_s)

    def _tell(self, what: str, universe: int, cid: str, now_s: float) -> None:
        stream = self._streams.get(universe, {}).get(cid)
        look = self.looks[universe] if what == "shown" else b""
        level = look[0] if look else -1
        self.facts.append(Fact(what, universe, cid, now_s, stream.heard_s if stream else 0.0, level, look.hex()))


def group_of(universe: int) -> str:
    """Return the multicast address of a universe (9.1.1)."""
    return f"239.255.{universe // 256}.{universe % 256}"


def listening_socket(universes: list[int], interface: str, address: str, port: int) -> socket.socket:
    """Return a socket that has joined the groups of some universes, and of discovery."""
    made = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    if sys.platform == "linux":
        made.setsockopt(socket.IPPROTO_IP, _MULTICAST_ALL, 0)
    made.bind((address, port))
    for universe in [*universes, 64_214] if interface else []:
        member = socket.inet_aton(group_of(universe)) + socket.inet_aton(interface)
        made.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, member)
    return made


def listen(heard: socket.socket) -> Iterator[Fact]:
    """Give the facts as they happen, until standard input ends."""
    receiver = Receiver()
    while True:
        ready, _, _ = select.select([heard, sys.stdin], [], [], 0.02)
        if heard in ready:
            receiver.hear(heard.recv(2048), time.monotonic())
        elif sys.stdin in ready:
            return
        receiver.tick(time.monotonic())
        yield from receiver.facts
        receiver.facts.clear()


def main() -> None:
    """Listen, and write what happens."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--interface", default="")
    parser.add_argument("--address", default="")
    parser.add_argument("--port", type=int, default=PORT)
    parser.add_argument("universes", type=int, nargs="+")
    options = parser.parse_args()
    with listening_socket(options.universes, options.interface, options.address, options.port) as heard:
        print("ready", flush=True)
        for fact in listen(heard):
            print(json.dumps(asdict(fact)), flush=True)


if __name__ == "__main__":
    main()
