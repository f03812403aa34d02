"""A light that is held: what goes out, how often, until when, and what a lost output does."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from cuedeck.clock import ManualClock, MonotonicClock
from cuedeck.errors import Refusal
from cuedeck.output.base import Line, OutputLost, Packet
from cuedeck.output.serial_line import SerialLine
from cuedeck.output.simulator import Simulator
from cuedeck.player.hold import Holding
from cuedeck.player.still import OUT_PACKETS
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show
from tests.output.ports import Pty
from tests.player.test_take import Written

Slots = npt.NDArray[np.uint8]
LINE = Line((1,), 24, 40.0)
PERIOD_NS = 25_000_000
WAIT_S = 10


def slots(first: int) -> Slots:
    """Return the slots of one universe, the first of them given."""
    values = np.zeros((1, 512), dtype=np.uint8)
    values[0, 0] = first
    return values


class Held:
    """A holding that is run here, packet by packet, on a clock that is moved by hand."""

    def __init__(self, *others: Written, ends_dark: bool = True) -> None:
        self.clock = ManualClock(5_000_000_000)
        self.out = Written(self.clock)
        self.lost: list[OutputLost] = []
        self.holding = Holding(
            [self.out, *others],
            LINE,
            self.clock,
            slots(255),
            at_end=slots(0) if ends_dark else None,
            on_lost=self.lost.append,
        )

    def run(self, packets: int, also: Callable[[int], None] = lambda _: None) -> None:
        """Run until so many packets have left, calling `also` with the number of each."""

        def on_packet(packet: Packet) -> None:
            also(packet.number)
            if len(self.out.packets) == packets:
                self.holding.stop()

        self.out.on_packet = on_packet
        self.holding.run()


def test_the_same_packet_goes_out_at_the_refresh_of_the_line_without_drift() -> None:
    held = Held(ends_dark=False)
    held.run(40 * 60)
    assert held.out.times_ns == [5_000_000_000 + number * PERIOD_NS for number in range(2400)]
    assert [packet.due_ns for packet in held.out.packets] == held.out.times_ns
    assert set(held.out.first_slots) == {255}


def test_a_new_packet_takes_the_place_of_the_old_one_with_the_next() -> None:
    held = Held(ends_dark=False)
    events: list[threading.Event] = []
    held.run(10, lambda number: events.append(held.holding.set(slots(7))) if number == 3 else None)
    assert held.out.first_slots == [255] * 4 + [7] * 6
    assert [event.is_set() for event in events] == [True]


def test_what_was_given_may_be_changed_afterwards() -> None:
    held = Held(ends_dark=False)
    mine = slots(9)
    held.holding.set(mine)
    mine[:] = 77
    held.run(2)
    assert held.out.first_slots == [9, 9]


def test_it_ends_with_packets_that_put_the_lights_out() -> None:
    held = Held()
    held.run(5)
    assert held.out.first_slots == [255] * 5 + [0] * OUT_PACKETS
    assert {after - before for before, after in pairwise(held.out.times_ns)} == {PERIOD_NS}


def test_where_the_light_is_to_stay_nothing_follows() -> None:
    held = Held(ends_dark=False)
    held.run(5)
    assert held.out.first_slots == [255] * 5


def test_after_a_stall_packets_are_in_time_again_and_none_are_made_up_for() -> None:
    held = Held(ends_dark=False)
    held.run(8, lambda number: held.clock.spin_ns(110_000_000) if number == 2 else None)
    assert held.out.numbers == [0, 1, 2, 6, 7, 8, 9, 10]
    assert held.out.times_ns[-1] == 5_000_000_000 + 10 * PERIOD_NS


def test_a_lost_output_is_told_once_and_the_others_go_on() -> None:
    clock = ManualClock()

    def lose(packet: Packet) -> None:
        if packet.number >= 3:
            raise OutputLost("the cable was pulled")

    held = Held(Written(clock, "pulled", lose))
    held.run(10)
    assert [str(lost) for lost in held.lost] == ["the cable was pulled"]
    assert isinstance(held.lost[0], Refusal)
    assert len(held.out.packets) == 10 + OUT_PACKETS
    assert held.holding.has_output


def test_it_says_when_no_output_is_left() -> None:
    held = Held()
    assert held.holding.has_output

    def lose(_: Packet) -> None:
        held.holding.stop()
        raise OutputLost("the cable was pulled")

    held.out.on_packet = lose
    held.holding.run()
    assert not held.holding.has_output


# On its own thread, with real outputs.

posix = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are those of POSIX")


@posix
def test_a_line_gets_each_level_and_in_the_end_darkness() -> None:
    clock = MonotonicClock()
    lost: list[OutputLost] = []
    with Pty() as pty:
        line = SerialLine(pty.port, clock)
        with Holding([line], LINE, clock, slots(10), at_end=slots(0), on_lost=lost.append) as holding:
            assert pty.read(25)[:2] == bytes([0, 10])
            assert holding.set(slots(200)).wait(WAIT_S)
        received = b""
        while not pty.is_empty():
            received += pty.read(1)
    firsts = [received[at + 1] for at in range(0, len(received), 25)]
    levels = [level for level, before in zip(firsts, [10, *firsts], strict=False) if level != before]
    assert levels == [200, 0]
    assert firsts[-OUT_PACKETS:] == [0] * OUT_PACKETS
    assert lost == []


@posix
def test_a_line_that_is_pulled_is_told_and_the_simulator_goes_on() -> None:
    patch = build_patch(load_show(b"cuedeck: 1\nslots: 24\nrig: {lamp: {type: dimmer, address: 1.1}}\n").show)
    clock, simulator = MonotonicClock(), Simulator(patch)
    lost: list[OutputLost] = []
    is_lost = threading.Event()

    def on_lost(one: OutputLost) -> None:
        lost.append(one)
        is_lost.set()

    pty = Pty()
    line = SerialLine(pty.port, clock)
    with Holding([line, simulator], LINE, clock, slots(10), at_end=slots(0), on_lost=on_lost) as holding:
        pty.read(25)
        pty.unplug()
        assert is_lost.wait(WAIT_S)
        assert holding.set(slots(51)).wait(WAIT_S)
        assert [state.level for state in simulator.states()] == [0.2]
        assert holding.has_output
    assert [str(one).partition(" was lost")[0] for one in lost] == [line.name]
    assert [state.level for state in simulator.states()] == [0.0]


def test_an_output_that_does_not_open_is_refused_and_no_thread_is_left(tmp_path: Path) -> None:
    clock = MonotonicClock()
    nowhere = SerialLine(str(tmp_path / "nowhere"), clock)
    before = threading.active_count()
    holding = Holding([nowhere], LINE, clock, slots(1), at_end=None, on_lost=lambda _: None)
    with pytest.raises(OutputLost, match="there is no such port"):
        holding.__enter__()
    assert threading.active_count() == before


def test_it_may_be_closed_twice_and_without_having_begun() -> None:
    clock = MonotonicClock()
    out = Written(ManualClock())
    holding = Holding([out], LINE, clock, slots(1), at_end=None, on_lost=lambda _: None)
    with holding:
        holding.set(slots(2)).wait(WAIT_S)
        holding.close()
    holding.close()
    Holding([out], LINE, clock, slots(1), at_end=None, on_lost=lambda _: None).close()
    assert out.first_slots[-1] == 2


def test_a_fault_in_an_output_is_not_swallowed() -> None:
    clock = MonotonicClock()

    def fail(_: Packet) -> None:
        raise ZeroDivisionError

    holding = Holding([Written(ManualClock(), "bad", fail)], LINE, clock, slots(1), at_end=slots(0), on_lost=print)
    with pytest.raises(ZeroDivisionError), holding:
        pass
