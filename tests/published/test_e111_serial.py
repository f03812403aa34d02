"""What the serial line puts on the wire, against ANSI E1.11-2008 (R2018), transmitter timing."""

from __future__ import annotations

from itertools import pairwise

import pytest

from cuedeck.clock import Clock, ManualClock, MonotonicClock
from cuedeck.output.base import Line
from cuedeck.output.serial_line import SerialLine
from tests.output.handlers.protocol_recording import Wire
from tests.output.ports import packet, wire
from tests.output.receiver import Received, receive

# ANSI E1.11-2008 (R2018): break 92 us or more, mark after break 12 us or more.
SHORTEST_BREAK_NS = 92_000
SHORTEST_MARK_NS = 12_000


def sent(clock: Clock, patch: pytest.MonkeyPatch, slots: int, packets: int) -> tuple[Wire, list[Received]]:
    """Send packets as fast as the line takes them, and return what a receiver makes of it."""
    line = wire("e111", clock, patch)
    output = SerialLine("recording://e111", clock)
    output.open(Line((1,), slots, 44.0))
    for number in range(packets):
        output.send(packet(number))
    output.close()
    return line, receive(line.events)


def test_the_port_is_set_to_250_kilobits_8_data_bits_2_stop_bits_and_no_parity(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # ANSI E1.11-2008 (R2018): 250 kbit/s; a slot is a start bit, 8 data bits and 2 stop bits, no parity.
    line, _ = sent(ManualClock(), monkeypatch, 512, 1)
    assert line.settings == {
        "baudrate": 250_000,
        "bytesize": 8,
        "parity": "N",
        "stopbits": 2,
        "xonxoff": False,
        "rtscts": False,
        "dsrdtr": False,
    }


@pytest.mark.parametrize("slots", [24, 25, 128, 512])
def test_break_and_mark_are_no_shorter_than_the_least_and_no_packet_is_illegal(
    monkeypatch: pytest.MonkeyPatch, slots: int
) -> None:
    _, heard = sent(ManualClock(), monkeypatch, slots, 10)
    assert len(heard) == 10
    for number, one in enumerate(heard):
        assert one.break_ns >= SHORTEST_BREAK_NS
        assert one.mark_ns >= SHORTEST_MARK_NS
        assert (one.start_code, one.slots) == (0, packet(number).slots.tobytes()[:slots])
        assert one.faults == ()


def test_a_full_universe_leaves_room_for_44_packets_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    # ANSI E1.11-2008 (R2018): 44 packets a second for 512 slots, so a packet has 22 727 us.
    _, heard = sent(ManualClock(), monkeypatch, 512, 3)
    periods_ns = [after.started_ns - before.started_ns for before, after in pairwise(heard)]
    assert max(periods_ns) <= 1_000_000_000 / 44


def test_on_the_clock_of_the_machine_break_and_mark_are_no_shorter_either(monkeypatch: pytest.MonkeyPatch) -> None:
    # Lower bounds only: how much longer they are is up to the machine.
    _, heard = sent(MonotonicClock(), monkeypatch, 24, 50)
    assert len(heard) == 50
    assert min(one.break_ns for one in heard) >= SHORTEST_BREAK_NS
    assert min(one.mark_ns for one in heard) >= SHORTEST_MARK_NS
    assert [one.slots for one in heard] == [packet(number).slots.tobytes()[:24] for number in range(50)]
