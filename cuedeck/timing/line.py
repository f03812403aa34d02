"""Time on a DMX line: what ANSI E1.11-2008 (R2018) lets a transmitter do, in microseconds."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

BIT_US = 4
SLOT_US = 11 * BIT_US
"""One start bit, eight data bits and two stop bits at 250 kbit/s."""
SHORTEST_BREAK_US = 92
SHORTEST_MARK_AFTER_BREAK_US = 12
SHORTEST_BREAK_TO_BREAK_US = 1204
LONGEST_BREAK_TO_BREAK_US = 1_000_000
BREAK_US = SHORTEST_BREAK_US + 8
MARK_AFTER_BREAK_US = SHORTEST_MARK_AFTER_BREAK_US + 4
"""What our own line asks for: a little over the least, which a full universe at 44 Hz leaves 155 us for."""
LOW_BITS_OF_ZERO = 9
"""The start bit and eight zero bits: what a zero byte keeps the line low for, before its two stop bits."""
SLOWEST_BREAK_BAUD = 9_600
FASTEST_BREAK_BAUD = LOW_BITS_OF_ZERO * 1_000_000 // SHORTEST_BREAK_US
"""The highest baud rate at which a zero byte is as long as a break; below the slowest it only wastes the line."""


def slow_zero_us(baud: int) -> tuple[Fraction, Fraction]:
    """Return the break and the mark after break that a zero byte makes at a baud rate with two stop bits."""
    bit_us = Fraction(1_000_000, baud)
    return LOW_BITS_OF_ZERO * bit_us, 2 * bit_us


def shortest_packet_us(slots: int) -> int:
    """Return the least time from break to break for a start code and so many slots."""
    return _packet_us(SHORTEST_BREAK_US + SHORTEST_MARK_AFTER_BREAK_US, slots)


def _packet_us(head_us: int, slots: int) -> int:
    return max(head_us + SLOT_US * (slots + 1), SHORTEST_BREAK_TO_BREAK_US)


def allowed_refresh_hz(slots: int) -> Fraction:
    """Return the highest refresh that is allowed for so many slots, in whole hertz: 44 for a full universe."""
    return Fraction(1_000_000 // shortest_packet_us(slots))


def highest_refresh_hz(slots: int) -> Fraction:
    """Return the highest refresh that our own line reaches, in whole hertz: 44 for 512 slots, 822 for 24."""
    return Fraction(1_000_000 // _packet_us(BREAK_US + MARK_AFTER_BREAK_US, slots))


def camera_refresh_hz(fps: Fraction, slots: int) -> Fraction:
    """Return the highest refresh that our line reaches and at which frames begin at the same point of a packet.

    A whole multiple of the frame rate: so many packets to each frame. Where even one packet a frame is more
    than the slots allow, the highest whole part of it: each packet then lasts the same number of frames.
    """
    highest = highest_refresh_hz(slots)
    return fps * (highest // fps) if fps <= highest else fps / ceil(fps / highest)


def most_slots_at(refresh_hz: Fraction, most: int, fewest: int) -> int | None:
    """Return the most slots that our line sends at a refresh, of `fewest` to `most`; None where none can."""
    return next((slots for slots in range(most, fewest - 1, -1) if highest_refresh_hz(slots) >= refresh_hz), None)


LOWEST_REFRESH_HZ = Fraction(1_000_000, LONGEST_BREAK_TO_BREAK_US)
