"""The simulated line: the code that drives hardware, into a receiver, through pyserial."""

from __future__ import annotations

import sys
import threading
from itertools import pairwise

import pytest
import serial
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.clock import Clock, ManualClock, MonotonicClock
from cuedeck.output.base import Line, OutputLost
from cuedeck.output.handlers import line_named, plug_in, receiver_of
from cuedeck.output.receiver import Remark
from cuedeck.output.serial_line import SerialLine
from cuedeck.output.simulated_line import Format, SimulatedLine
from cuedeck.output.targets import output_for
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show
from tests.output.ports import FULL, packet, wire
from tests.output.receiver import receive
from tests.waiting import LONGEST_WAIT_S

PATCH = build_patch(load_show(b"cuedeck: 1\nrig: {lamp: {type: dimmer, address: 1.1}}\n").show)
US = 1000
BREAKS = [None, 50_000, 90_909]


@pytest.mark.parametrize("break_baud", BREAKS)
@pytest.mark.parametrize("clock", [ManualClock(), MonotonicClock()], ids=["manual", "monotonic"])
@pytest.mark.parametrize("slots", [24, 512])
def test_the_serial_line_is_heard_without_a_remark(clock: Clock, break_baud: int | None, slots: int) -> None:
    name = f"heard-{break_baud}-{slots}-{type(clock).__name__}"
    output = SerialLine(f"simulator://{name}", clock, break_baud=break_baud)
    output.open(Line((1,), slots, 44.0))
    for number in range(5):
        output.send(packet(number))
    output.close()
    receiver = receiver_of(name)
    assert receiver.last is not None
    heard = [*receiver.packets, receiver.last]
    assert [one.slots for one in heard] == [packet(number).slots.tobytes()[:slots] for number in range(5)]
    assert [one.remarks for one in heard] == [()] * 5


@pytest.mark.parametrize("break_baud", BREAKS)
def test_both_lines_of_the_tests_carry_the_same_at_the_same_time(
    monkeypatch: pytest.MonkeyPatch, break_baud: int | None
) -> None:
    clocks = ManualClock(), ManualClock()
    recorded = wire("both", clocks[0], monkeypatch)
    for port, clock in zip(("recording://both", "simulator://both"), clocks, strict=True):
        output = SerialLine(port, clock, break_baud=break_baud)
        output.open(FULL)
        for number in range(5):
            output.send(packet(number))
            clock.spin_ns(number * 7_000_000)
        output.close()
    theirs = [(one.started_ns, one.break_ns, one.mark_ns, one.slots) for one in receive(recorded.events)]
    receiver = receiver_of("both")
    assert receiver.last is not None
    ours = [(one.began_ns, one.break_ns, one.mark_ns, one.slots) for one in (*receiver.packets, receiver.last)]
    assert ours == theirs


def test_a_target_makes_pyserial_know_the_simulator_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serial, "protocol_handler_packages", ["serial.urlhandler"])
    clock = ManualClock()
    output = output_for("serial:simulator://Bench 2,break=baud", PATCH, clock)
    output.open(FULL)
    output.send(packet(1))
    output.close()
    assert [state.level for state in receiver_of("Bench 2").states(PATCH)] == [packet(1).slots[0, 0] / 255]
    assert line_named("Bench 2").clock is clock
    assert output.name == "serial:simulator://Bench 2,break=baud"


def test_what_a_handler_lacks_is_said_rather_than_that_its_protocol_is_not_known(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "cuedeck.output.handlers.protocol_simulator", None)
    with pytest.raises(ImportError, match="protocol_simulator"):
        plug_in("simulator://lacking", ManualClock())


def test_a_line_stays_with_what_was_heard_until_it_runs_on_another_clock() -> None:
    clock = ManualClock()
    line = plug_in("simulator://stays", clock)
    assert plug_in("simulator://stays", clock) is line
    line.is_open = True
    assert plug_in("simulator://stays", ManualClock()) is line
    line.is_open = False
    assert plug_in("simulator://stays", ManualClock()) is not line


def test_a_write_returns_at_once_and_a_flush_when_the_bytes_are_out() -> None:
    clock = ManualClock()
    plug_in("simulator://times", clock)
    port = serial.serial_for_url("simulator://times", baudrate=250_000, stopbits=2)
    assert port.write(bytes(10)) == 10
    assert (clock.now_ns(), port.out_waiting) == (0, 10)
    clock.wait_until_ns(100 * US)
    assert port.out_waiting == 8
    port.flush()
    assert (clock.now_ns(), port.out_waiting) == (440 * US, 0)
    port.close()


def test_bytes_leave_at_the_baud_rate_and_in_the_format_that_is_set() -> None:
    clock = ManualClock()
    line = SimulatedLine(clock)
    line.set_format(Format(9_600, 10))
    line.write(bytes(96))
    line.flush()
    assert clock.now_ns() == 100_000_000


def test_control_lines_and_reading_answer_quietly() -> None:
    plug_in("simulator://quiet", ManualClock())
    port = serial.serial_for_url("simulator://quiet")
    port.rts = port.dtr = True
    assert (port.cts, port.dsr, port.ri, port.cd, port.in_waiting, port.read(5)) == (False,) * 4 + (0, b"")
    port.reset_input_buffer()
    port.close()
    port.close()
    with pytest.raises(serial.SerialException):
        port.write(b"x")


def test_a_line_that_is_in_use_says_so() -> None:
    one, other = (SerialLine("simulator://busy", ManualClock()) for _ in range(2))
    one.open(FULL)
    words = "^serial:simulator://busy cannot be opened: another program has it, or the player of another show"
    with pytest.raises(OutputLost, match=words):
        other.open(FULL)
    one.close()
    other.open(FULL)
    other.close()


def test_a_baud_rate_that_is_changed_too_early_takes_the_byte_under_way_with_it() -> None:
    clock = ManualClock()
    line = SimulatedLine(clock)
    line.set_format(Format(90_909))
    line.write(b"\0")
    clock.spin_ns(44 * US)  # 4 of its 11 bits are out; the five low ones that are left last 4 us each
    line.set_format(Format(250_000))
    line.write(b"\0\1\2")
    line.flush()
    heard = line.receiver.last
    assert heard is not None
    assert heard.break_ns == pytest.approx(64 * US, abs=10)
    assert heard.mark_ns == pytest.approx(8 * US, abs=10)
    assert heard.slots == b"\1\2"
    assert heard.remarks == (Remark.SHORT_BREAK, Remark.SHORT_MARK)


def test_a_packet_that_is_caught_by_another_baud_rate_is_not_level_data() -> None:
    clock = ManualClock()
    line = SimulatedLine(clock)
    line.set_break(True)
    clock.spin_ns(100 * US)
    line.set_break(False)
    clock.spin_ns(12 * US)
    line.write(bytes([0, 1, 2, 3]))
    clock.spin_ns(50 * US)
    line.set_format(Format(50_000))
    line.flush()
    heard = line.receiver.last
    assert heard is not None
    assert Remark.WRONG_BAUD in heard.remarks
    assert not heard.is_levels


def test_a_break_swallows_the_bytes_under_it() -> None:
    clock = ManualClock()
    line = SimulatedLine(clock)
    line.set_break(True)
    clock.spin_ns(100 * US)
    line.set_break(False)
    clock.spin_ns(12 * US)
    line.write(bytes(range(20)))
    clock.spin_ns(44 * US * 10 + 1)
    line.set_break(True)
    clock.spin_ns(100 * US)
    line.set_break(False)
    line.flush()
    (cut,) = line.receiver.packets
    assert (cut.slots, cut.remarks) == (bytes(range(1, 10)), (Remark.CUT,))
    last = line.receiver.last
    assert last is not None
    assert bytes([last.start_code or 0]) + last.slots == bytes(range(13, 20))


actions = st.one_of(
    st.binary(max_size=40).map(lambda content: ("write", content)),
    st.booleans().map(lambda is_low: ("break", is_low)),
    st.sampled_from((9_600, 50_000, 90_909, 250_000, 1_000_000)).map(lambda baud: ("baud", baud)),
    st.integers(0, 3_000_000).map(lambda ns: ("wait", ns)),
    st.sampled_from((("flush", 0), ("drop", 0))),
)


@given(st.lists(actions, max_size=40))
def test_whatever_is_done_to_a_line_its_receiver_hears_it_in_order(done: list[tuple[str, object]]) -> None:
    clock = ManualClock()
    line = SimulatedLine(clock)
    for what, value in done:
        match what, value:
            case "write", bytes(content):
                line.write(content)
            case "break", bool(is_low):
                line.set_break(is_low)
            case "baud", int(baud):
                line.set_format(Format(baud))
            case "wait", int(ns):
                clock.spin_ns(ns)
            case "flush", _:
                line.flush()
                assert line.waiting == 0
            case _:
                line.drop()
    line.flush()
    began = [one.began_ns for one in line.receiver.packets]
    assert all(before <= after for before, after in pairwise(began))
    assert all(len(one.slots) <= 512 and one.break_ns >= 0 for one in line.receiver.packets)


def test_a_line_may_be_looked_at_from_another_thread_while_packets_leave() -> None:
    clock = MonotonicClock()
    output = SerialLine("simulator://threads", clock)
    output.open(Line((1,), 24, 830.0))
    is_over = threading.Event()
    looks: list[int] = []

    def look() -> None:
        while not is_over.is_set():
            receiver = receiver_of("threads")
            looks.append(len([state.level for state in receiver.states(PATCH)]))

    looker = threading.Thread(target=look)
    looker.start()
    for number in range(50):
        output.send(packet(number))
    is_over.set()
    looker.join(LONGEST_WAIT_S)
    output.close()
    assert set(looks) == {1}
    receiver = receiver_of("threads")
    assert receiver.last is not None
    assert receiver.last.slots == packet(49).slots.tobytes()[:24]
