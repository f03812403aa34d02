"""The receiver that the outputs are judged by is itself judged: it must see what is illegal."""

from __future__ import annotations

import pytest

from tests.output.receiver import Break, Data, Event, Fault, receive

US = 1000


def packet(at_us: int, slots: int = 24, break_us: int = 92, mark_us: int = 12) -> list[Event]:
    """Return the events of one packet that starts at a time."""
    off_us = at_us + break_us
    content = bytes([0, *range(1, slots + 1)]) if slots < 256 else bytes(slots + 1)
    return [Break(at_us * US, True), Break(off_us * US, False), Data((off_us + mark_us) * US, content)]


def test_the_shortest_legal_packets_are_heard_without_fault() -> None:
    # ANSI E1.11-2008 (R2018): 92 + 12 + 25 x 44 us are 1204 us, the least from break to break.
    first, second = receive([*packet(0), *packet(1204)])
    assert (first.start_code, first.slots, first.faults) == (0, bytes(range(1, 25)), ())
    assert (first.break_ns, first.mark_ns, second.started_ns) == (92_000, 12_000, 1_204_000)


@pytest.mark.parametrize(
    ("events", "faults"),
    [
        ([*packet(0, break_us=91), *packet(1300)], [Fault.SHORT_BREAK]),
        ([*packet(0, mark_us=11), *packet(1300)], [Fault.SHORT_MARK]),
        ([*packet(0, slots=513), *packet(30_000)], [Fault.TOO_MANY_SLOTS]),
        ([*packet(0, slots=10), *packet(1203)], [Fault.TOO_SOON]),
        ([*packet(0), *packet(1_000_001)], [Fault.TOO_LATE]),
        ([*packet(0, slots=512), *packet(22_675)], [Fault.CUT]),
        ([Data(0, b"\x00\x01"), *packet(2000)], [Fault.NO_BREAK]),
        ([Break(0, True), Break(100 * US, False), *packet(2000)], [Fault.EMPTY]),
    ],
)
def test_an_illegal_packet_is_seen(events: list[Event], faults: list[Fault]) -> None:
    assert list(receive(events)[0].faults) == faults
    assert receive(events)[1].faults == ()


def test_bytes_in_pieces_are_one_packet() -> None:
    events = [*packet(0, slots=1), Data(5000 * US, b"\x07\x08")]
    assert [one.slots for one in receive(events)] == [b"\x01\x07\x08"]
