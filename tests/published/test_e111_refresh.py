"""How often a packet can be sent, against ANSI E1.11-2008 (R2018), transmitter timing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.timing.line import (
    LONGEST_BREAK_TO_BREAK_US,
    LOWEST_REFRESH_HZ,
    SHORTEST_BREAK_TO_BREAK_US,
    SLOT_US,
    allowed_refresh_hz,
    highest_refresh_hz,
    shortest_packet_us,
)

# ANSI E1.11-2008 (R2018): break 92 us, mark after break 12 us, slots of 44 us, break to break 1204 us or more.
# Rows computed from these: slots, shortest packet in us, packets a second.
ROWS = [
    (1, 1204, 830.56),
    (24, 1204, 830.56),
    (25, 1248, 801.28),
    (64, 2964, 337.38),
    (128, 5780, 173.01),
    (256, 11412, 87.63),
    (512, 22676, 44.10),
]


@pytest.mark.parametrize(("slots", "packet_us", "rate_hz"), ROWS)
def test_the_shortest_packet(slots: int, packet_us: int, rate_hz: float) -> None:
    assert shortest_packet_us(slots) == packet_us
    assert 1e6 / shortest_packet_us(slots) == pytest.approx(rate_hz, abs=5e-3)


@pytest.mark.parametrize(
    ("slots", "rate_hz"), [(1, 830), (24, 830), (25, 801), (64, 337), (128, 173), (256, 87), (512, 44)]
)
def test_the_highest_refresh_that_is_allowed_in_whole_hertz(slots: int, rate_hz: int) -> None:
    # ANSI E1.11-2008 (R2018): 44 packets a second for 512 slots.
    assert allowed_refresh_hz(slots) == rate_hz


@pytest.mark.parametrize(
    ("slots", "rate_hz"), [(1, 830), (24, 822), (25, 793), (64, 336), (128, 172), (256, 87), (512, 44)]
)
def test_the_highest_refresh_with_a_break_of_100_and_a_mark_of_16_microseconds(slots: int, rate_hz: int) -> None:
    # Computed: 1e6 / max(100 + 16 + 44 (n + 1), 1204), rounded down.
    assert highest_refresh_hz(slots) == rate_hz


def test_a_slot_is_eleven_bits_at_250_kilobits() -> None:
    assert SLOT_US == 44


def test_from_break_to_break_is_1204_microseconds_to_one_second() -> None:
    assert SHORTEST_BREAK_TO_BREAK_US == 1204
    assert LONGEST_BREAK_TO_BREAK_US == 1_000_000
    assert LOWEST_REFRESH_HZ == 1


@given(st.integers(1, 512))
def test_at_the_highest_refresh_every_packet_fits(slots: int) -> None:
    period_us = 1_000_000 / allowed_refresh_hz(slots)
    assert period_us >= shortest_packet_us(slots) >= 92 + 12 + 44 * (slots + 1)
    assert 1_000_000 / (allowed_refresh_hz(slots) + 1) < shortest_packet_us(slots)
    assert 1_000_000 / highest_refresh_hz(slots) >= max(100 + 16 + 44 * (slots + 1), 1204)
