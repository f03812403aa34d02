"""Time on a DMX line: what ANSI E1.11-2008 (R2018) lets a transmitter do, in microseconds."""

from __future__ import annotations

from fractions import Fraction

BIT_US = 4
SLOT_US = 11 * BIT_US
"""One start bit, eight data bits and two stop bits at 250 kbit/s."""
SHORTEST_BREAK_US = 92
SHORTEST_MARK_AFTER_BREAK_US = 12
SHORTEST_BREAK_TO_BREAK_US = 1204
LONGEST_BREAK_TO_BREAK_US = 1_000_000


def shortest_packet_us(slots: int) -> int:
    """Return the least time from break to break for a start code and so many slots."""
    on_the_line = SHORTEST_BREAK_US + SHORTEST_MARK_AFTER_BREAK_US + SLOT_US * (slots + 1)
    return max(on_the_line, SHORTEST_BREAK_TO_BREAK_US)


def highest_refresh_hz(slots: int) -> Fraction:
    """Return the highest refresh for so many slots, in whole hertz: 44 for a full universe."""
    return Fraction(1_000_000 // shortest_packet_us(slots))


LOWEST_REFRESH_HZ = Fraction(1_000_000, LONGEST_BREAK_TO_BREAK_US)
