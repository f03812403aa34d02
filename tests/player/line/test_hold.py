"""A light that is held: what goes out, how often, and until when."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np
import pytest

from cuedeck.arrays import Slots
from cuedeck.clock import ManualClock
from cuedeck.output.base import Packet
from cuedeck.player.line.line_out import LineOut
from tests.player.take.test_runner import Written

PERIOD_NS = 25_000_000
START_NS = 5_000_000_000


def slots(first: int) -> Slots:
    """Return the slots of one universe, the first of them given."""
    values = np.zeros((1, 512), dtype=np.uint8)
    values[0, 0] = first
    return values


class Held:
    """A line that is held here, packet by packet, on a clock that is moved by hand."""

    def __init__(self) -> None:
        self.clock = ManualClock(START_NS)
        self.out = Written(self.clock)
        self.line_out = LineOut([self.out])

    def hold(self, packets: int, also: Callable[[int], None] = lambda _: None, refresh_hz: float = 40.0) -> None:
        """Hold until so many packets have left in all, calling `also` with the number of each."""
        self.out.on_packet = lambda packet: also(packet.number)
        self.line_out.hold(self.clock, refresh_hz, slots(255), lambda: len(self.out.packets) >= packets)


def test_the_same_packet_goes_out_at_the_refresh_of_the_line() -> None:
    held = Held()
    held.hold(2400)
    assert held.out.times_ns == [START_NS + number * PERIOD_NS for number in range(2400)]
    assert [packet.due_ns for packet in held.out.packets] == held.out.times_ns
    assert set(held.out.first_slots) == {255}


@pytest.mark.parametrize("refresh_hz", [44.0, 3.3, 830.0])
def test_nothing_drifts_where_periods_are_no_whole_nanoseconds(refresh_hz: float) -> None:
    held = Held()
    held.hold(5000, refresh_hz=refresh_hz)
    assert held.out.times_ns[-1] == START_NS + int(4999 * 1_000_000_000 / Fraction(refresh_hz))


def test_after_a_stall_packets_are_in_time_again_and_none_are_made_up_for() -> None:
    held = Held()
    held.hold(8, lambda number: held.clock.spin_ns(110_000_000) if number == 2 else None)
    assert held.out.numbers == [0, 1, 2, 6, 7, 8, 9, 10]
    assert held.out.times_ns[-1] == START_NS + 10 * PERIOD_NS


def test_it_goes_on_in_the_beat_of_what_was_sent_before() -> None:
    held = Held()
    held.line_out.send(Packet(60, START_NS, slots(1)))
    held.clock.spin_ns(3_000_000)
    held.hold(3)
    assert held.out.times_ns[1:] == [START_NS + PERIOD_NS, START_NS + 2 * PERIOD_NS]


def test_so_many_packets_go_out_and_no_more() -> None:
    held = Held()
    held.line_out.hold(held.clock, 40.0, slots(7), lambda: False, most=3)
    assert held.out.first_slots == [7, 7, 7]
