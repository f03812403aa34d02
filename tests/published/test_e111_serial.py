"""What the serial line puts on the wire, against ANSI E1.11-2008 (R2018), transmitter timing."""

from __future__ import annotations

from itertools import pairwise

import pytest

from cuedeck.clock import Clock, ManualClock, MonotonicClock
from cuedeck.output.base import Line
from cuedeck.output.serial_line import BREAK_BAUD, SerialLine
from cuedeck.timing.line import FASTEST_BREAK_BAUD, slow_zero_us
from tests.output.handlers.protocol_recording import Wire
from tests.output.ports import packet, wire
from tests.output.receiver import Received, receive

# ANSI E1.11-2008 (R2018): break 92 us or more, mark after break 12 us or more.
SHORTEST_BREAK_NS = 92_000
SHORTEST_MARK_NS = 12_000


SHORTEST_PERIOD_NS = 1_204_000
# Both ways of making a break: by the break condition, and by a zero byte at a lower baud rate.
BREAKS = [None, 50_000, 90_909]


def sent(
    clock: Clock, patch: pytest.MonkeyPatch, slots: int, packets: int, break_baud: int | None = None
) -> tuple[Wire, list[Received]]:
    """Send packets as fast as the line takes them, and return what a receiver makes of it."""
    line = wire("e111", clock, patch)
    output = SerialLine("recording://e111", clock, break_baud=break_baud)
    output.open(Line((1,), slots, 44.0))
    for number in range(packets):
        output.send(packet(number))
    output.close()
    return line, receive(line.events)


@pytest.mark.parametrize("break_baud", BREAKS)
def test_the_port_is_set_to_250_kilobits_8_data_bits_2_stop_bits_and_no_parity(
    monkeypatch: pytest.MonkeyPatch, break_baud: int | None
) -> None:
    # ANSI E1.11-2008 (R2018): 250 kbit/s; a slot is a start bit, 8 data bits and 2 stop bits, no parity.
    line, _ = sent(ManualClock(), monkeypatch, 512, 1, break_baud)
    assert line.settings == {
        "baudrate": 250_000,
        "bytesize": 8,
        "parity": "N",
        "stopbits": 2,
        "xonxoff": False,
        "rtscts": False,
        "dsrdtr": False,
    }


@pytest.mark.parametrize("break_baud", BREAKS)
@pytest.mark.parametrize("slots", [24, 25, 128, 512])
def test_break_and_mark_are_no_shorter_than_the_least_and_no_packet_is_illegal(
    monkeypatch: pytest.MonkeyPatch, slots: int, break_baud: int | None
) -> None:
    _, heard = sent(ManualClock(), monkeypatch, slots, 10, break_baud)
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


@pytest.mark.parametrize("break_baud", BREAKS)
def test_on_the_clock_of_the_machine_break_and_mark_are_no_shorter_either(
    monkeypatch: pytest.MonkeyPatch, break_baud: int | None
) -> None:
    # Lower bounds only: how much longer they are is up to the machine.
    _, heard = sent(MonotonicClock(), monkeypatch, 24, 50, break_baud)
    assert len(heard) == 50
    assert min(one.break_ns for one in heard) >= SHORTEST_BREAK_NS
    assert min(one.mark_ns for one in heard) >= SHORTEST_MARK_NS
    assert [one.slots for one in heard] == [packet(number).slots.tobytes()[:24] for number in range(50)]


# Computed from ANSI E1.11-2008 (R2018), a slot of 1 start, 8 data and 2 stop bits: of a zero byte nine bits are low
# and two high. Baud rate, break in us, mark after break in us, and whether a transmitter may send that. The pair of
# 90 909 baud was seen in print.
ZEROS = [
    (96_000, 93.8, 20.8, True),
    (90_909, 99.0, 22.0, True),
    (83_333, 108.0, 24.0, True),
    (76_800, 117.2, 26.0, True),
    (57_600, 156.2, 34.7, True),
    (50_000, 180.0, 40.0, True),
    (115_200, 78.1, 17.4, False),
]


@pytest.mark.parametrize(("baud", "break_us", "mark_us", "is_legal"), ZEROS)
def test_a_zero_byte_at_a_lower_baud_rate_is_a_break_and_a_mark(
    baud: int, break_us: float, mark_us: float, is_legal: bool
) -> None:
    assert [float(one) for one in slow_zero_us(baud)] == pytest.approx([break_us, mark_us], abs=0.06)
    assert (baud <= FASTEST_BREAK_BAUD) is is_legal
    assert (break_us * 1000 >= SHORTEST_BREAK_NS and mark_us * 1000 >= SHORTEST_MARK_NS) is is_legal


@pytest.mark.parametrize(("baud", "break_us", "mark_us"), [row[:3] for row in ZEROS if row[3]])
def test_on_the_line_the_break_is_whole_and_the_mark_at_least(
    monkeypatch: pytest.MonkeyPatch, baud: int, break_us: float, mark_us: float
) -> None:
    _, heard = sent(ManualClock(), monkeypatch, 24, 3, baud)
    assert [one.break_ns / 1000 for one in heard] == pytest.approx([break_us] * 3, abs=0.06)
    assert min(one.mark_ns for one in heard) >= int(mark_us * 1000)


def test_breaks_are_made_at_90909_baud_unless_it_is_said() -> None:
    assert BREAK_BAUD == 90_909


@pytest.mark.parametrize("break_baud", BREAKS)
@pytest.mark.parametrize("flush_is_early", [False, True])
def test_24_slots_never_come_sooner_than_1204_microseconds_whatever_a_flush_says(
    monkeypatch: pytest.MonkeyPatch, break_baud: int | None, flush_is_early: bool
) -> None:
    # ANSI E1.11-2008 (R2018): break to break 1204 us or more, which is 24 slots at the least timing. That some
    # drivers call a byte out when the adapter has it is common practice, no source.
    clock = ManualClock()
    line = wire("e111", clock, monkeypatch)
    line.flush_is_early = flush_is_early
    output = SerialLine("recording://e111", clock, break_baud=break_baud)
    output.open(Line((1,), 24, 830.0))
    for number in range(20):
        output.send(packet(number))
    output.close()
    heard = receive(line.events)
    assert [one.slots for one in heard] == [packet(number).slots.tobytes()[:24] for number in range(20)]
    assert [one.faults for one in heard] == [()] * 20
    assert min(after.started_ns - before.started_ns for before, after in pairwise(heard)) >= SHORTEST_PERIOD_NS
    assert clock.now_ns() >= line.free_ns
