"""A DMX receiver, written from ANSI E1.11-2008 (R2018) alone: it shares no code with the transmitter.

It is told what the line does, break by break and byte by byte with times in nanoseconds, and gives the
packets it heard, each with what a strict receiver would hold against it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True)
class Break:
    """The line goes to the break level (on) or back to mark (off)."""

    time_ns: int
    is_on: bool


@dataclass(frozen=True)
class Data:
    """Bytes that follow each other without a gap; the time is that of the first start bit."""

    time_ns: int
    content: bytes


Event = Break | Data


class Fault(StrEnum):
    """What is illegal about a packet."""

    SHORT_BREAK = "break under 92 us"
    SHORT_MARK = "mark after break under 12 us"
    NO_BREAK = "bytes without a break"
    TOO_MANY_SLOTS = "more than 512 slots"
    TOO_SOON = "break to break under 1204 us"
    TOO_LATE = "break to break over 1 s"
    CUT = "a break fell into its bytes"
    EMPTY = "no start code"


@dataclass(frozen=True)
class Received:
    """One packet as it was heard."""

    start_code: int | None
    slots: bytes
    break_ns: int
    mark_ns: int
    started_ns: int
    faults: tuple[Fault, ...]


# ANSI E1.11-2008 (R2018), transmitter timing, in nanoseconds.
SHORTEST_BREAK_NS = 92_000
SHORTEST_MARK_NS = 12_000
SLOT_NS = 44_000
SHORTEST_PERIOD_NS = 1_204_000
LONGEST_PERIOD_NS = 1_000_000_000
MOST_SLOTS = 512


class _Packet:
    """A packet while it is heard."""

    def __init__(self, on_ns: int | None, off_ns: int | None) -> None:
        self.on_ns = on_ns
        self.off_ns = off_ns
        self.first_ns: int | None = None
        self.end_ns = 0
        self.content = bytearray()

    def hear(self, data: Data) -> None:
        if self.first_ns is None:
            self.first_ns = data.time_ns
        self.end_ns = max(self.end_ns, data.time_ns) + SLOT_NS * len(data.content)
        self.content += data.content

    def received(self, next_break_ns: int | None) -> Received:
        faults: list[Fault] = []
        on_ns, off_ns, first_ns = self.on_ns, self.off_ns, self.first_ns
        break_ns = off_ns - on_ns if on_ns is not None and off_ns is not None else 0
        mark_ns = first_ns - off_ns if first_ns is not None and off_ns is not None else 0
        if on_ns is None or off_ns is None:
            faults.append(Fault.NO_BREAK)
        elif break_ns < SHORTEST_BREAK_NS:
            faults.append(Fault.SHORT_BREAK)
        if not self.content:
            faults.append(Fault.EMPTY)
        elif off_ns is not None and mark_ns < SHORTEST_MARK_NS:
            faults.append(Fault.SHORT_MARK)
        if len(self.content) > MOST_SLOTS + 1:
            faults.append(Fault.TOO_MANY_SLOTS)
        if next_break_ns is not None and self.content and next_break_ns < self.end_ns:
            faults.append(Fault.CUT)
        if next_break_ns is not None and on_ns is not None:
            period_ns = next_break_ns - on_ns
            if period_ns < SHORTEST_PERIOD_NS:
                faults.append(Fault.TOO_SOON)
            if period_ns > LONGEST_PERIOD_NS:
                faults.append(Fault.TOO_LATE)
        start_code = self.content[0] if self.content else None
        started_ns = on_ns if on_ns is not None else first_ns or 0
        return Received(start_code, bytes(self.content[1:]), break_ns, mark_ns, started_ns, tuple(faults))


def receive(events: Iterable[Event]) -> list[Received]:
    """Return the packets in what a line does. The last one ends with the last event."""
    heard: list[Received] = []
    packet: _Packet | None = None
    for event in events:
        match event:
            case Break(time_ns, True):
                if packet is not None:
                    heard.append(packet.received(time_ns))
                packet = _Packet(time_ns, None)
            case Break(time_ns, False):
                if packet is not None and packet.off_ns is None:
                    packet.off_ns = time_ns
            case Data():
                if packet is None:
                    packet = _Packet(None, None)
                packet.hear(event)
    if packet is not None:
        heard.append(packet.received(None))
    return heard
