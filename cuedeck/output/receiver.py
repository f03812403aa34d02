"""The receiver of the simulated line: what a DMX receiver makes of what a line carried, and what is wrong with it.

Written from ANSI E1.11-2008 (R2018). It is told facts about the line, in order, with times in
nanoseconds: a break began or ended, bytes came. What a transmitter may not do is remarked; level data
that no receiver has to understand, or that has another start code than 0, changes no fixture. Slots
that a packet does not reach keep what they had, as in a fixture.
"""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from cuedeck.timing.line import (
    LONGEST_BREAK_TO_BREAK_US,
    LOW_BITS_OF_ZERO,
    SHORTEST_BREAK_TO_BREAK_US,
    SHORTEST_BREAK_US,
    SHORTEST_MARK_AFTER_BREAK_US,
)

if TYPE_CHECKING:
    from cuedeck.rig.patch import Patch
    from cuedeck.rig.state import FixtureState

MOST_SLOTS = 512
BAUD = 250_000
BAUD_TOLERANCE = 0.02
"""245 to 255 kbit/s."""
SHORTEST_BREAK_HEARD_NS = 88_000
SHORTEST_MARK_HEARD_NS = 8_000
LOSS_NS = 1_250_000_000
"""What a receiver must at least put up with; it need not hear a shorter break, nor wait longer for the next."""
LOW_FOR_A_BREAK_NS = 40_000
"""A line that is low where a stop bit should be is on its way to a break, however short it turns out."""
PACKETS_KEPT = 1_000


class Remark(StrEnum):
    """What is out of the ordinary about a packet."""

    NO_BREAK = "bytes without a break"
    SHORT_BREAK = "break under 92 us"
    SHORT_MARK = "mark after break under 12 us"
    TOO_SOON = "under 1204 us after the break before"
    LATE = "over 1 s after the break before"
    LOST = "over 1.25 s after the break before: a receiver had given the line up"
    WRONG_BAUD = "bytes at another baud rate"
    TOO_MANY_SLOTS = "more than 512 slots"
    CUT = "a break fell into its bytes"
    EMPTY = "no start code"
    OTHER_START_CODE = "start code other than 0: no level data"


@dataclass(frozen=True)
class ReceivedPacket:
    """One packet as it was received."""

    began_ns: int
    """When its break began; without a break, when its first byte did."""
    break_ns: int
    mark_ns: int
    start_code: int | None
    slots: bytes
    remarks: tuple[Remark, ...]
    """All that was wrong with it, in the order of `Remark`."""

    @property
    def is_levels(self) -> bool:
        """Whether every receiver takes it as level data."""
        is_sound = self.break_ns >= SHORTEST_BREAK_HEARD_NS and self.mark_ns >= SHORTEST_MARK_HEARD_NS
        return self.start_code == 0 and is_sound and Remark.WRONG_BAUD not in self.remarks


@dataclass
class _PartialPacket:
    """A packet while it is received."""

    began_ns: int
    ended_ns: int | None = None
    """When its break ended."""
    first_ns: int | None = None
    """When its start code began."""
    out_ns: int = 0
    slot_ns: int = 0
    content: bytearray = field(default_factory=bytearray)
    remarks: set[Remark] = field(default_factory=set)


class Receiver:
    """Hears one line."""

    def __init__(self, packets_kept: int = PACKETS_KEPT) -> None:
        self.packets: deque[ReceivedPacket] = deque(maxlen=packets_kept)
        """The last packets that are over; the one under way is in `last`."""
        self.count = 0
        """How many packets are over."""
        self.remarks: Counter[Remark] = Counter()
        """How often each remark was made, on packets that are over."""
        self.levels = bytearray(MOST_SLOTS)
        """What every slot of a fixture holds, from the packets that are over and the one under way."""
        self._partial: _PartialPacket | None = None
        self._last_break_ns: int | None = None

    @property
    def last(self) -> ReceivedPacket | None:
        """The packet under way, once it has a start code, or else the last that is over."""
        partial = self._partial
        if partial is not None and partial.content:
            return _received_so_far(partial)
        return self.packets[-1] if self.packets else None

    def is_lost(self, now_ns: int) -> bool:
        """Whether no break has come for so long that a receiver gives the line up."""
        return self._last_break_ns is None or now_ns - self._last_break_ns > LOSS_NS

    def states(self, patch: Patch, universe: int | None = None) -> tuple[FixtureState, ...]:
        """Return what every light makes of what was received, where this line carries a universe of the rig.

        That is the first universe unless it is said.
        """
        import numpy as np

        from cuedeck.rig.state import states

        index = 0 if universe is None else patch.universes.index(universe)
        slots = np.zeros((len(patch.universes), MOST_SLOTS), dtype=np.uint8)
        slots[index] = np.frombuffer(bytes(self.levels), dtype=np.uint8)
        own = {light.name for light in patch.lights if light.address.universe == patch.universes[index]}
        return tuple(state for state in states(patch, slots) if state.name in own)

    def break_began(self, at_ns: int) -> None:
        """The line went low, and stayed there for longer than a byte would keep it."""
        self._finish(at_ns)
        self._partial = partial = _PartialPacket(at_ns)
        if self._last_break_ns is not None:
            partial.remarks |= _remarks_on_period(at_ns - self._last_break_ns)
        self._last_break_ns = at_ns

    def break_ended(self, at_ns: int) -> None:
        """The line went back to mark."""
        if self._partial is not None and self._partial.ended_ns is None:
            self._partial.ended_ns = at_ns

    def bytes_came(self, at_ns: int, content: bytes, baud: int, bits: int = 11) -> None:
        """Bytes came one after the other, of so many bits each with their start and stop bits.

        A zero byte at a lower baud rate is a break: the line is low for nine of its bits.
        """
        if abs(baud - BAUD) <= BAUD * BAUD_TOLERANCE:
            self._take(at_ns, content, bits * 1_000_000_000 // baud)
            return
        for number, byte in enumerate(content):
            began_ns = at_ns + number * bits * 1_000_000_000 // baud
            low_ns = LOW_BITS_OF_ZERO * 1_000_000_000 // baud
            if byte == 0 and low_ns > LOW_FOR_A_BREAK_NS:
                self.break_began(began_ns)
                self.break_ended(began_ns + low_ns)
            else:
                self.garbled(began_ns)

    def garbled(self, at_ns: int) -> None:
        """Something came that is no byte at the baud rate of the line."""
        if self._partial is None:
            self._partial = _PartialPacket(at_ns, at_ns)
            self._partial.remarks.add(Remark.NO_BREAK)
        self._partial.remarks.add(Remark.WRONG_BAUD)

    def _take(self, at_ns: int, content: bytes, slot_ns: int) -> None:
        partial = self._partial
        if partial is None:
            self._partial = partial = _PartialPacket(at_ns, at_ns)
            partial.remarks.add(Remark.NO_BREAK)
        if partial.ended_ns is None:
            partial.remarks.add(Remark.CUT)
            return
        if partial.first_ns is None:
            partial.first_ns = at_ns
        room = MOST_SLOTS + 1 - len(partial.content)
        if len(content) > room:
            partial.remarks.add(Remark.TOO_MANY_SLOTS)
        partial.content += content[:room]
        partial.slot_ns, partial.out_ns = slot_ns, at_ns + slot_ns * len(content)
        self._keep_levels(partial)

    def _keep_levels(self, partial: _PartialPacket) -> None:
        received = _received_so_far(partial)
        if received.is_levels:
            self.levels[: len(received.slots)] = received.slots

    def _finish(self, at_ns: int) -> None:
        """End the packet under way, whose last bytes are lost where they are not out yet."""
        partial, self._partial = self._partial, None
        if partial is None:
            return
        if partial.content and partial.out_ns > at_ns:
            partial.remarks.add(Remark.CUT)
            lost = -(-(partial.out_ns - at_ns) // partial.slot_ns)
            del partial.content[max(0, len(partial.content) - lost) :]
        if not partial.content:
            partial.remarks.add(Remark.EMPTY)
        received = _received_so_far(partial)
        self.packets.append(received)
        self.count += 1
        self.remarks.update(received.remarks)


def _received_so_far(partial: _PartialPacket) -> ReceivedPacket:
    """Return a packet as far as it has come."""
    began_ns, ended_ns, first_ns = partial.began_ns, partial.ended_ns, partial.first_ns
    break_ns = 0 if ended_ns is None else ended_ns - began_ns
    mark_ns = 0 if ended_ns is None or first_ns is None else first_ns - ended_ns
    start_code = partial.content[0] if partial.content else None
    remarks = set(partial.remarks)
    if Remark.NO_BREAK not in remarks:
        if break_ns < SHORTEST_BREAK_US * 1000:
            remarks.add(Remark.SHORT_BREAK)
        if first_ns is not None and mark_ns < SHORTEST_MARK_AFTER_BREAK_US * 1000:
            remarks.add(Remark.SHORT_MARK)
    if start_code:
        remarks.add(Remark.OTHER_START_CODE)
    in_order = tuple(remark for remark in Remark if remark in remarks)
    return ReceivedPacket(began_ns, break_ns, mark_ns, start_code, bytes(partial.content[1:]), in_order)


def _remarks_on_period(period_ns: int) -> set[Remark]:
    remarks = set()
    if period_ns < SHORTEST_BREAK_TO_BREAK_US * 1000:
        remarks.add(Remark.TOO_SOON)
    if period_ns > LONGEST_BREAK_TO_BREAK_US * 1000:
        remarks.add(Remark.LATE)
    if period_ns > LOSS_NS:
        remarks.add(Remark.LOST)
    return remarks
