"""Packets of streaming ACN, from values to bytes: ANSI E1.31-2018, big-endian throughout.

A packet is three layers, one inside the other: root (who sends), framing (of what kind, with which
priority and sequence) and, for data, the property layer with the slots. Each opens with its own length.

Clauses are those of the 2018 edition. It is superseded; what the next edition added, such as IPv6, was not seen and
is not supported. A clause marked * is from memory.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntFlag
from uuid import UUID

from cuedeck.errors import Refusal

PORT = 5568
"""ACN_SDT_MULTICAST_PORT, appendix A. For unicast another may be agreed on, clause 9.1.1."""
LOWEST_UNIVERSE, HIGHEST_UNIVERSE = 1, 63_999
"""Clause 6.2.7; 0 and what is above is reserved."""
DISCOVERY_UNIVERSE = 64_214
"""E131_DISCOVERY_UNIVERSE, appendix A: no universe of light, but the group that discovery packets go to."""
LOWEST_PRIORITY, DEFAULT_PRIORITY, HIGHEST_PRIORITY = 0, 100, 200
"""Clause 6.2.3*; the bigger number wins."""
NOT_SYNCHRONISED = 0
"""A synchronisation address of 0, clause 6.2.4: what a packet holds counts when it arrives."""
TERMINATED_PACKETS = 3
"""How many packets end a stream, clause 6.2.6."""
NAME_BYTES = 64
"""The field of the source name, clause 6.2.2*: UTF-8 and a null byte."""
MOST_SLOTS = 512

CID_AT, PRIORITY_AT, SEQUENCE_AT, OPTIONS_AT, UNIVERSE_AT, START_CODE_AT, SLOTS_AT = 22, 108, 111, 112, 113, 125, 126
"""Where fields of a data packet are, table 4-1*."""

_PREAMBLE = struct.pack(">HH12s", 0x0010, 0x0000, b"ASC-E1.17")
"""Preamble size, post-amble size and ACN packet identifier, clause 5.1* to 5.3*."""
_ROOT_DATA, _ROOT_EXTENDED = 0x00000004, 0x00000008
"""VECTOR_ROOT_E131_DATA and VECTOR_ROOT_E131_EXTENDED, appendix A*."""
_FRAMING_DATA = 0x00000002
"""VECTOR_E131_DATA_PACKET, appendix A*."""
_FRAMING_SYNCHRONISATION = 0x00000001
"""VECTOR_E131_EXTENDED_SYNCHRONIZATION, appendix A*."""
_SET_PROPERTY, _ADDRESS_AND_DATA_TYPE, _FIRST_PROPERTY, _INCREMENT = 0x02, 0xA1, 0x0000, 0x0001
"""VECTOR_DMP_SET_PROPERTY and the only addressing that is allowed, clause 7.2* to 7.5*."""
_LEVELS = 0x00
"""ANSI E1.11: the NULL start code."""
_FLAGS = 0x7000
"""The upper four bits of each length, clause 5.4*."""

DISCOVERY_INTERVAL_NS = 10_000_000_000
"""E131_UNIVERSE_DISCOVERY_INTERVAL, appendix A."""
UNIVERSES_OF_A_PAGE = 512
_FRAMING_DISCOVERY = 0x00000002
"""VECTOR_E131_EXTENDED_DISCOVERY, appendix A*."""
_UNIVERSE_LIST = 0x00000001
"""VECTOR_UNIVERSE_DISCOVERY_UNIVERSE_LIST, appendix A*."""


class NotAllowed(Refusal):
    """A value that E1.31 does not allow. The message says what it does allow."""


class Options(IntFlag):
    """The options of a data packet, clause 6.2.6. The other bits are zero."""

    PREVIEW_DATA = 0x80
    """The data is for looking at, not for lamps."""
    STREAM_TERMINATED = 0x40
    """The source stops sending this universe; the slots mean nothing."""
    FORCE_SYNCHRONISATION = 0x20
    """Where synchronisation is lost, data counts when it arrives, rather than not at all."""


@dataclass(frozen=True)
class SacnSource:
    """Who sends: the same in each of its packets."""

    cid: UUID
    """Its identity, kept for as long as it is installed."""
    name: str
    """What people call it; cut to 63 bytes of UTF-8."""
    priority: int = DEFAULT_PRIORITY

    def __post_init__(self) -> None:
        checked_priority(self.priority)


def checked_universe(universe: int) -> int:
    """Return a universe. Raises NotAllowed where E1.31 has no such universe."""
    if not LOWEST_UNIVERSE <= universe <= HIGHEST_UNIVERSE:
        raise NotAllowed(f"universe {universe} is out of range: E1.31 has {LOWEST_UNIVERSE} to {HIGHEST_UNIVERSE}")
    return universe


def checked_priority(priority: int) -> int:
    """Return a priority. Raises NotAllowed where none may be sent with it."""
    if not LOWEST_PRIORITY <= priority <= HIGHEST_PRIORITY:
        raise NotAllowed(f"priority {priority} is out of range: E1.31 has {LOWEST_PRIORITY} to {HIGHEST_PRIORITY}")
    return priority


def group_of(universe: int) -> str:
    """Return the IPv4 multicast address of a universe: 239.255, its high byte, its low byte (clause 9.1.1)."""
    if universe != DISCOVERY_UNIVERSE:
        checked_universe(universe)
    return f"239.255.{universe >> 8}.{universe & 0xFF}"


@dataclass(frozen=True)
class DataHeader:
    """The header of a data packet of another source, as far as it is used."""

    cid: bytes
    priority: int
    universe: int
    options: Options


def data_header(datagram: bytes) -> DataHeader | None:
    """Return the header of a data packet of levels; None for any other datagram. Its slots may be cut off."""
    is_data = datagram.startswith(_PREAMBLE) and datagram[18:22] == struct.pack(">I", _ROOT_DATA)
    if not is_data or len(datagram) < SLOTS_AT or datagram[START_CODE_AT] != _LEVELS:
        return None
    return DataHeader(
        datagram[CID_AT : CID_AT + 16],
        datagram[PRIORITY_AT],
        int.from_bytes(datagram[UNIVERSE_AT : UNIVERSE_AT + 2], "big"),
        Options(datagram[OPTIONS_AT]),
    )


def name_field(name: str) -> bytes:
    """Return a source name as it is sent: at most 63 bytes of whole characters, filled up with null bytes."""
    text = name.partition("\0")[0].encode("utf-8", errors="replace")
    whole = text[: NAME_BYTES - 1].decode("utf-8", errors="ignore")
    return whole.encode("utf-8").ljust(NAME_BYTES, b"\0")


def data_packet(
    source: SacnSource,
    universe: int,
    sequence: int,
    slots: bytes,
    *,
    synchronisation: int = NOT_SYNCHRONISED,
    options: Options = Options(0),  # noqa: B008 - a number, which nobody can change
) -> bytes:
    """Return the packet that carries the slots of a universe (clauses 6.2 and 7). Raises NotAllowed."""
    checked_universe(universe)
    if synchronisation != NOT_SYNCHRONISED:
        checked_universe(synchronisation)
    if not 1 <= len(slots) <= MOST_SLOTS:
        raise NotAllowed(f"{len(slots)} slots do not fit: a packet carries 1 to {MOST_SLOTS}")
    properties = (
        struct.pack(
            ">BBHHHB",
            _SET_PROPERTY,
            _ADDRESS_AND_DATA_TYPE,
            _FIRST_PROPERTY,
            _INCREMENT,
            1 + len(slots),
            _LEVELS,
        )
        + slots
    )
    frame = struct.pack(
        ">I64sBHBBH",
        _FRAMING_DATA,
        name_field(source.name),
        source.priority,
        synchronisation,
        sequence,
        options,
        universe,
    )
    return _root(_ROOT_DATA, source.cid, _with_length(frame + _with_length(properties)))


def synchronisation_packet(source: SacnSource, universe: int, sequence: int) -> bytes:
    """Return the packet that makes the data count that was sent for this address (clause 6.3). Raises NotAllowed."""
    frame = struct.pack(">IBHH", _FRAMING_SYNCHRONISATION, sequence, checked_universe(universe), 0)
    return _extended_packet(source, frame)


def discovery_packets(source: SacnSource, universes: Iterable[int]) -> list[bytes]:
    """Return the packets that list the universes of a source, sorted, 512 to a page (clause 8*). Raises NotAllowed.

    From memory: a universe which only carries synchronisation is listed, too.
    """
    listed = sorted({checked_universe(universe) for universe in universes})
    starts = range(0, max(len(listed), 1), UNIVERSES_OF_A_PAGE)
    pages = [listed[start : start + UNIVERSES_OF_A_PAGE] for start in starts]
    return [_page(source, number, len(pages) - 1, page) for number, page in enumerate(pages)]


def _page(source: SacnSource, number: int, last: int, universes: list[int]) -> bytes:
    layer = struct.pack(f">IBB{len(universes)}H", _UNIVERSE_LIST, number, last, *universes)
    frame = struct.pack(">I64sI", _FRAMING_DISCOVERY, name_field(source.name), 0)
    return _extended_packet(source, frame + _with_length(layer))


def _extended_packet(source: SacnSource, frame: bytes) -> bytes:
    """Return a packet that is not data around what follows the length of its framing layer."""
    return _root(_ROOT_EXTENDED, source.cid, _with_length(frame))


def _with_length(content: bytes) -> bytes:
    """Return a layer with its flags and length in front, the two bytes of which count (clause 5.4*)."""
    return struct.pack(">H", _FLAGS | (len(content) + 2)) + content


def _root(vector: int, cid: UUID, frame: bytes) -> bytes:
    return _PREAMBLE + _with_length(struct.pack(">I16s", vector, cid.bytes) + frame)


class DiscoveryPace:
    """When the list of universes is sent: every ten seconds, and once in between where it has changed (clause 4.3)."""

    def __init__(self) -> None:
        self._sent_ns: int | None = None
        self._is_changed = False
        self._had_extra = False

    def change(self) -> None:
        """Take notice that the list is another one."""
        self._is_changed = True

    def is_due(self, now_ns: int) -> bool:
        """Return whether the list is to be sent now, and take it for sent."""
        if self._sent_ns is None or not 0 <= now_ns - self._sent_ns < DISCOVERY_INTERVAL_NS:
            self._sent_ns, self._had_extra = now_ns, False
        elif self._is_changed and not self._had_extra:
            self._had_extra = True
        else:
            return False
        self._is_changed = False
        return True
