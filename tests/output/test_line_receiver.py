"""The receiver of the simulated line, judged by the tests' own, which shares no code with it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.output.receiver import ReceivedPacket, Receiver, Remark
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show
from tests.output.receiver import Break, Data, Event, Fault, receive

US = 1000
SECOND = 1_000_000_000

SHOW = b"""cuedeck: 1
types:
  two-tone-panel:
    channels: [intensity 16-bit, colour temperature]
    colour temperature: {low: 2800 K, high: 6500 K}
rig:
  rim left: {type: two-tone-panel, address: 1.1}
  fill: {type: dimmer, address: 1.30}
  backdrop: {type: dimmer, address: 2.1}
"""
PATCH = build_patch(load_show(SHOW).show)


def tell(receiver: Receiver, content: bytes, at_us: int = 0, break_us: int = 92, mark_us: int = 12) -> None:
    """Tell a receiver of one packet."""
    receiver.break_began(at_us * US)
    receiver.break_ended((at_us + break_us) * US)
    receiver.bytes_came((at_us + break_us + mark_us) * US, content, 250_000)


def heard(*tellings: Callable[[Receiver], None]) -> list[ReceivedPacket]:
    """Return what a receiver heard, the last packet ended by a break long after it."""
    receiver = Receiver()
    for telling in tellings:
        telling(receiver)
    receiver.break_began(1_000 * SECOND)
    return list(receiver.packets)


def test_the_shortest_packets_of_the_standard_are_heard_without_a_remark() -> None:
    # ANSI E1.11-2008 (R2018): 92 + 12 + 25 x 44 us are 1204 us.
    content = bytes(range(25))
    first, second = heard(lambda r: tell(r, content), lambda r: tell(r, content, at_us=1204))
    assert first == ReceivedPacket(0, 92_000, 12_000, 0, content[1:], ())
    assert (second.began_ns, second.remarks) == (1_204_000, ())
    assert first.is_levels


@pytest.mark.parametrize(
    ("telling", "remarks", "is_levels"),
    [
        (lambda r: tell(r, bytes(25), break_us=91), (Remark.SHORT_BREAK,), True),
        (lambda r: tell(r, bytes(25), break_us=87), (Remark.SHORT_BREAK,), False),
        (lambda r: tell(r, bytes(25), mark_us=11), (Remark.SHORT_MARK,), True),
        (lambda r: tell(r, bytes(25), mark_us=7), (Remark.SHORT_MARK,), False),
        (lambda r: tell(r, bytes(514)), (Remark.TOO_MANY_SLOTS,), True),
        (lambda r: tell(r, b"\xcc" + bytes(24)), (Remark.OTHER_START_CODE,), False),
        (lambda r: tell(r, b""), (Remark.EMPTY,), False),
        (lambda r: r.bytes_came(0, bytes(25), 250_000), (Remark.NO_BREAK,), False),
        (lambda r: r.bytes_came(0, b"\x55", 57_600), (Remark.NO_BREAK, Remark.WRONG_BAUD, Remark.EMPTY), False),
        (lambda r: r.bytes_came(0, b"\0", 500_000), (Remark.NO_BREAK, Remark.WRONG_BAUD, Remark.EMPTY), False),
        (lambda r: r.bytes_came(0, b"\0", 115_200), (Remark.SHORT_BREAK, Remark.EMPTY), False),
        (lambda r: r.bytes_came(0, b"\0", 50_000), (Remark.EMPTY,), False),
    ],
)
def test_what_is_outside_the_standard_is_remarked(
    telling: Callable[[Receiver], None], remarks: tuple[Remark, ...], is_levels: bool
) -> None:
    # ANSI E1.11-2008 (R2018): a transmitter keeps 92 us and 12 us; a receiver has to hear from 88 us and 8 us on.
    (packet,) = heard(telling)
    assert (packet.remarks, packet.is_levels) == (remarks, is_levels)


@pytest.mark.parametrize(
    ("period_us", "remarks"),
    [
        (1_203, (Remark.TOO_SOON,)),
        (1_204, ()),
        (1_000_000, ()),
        (1_000_001, (Remark.LATE,)),
        (1_250_000, (Remark.LATE,)),
        (1_250_001, (Remark.LATE, Remark.LOST)),
    ],
)
def test_breaks_come_no_sooner_than_1204_microseconds_and_no_later_than_a_second(
    period_us: int, remarks: tuple[Remark, ...]
) -> None:
    # ANSI E1.11-2008 (R2018): a transmitter repeats within 1 s; a receiver gives the line up after 1.25 s.
    _, second = heard(lambda r: tell(r, bytes(10)), lambda r: tell(r, bytes(10), at_us=period_us))
    assert second.remarks == remarks


def test_a_baud_rate_within_two_percent_is_that_of_the_line() -> None:
    # ANSI E1.11-2008 (R2018): 245 to 255 kbit/s.
    for baud, is_heard in ((244_999, False), (245_000, True), (255_000, True), (255_001, False)):
        receiver = Receiver()
        tell(receiver, b"")
        receiver.bytes_came(200 * US, b"\1", baud)
        assert (receiver.last is not None) is is_heard


def test_a_break_takes_the_bytes_that_are_not_out_and_is_remarked() -> None:
    receiver = Receiver()
    tell(receiver, bytes(513))
    receiver.break_began((92 + 12 + 44 * 100 + 1) * US)
    (packet,) = receiver.packets
    assert (len(packet.slots), packet.remarks) == (99, (Remark.CUT,))


def test_the_line_is_lost_when_no_break_came_for_1250_milliseconds() -> None:
    receiver = Receiver()
    assert receiver.is_lost(0)
    tell(receiver, bytes(25))
    assert not receiver.is_lost(1_250_000_000)
    assert receiver.is_lost(1_250_000_001)


def test_each_light_of_its_universe_is_what_it_makes_of_the_last_packet() -> None:
    receiver = Receiver()
    tell(receiver, bytes([0, 0x80, 0x00, 255, *[0] * 26, 51]))
    rim, fill = receiver.states(PATCH)
    assert (rim.name, rim.level, rim.kelvin) == ("rim left", 0x8000 / 65535, 6500)
    assert (fill.name, fill.level) == ("fill", 0.2)


def test_the_same_line_means_other_lights_where_it_carries_another_universe() -> None:
    receiver = Receiver()
    tell(receiver, bytes([0, 51]))
    (backdrop,) = receiver.states(PATCH, universe=2)
    assert (backdrop.name, backdrop.level) == ("backdrop", 0.2)


def test_a_light_keeps_what_it_had_where_a_packet_is_too_short_or_no_level_data() -> None:
    receiver = Receiver()
    tell(receiver, bytes([0, *[0] * 29, 255]))
    tell(receiver, bytes([0, 255, *[0] * 23]), at_us=10_000)
    tell(receiver, bytes([0x17, *[9] * 40]), at_us=20_000)
    tell(receiver, bytes([0, *[9] * 40]), at_us=30_000, break_us=80)
    assert [round(state.level, 2) for state in receiver.states(PATCH)] == [1.0, 1.0]


def test_packets_are_counted_but_not_kept_for_ever() -> None:
    receiver = Receiver(packets_kept=10)
    for number in range(100):
        tell(receiver, b"\xcc", at_us=number * 2000)
    assert (receiver.count, len(receiver.packets)) == (99, 10)
    assert receiver.remarks == {Remark.OTHER_START_CODE: 99}


OWN = {
    Fault.SHORT_BREAK: Remark.SHORT_BREAK,
    Fault.SHORT_MARK: Remark.SHORT_MARK,
    Fault.NO_BREAK: Remark.NO_BREAK,
    Fault.TOO_MANY_SLOTS: Remark.TOO_MANY_SLOTS,
    Fault.CUT: Remark.CUT,
    Fault.EMPTY: Remark.EMPTY,
}
"""The remarks on a packet alone, in the words of the other receiver."""
PERIODS = {Fault.TOO_SOON: Remark.TOO_SOON, Fault.TOO_LATE: Remark.LATE}
"""Those on the time between two; the other receiver holds them against the first, this one against the second."""

packets = st.tuples(
    st.integers(50, 300), st.integers(0, 30), st.binary(max_size=520), st.sampled_from((0, 3, 500, 999_000, 1_300_000))
)


@given(st.lists(packets, min_size=1, max_size=6), st.booleans())
def test_both_receivers_hear_the_same(parts: list[tuple[int, int, bytes, int]], begins_in_a_packet: bool) -> None:
    events: list[Event] = [Data(0, b"\0\1\2")] if begins_in_a_packet else []
    at_us = 1_000
    for break_us, mark_us, content, gap_us in parts:
        events += [Break(at_us * US, True), Break((at_us + break_us) * US, False)]
        at_us += break_us + mark_us
        if content:
            events.append(Data(at_us * US, content))
        at_us += 44 * len(content) + gap_us
    events.append(Break(at_us * US, True))
    assert_alike(events)


@given(st.integers(50, 300), st.binary(min_size=2, max_size=513), st.integers(150, 20_000))
def test_both_receivers_see_a_break_that_cuts_a_packet(break_us: int, content: bytes, next_us: int) -> None:
    begun: list[Event] = [Break(0, True), Break(break_us * US, False), Data((break_us + 12) * US, content)]
    assert_alike([*begun, Break((break_us + next_us) * US, True)])


def assert_alike(events: list[Event]) -> None:
    receiver = Receiver()
    for event in events:
        match event:
            case Break(time_ns, True):
                receiver.break_began(time_ns)
            case Break(time_ns, False):
                receiver.break_ended(time_ns)
            case Data(time_ns, content):
                receiver.bytes_came(time_ns, content, 250_000)
    theirs = receive(events)[:-1]
    assert len(receiver.packets) == len(theirs) == receiver.count
    for number, (one, other) in enumerate(zip(receiver.packets, theirs, strict=True)):
        is_whole = Fault.CUT not in other.faults
        assert (one.start_code, one.break_ns, one.mark_ns) == (other.start_code, other.break_ns, other.mark_ns)
        assert one.slots == other.slots[:512] if is_whole else other.slots.startswith(one.slots)
        assert set(one.remarks) & set(OWN.values()) == {OWN[fault] for fault in other.faults if fault in OWN}
        before = theirs[number - 1].faults if number else ()
        is_first = number == 0 or Fault.NO_BREAK in before
        wanted = set() if is_first else {PERIODS[fault] for fault in before if fault in PERIODS}
        assert set(one.remarks) & set(PERIODS.values()) == wanted
