"""Outlets: real threads, outputs that block and fail, and a serial port that goes and comes back."""

from __future__ import annotations

import os
import queue
import threading
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest

from cuedeck.clock import ManualClock
from cuedeck.output import outlet as outlet_module
from cuedeck.output.base import Line, OutputLost, Packet
from cuedeck.output.outlet import RETRY_S, TRANSITIONS, Handed, Outlet, OutletEvent, OutletState
from cuedeck.output.serial_line import SerialLine
from tests.output.outputs import WAIT_S, Driven
from tests.output.ports import FULL, Pty, packet

TWO = Line((1, 2), 512, 44.0)
OTHER = Line((2,), 512, 44.0)
needs_a_pty = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are not on Windows")


class Bench:
    """Outlets of a test, which are closed behind it, and what they have told."""

    def __init__(self) -> None:
        self.clock = ManualClock(7_000_000_000)
        self.told: queue.SimpleQueue[str] = queue.SimpleQueue()
        self.tellers: list[str] = []
        self._outlets: list[Outlet] = []

    def outlet(self, output: Driven | SerialLine, line: Line | None = FULL, *, must: bool = True) -> Outlet:
        """Return an outlet that does not wait between its tries, open unless it is to have no line."""
        outlet = Outlet(output, self.clock, self.tell, retry_s=(0.001,))
        self._outlets.append(outlet)
        if line is not None:
            outlet.open(line, must=must)
        return outlet

    def tell(self, words: str) -> None:
        """Keep what is told, and on which thread."""
        self.tellers.append(threading.current_thread().name)
        self.told.put(words)

    def heard(self) -> str:
        """Return the next words, when they come."""
        return self.told.get(timeout=WAIT_S)

    def close(self) -> None:
        """Close all outlets."""
        for outlet in self._outlets:
            outlet.close()


@pytest.fixture
def bench() -> Iterator[Bench]:
    one = Bench()
    yield one
    one.close()


def numbers(outlet: Outlet) -> tuple[int, int]:
    """Return how many packets were sent and how many missed."""
    tally = outlet.tally
    return tally.sent, tally.missed


both_kinds = pytest.mark.parametrize("is_prompt", [False, True], ids=["with a thread", "prompt"])


@both_kinds
def test_what_is_handed_over_leaves_in_order(bench: Bench, is_prompt: bool) -> None:
    output = Driven(is_prompt=is_prompt)
    outlet = bench.outlet(output)
    for number in range(5):
        outlet.send(packet(number))
        assert outlet.settle(WAIT_S)
    assert output.sent == [0, 1, 2, 3, 4]
    assert numbers(outlet) == (5, 0)
    assert output.faults == []


def test_a_prompt_output_is_called_in_place_and_again_when_it_is_back(bench: Bench) -> None:
    output = Driven("at hand", is_prompt=True)
    outlet = bench.outlet(output)
    outlet.send(packet(0))
    assert output.sent == [0]
    output.error = OutputLost("at hand was lost: nobody knows")
    outlet.send(packet(1))
    here = threading.current_thread().name
    assert set(output.threads) == {here}
    output.error = None
    assert [bench.heard(), bench.heard()][1] == "at hand is back"
    assert output.threads[-1] == "at hand"
    while not outlet.settle(0) or output.sent[-1] != 2:
        outlet.send(packet(2))
    outlet.send(packet(3))
    assert output.sent[-1] == 3
    assert output.threads[-1] == here


def test_any_other_is_called_on_a_daemon_thread_that_is_named_after_it(bench: Bench) -> None:
    output = Driven("far away")
    outlet = bench.outlet(output)
    outlet.send(packet(0))
    assert outlet.settle(WAIT_S)
    assert output.threads == ["far away", "far away"]
    assert [thread.daemon for thread in threading.enumerate() if thread.name == "far away"] == [True]


def test_an_output_that_is_held_up_keeps_nobody_waiting(bench: Bench) -> None:
    held, free = Driven("held"), Driven("free")
    held_outlet, free_outlet = bench.outlet(held), bench.outlet(free)
    held.gate.clear()
    held_outlet.send(packet(0))
    held.wait_for(0)
    for number in range(1, 6):
        held_outlet.send(packet(number))
        free_outlet.send(packet(number))
        free.wait_for(number)
    assert held.sent == []
    assert numbers(held_outlet) == (0, 4)
    assert not held_outlet.settle(0)
    held.gate.set()
    assert held_outlet.settle(WAIT_S)
    assert held.sent == [0, 5]
    assert numbers(held_outlet) == (2, 4)
    assert free_outlet.settle(WAIT_S)
    assert free.sent == [1, 2, 3, 4, 5]
    assert numbers(free_outlet) == (5, 0)


@both_kinds
def test_a_lost_output_is_told_once_and_tried_until_it_is_back(bench: Bench, is_prompt: bool) -> None:
    output = Driven("lamp line", is_prompt=is_prompt)
    outlet = bench.outlet(output)
    outlet.send(packet(0))
    assert outlet.settle(WAIT_S)
    output.opening_error = OutputLost("lamp line cannot be opened: it is not there")
    output.error = OutputLost("lamp line was lost: cable pulled")
    outlet.send(packet(1))
    assert bench.heard() == "lamp line was lost: cable pulled; it is tried again"
    for number in range(2, 5):
        outlet.send(packet(number))
    assert outlet.settle(WAIT_S)
    assert outlet.tally.lost == "lamp line was lost: cable pulled"
    assert numbers(outlet) == (1, 4)
    for _ in range(3):
        output.wait_for(FULL)
    output.error = output.opening_error = None
    assert bench.heard() == "lamp line is back"
    assert output.closes >= 1, "what was lost is let go of before it is opened again"
    assert output.sent == [0, 4]
    outlet.send(packet(5))
    assert outlet.settle(WAIT_S)
    assert output.sent == [0, 4, 5]
    assert bench.told.empty()
    assert bench.tellers == ["lamp line"] * 2
    tally = outlet.tally
    assert (tally.sent, tally.missed, tally.times_lost, tally.lost) == (2, 4, 1, "")
    assert tally.incidents == ("lamp line was lost: cable pulled; it is tried again",)
    assert output.faults == []


@both_kinds
def test_an_output_that_opens_but_cannot_send_is_not_back(bench: Bench, is_prompt: bool) -> None:
    output = Driven(is_prompt=is_prompt)
    outlet = bench.outlet(output)
    output.error = OutputLost("driven was lost: network is down")
    outlet.send(packet(0))
    bench.heard()
    for _ in range(4):
        output.wait_for(0)
    assert bench.told.empty()
    assert outlet.tally.times_lost == 1
    assert outlet.tally.lost
    output.error = None
    assert bench.heard() == "driven is back"
    assert output.sent == [0]
    assert numbers(outlet) == (0, 1)


@both_kinds
def test_a_bug_in_an_output_is_a_loss_and_ends_nothing(bench: Bench, is_prompt: bool) -> None:
    output = Driven(is_prompt=is_prompt)
    outlet = bench.outlet(output)
    output.error = ZeroDivisionError("division by zero")
    outlet.send(packet(0))
    assert bench.heard() == "driven was lost: division by zero; it is tried again"
    output.error = KeyError()
    output.wait_for(0)
    output.error = None
    assert bench.heard() == "driven is back"
    outlet.send(packet(1))
    assert outlet.settle(WAIT_S)
    assert output.sent == [0, 1]


@both_kinds
def test_whoever_is_told_may_fail(is_prompt: bool) -> None:
    told: queue.SimpleQueue[str] = queue.SimpleQueue()

    def tell(words: str) -> None:
        told.put(words)
        raise RuntimeError("nobody listens")

    output = Driven(is_prompt=is_prompt)
    outlet = Outlet(output, ManualClock(), tell, retry_s=(0.001,))
    outlet.open(FULL)
    output.error = OutputLost("driven was lost: as told")
    outlet.send(packet(0))
    assert told.get(timeout=WAIT_S)
    output.error = None
    assert told.get(timeout=WAIT_S) == "driven is back"
    outlet.close()


@both_kinds
def test_one_that_must_open_and_does_not_is_refused_and_may_be_opened_later(bench: Bench, is_prompt: bool) -> None:
    output = Driven(is_prompt=is_prompt)
    outlet = bench.outlet(output, None)
    output.opening_error = OutputLost("driven cannot be opened: it is not there")
    with pytest.raises(OutputLost, match=r"^driven cannot be opened: it is not there$"):
        outlet.open(FULL)
    output.opening_error = ValueError("no such thing")
    with pytest.raises(OutputLost, match=r"^driven was lost: no such thing$"):
        outlet.open(FULL)
    outlet.send(packet(0))
    assert outlet.settle(WAIT_S)
    assert (outlet.tally.lost, outlet.tally.times_lost, *numbers(outlet)) == ("", 0, 0, 1)
    assert bench.told.empty()
    output.opening_error = None
    outlet.open(FULL)
    outlet.send(packet(1))
    assert outlet.settle(WAIT_S)
    assert output.sent[-1] == 1


@both_kinds
def test_one_that_need_not_open_is_lost_at_once_and_tried_again(bench: Bench, is_prompt: bool) -> None:
    output = Driven(is_prompt=is_prompt)
    output.opening_error = OutputLost("driven cannot be opened: it is not there")
    outlet = bench.outlet(output, must=False)
    assert outlet.tally.lost == "driven cannot be opened: it is not there"
    assert bench.heard() == "driven cannot be opened: it is not there; it is tried again"
    outlet.send(packet(0))
    output.opening_error = None
    assert bench.heard() == "driven is back"
    assert outlet.settle(WAIT_S)
    assert output.sent == [0]
    assert numbers(outlet) == (0, 1)


@both_kinds
def test_a_line_is_changed_between_two_packets_and_without_letting_go(bench: Bench, is_prompt: bool) -> None:
    output = Driven(is_prompt=is_prompt)
    outlet = bench.outlet(output)
    outlet.send(packet(0))
    outlet.open(TWO)
    outlet.send(packet(1, universes=2))
    assert outlet.settle(WAIT_S)
    assert output.lines == [FULL, TWO]
    assert output.sent_on == [(0, (1,)), (1, (1, 2))]
    assert output.closes == 0
    assert numbers(outlet) == (2, 0)


@both_kinds
def test_a_packet_that_does_not_fit_the_line_is_missed(bench: Bench, is_prompt: bool) -> None:
    output = Driven(is_prompt=is_prompt)
    outlet = bench.outlet(output)
    for number, universes in enumerate([1, 2, 1]):
        outlet.send(packet(number, universes))
        assert outlet.settle(WAIT_S)
    assert output.sent == [0, 2]
    assert output.faults == []
    assert numbers(outlet) == (2, 1)


def test_packets_that_race_with_a_change_of_line_leave_on_the_line_they_were_meant_for(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(outlet_module, "PATIENCE_S", 0.01)
    output = Driven()
    outlet = bench.outlet(output)
    output.gate.clear()
    outlet.send(packet(0))
    output.wait_for(0)
    outlet.send(packet(1))
    outlet.open(OTHER)
    outlet.send(packet(2))
    output.gate.set()
    assert outlet.settle(WAIT_S)
    assert output.sent_on == [(0, (1,)), (2, (2,))]
    assert numbers(outlet) == (2, 1)


def test_a_packet_that_waits_leaves_before_its_line_is_changed(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outlet_module, "PATIENCE_S", 0.01)
    output = Driven()
    outlet = bench.outlet(output)
    output.gate.clear()
    outlet.send(packet(0))
    output.wait_for(0)
    outlet.send(packet(1))
    outlet.open(OTHER)
    output.gate.set()
    output.wait_for(OTHER)
    outlet.send(packet(2))
    assert outlet.settle(WAIT_S)
    assert output.sent_on == [(0, (1,)), (1, (1,)), (2, (2,))]


@both_kinds
def test_a_line_that_cannot_be_changed_over_to_is_a_loss(bench: Bench, is_prompt: bool) -> None:
    output = Driven(is_prompt=is_prompt)
    outlet = bench.outlet(output)
    outlet.send(packet(0))
    assert outlet.settle(WAIT_S)
    output.opening_error = OutputLost("driven cannot carry this")
    outlet.open(TWO)
    assert bench.heard() == "driven cannot carry this; it is tried again"
    outlet.open(FULL)
    output.opening_error = None
    assert bench.heard() == "driven is back"
    assert outlet.settle(WAIT_S)
    assert output.sent == [0, 0], "the look that stands is shown again"
    assert numbers(outlet) == (1, 0)


@both_kinds
def test_a_look_of_another_line_is_not_shown_by_an_output_that_is_back(bench: Bench, is_prompt: bool) -> None:
    output = Driven(is_prompt=is_prompt)
    outlet = bench.outlet(output)
    outlet.send(packet(0))
    assert outlet.settle(WAIT_S)
    output.opening_error = OutputLost("driven cannot carry this")
    outlet.open(OTHER)
    bench.heard()
    output.opening_error = None
    assert bench.heard() == "driven is back"
    assert output.sent_on == [(0, (1,))]


@both_kinds
def test_closing_twice_is_safe_and_later_packets_are_missed(bench: Bench, is_prompt: bool) -> None:
    output = Driven("shut", is_prompt=is_prompt)
    outlet = bench.outlet(output)
    outlet.send(packet(0))
    outlet.close()
    outlet.close()
    outlet.send(packet(1))
    assert outlet.settle(WAIT_S)
    assert output.sent == [0]
    assert output.closes >= 1
    assert numbers(outlet) == (1, 1)
    assert "shut" not in [thread.name for thread in threading.enumerate()]
    with pytest.raises(OutputLost, match=r"^shut was closed$"):
        outlet.open(FULL)


@both_kinds
def test_one_that_was_never_opened_can_be_closed(is_prompt: bool) -> None:
    outlet = Outlet(Driven(is_prompt=is_prompt), ManualClock(), lambda _: None)
    outlet.send(packet(0))
    outlet.close()
    assert numbers(outlet) == (0, 1)


@both_kinds
def test_one_that_is_lost_can_be_closed_at_once(is_prompt: bool) -> None:
    told: queue.SimpleQueue[str] = queue.SimpleQueue()
    output = Driven("lost", is_prompt=is_prompt)
    outlet = Outlet(output, ManualClock(), told.put, retry_s=(1_000_000,))
    outlet.open(FULL)
    output.error = OutputLost("lost was lost: twice over")
    outlet.send(packet(0))
    assert told.get(timeout=WAIT_S)
    outlet.close()
    assert output.closes >= 1
    assert "lost" not in [thread.name for thread in threading.enumerate()]


def test_one_that_does_not_answer_is_left_to_itself(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outlet_module, "PATIENCE_S", 0.01)
    output = Driven("deaf")
    outlet = bench.outlet(output)
    output.gate.clear()
    outlet.send(packet(0))
    output.wait_for(0)
    [thread] = [thread for thread in threading.enumerate() if thread.name == "deaf"]
    outlet.close()
    assert thread.is_alive()
    assert output.closes == 0
    output.gate.set()
    thread.join(WAIT_S)
    assert output.closes == 1


def test_one_that_must_open_and_does_not_answer_is_refused(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outlet_module, "PATIENCE_S", 0.25)
    output = Driven()
    output.gate.clear()
    outlet = bench.outlet(output, None)
    with pytest.raises(OutputLost, match=r"^driven cannot be opened: it has not answered for 0\.25 s$"):
        outlet.open(FULL)
    output.gate.set()


class HandedMore(Driven):
    """An output that a packet is handed over for while it sends another."""

    more: Callable[[], None] | None = None

    def send(self, packet: Packet) -> None:
        """Have a packet handed over, once, and send this one."""
        if self.error is None and self.more is not None:
            more, self.more = self.more, None
            more()
        super().send(packet)


@both_kinds
def test_a_packet_that_comes_while_the_one_before_is_shown_again_leaves_too(bench: Bench, is_prompt: bool) -> None:
    output = HandedMore(is_prompt=is_prompt)
    outlet = bench.outlet(output)
    output.error = OutputLost("driven was lost: cable pulled")
    outlet.send(packet(0))
    bench.heard()
    output.more = lambda: outlet.send(packet(1))  # a look that stands still: no later packet wakes the thread
    output.error = None
    assert bench.heard() == "driven is back"
    assert outlet.settle(WAIT_S)
    assert output.sent == [0, 1]
    assert numbers(outlet) == (1, 1)


@both_kinds
def test_what_was_missed_stays_missed_while_the_output_is_tried_again(bench: Bench, is_prompt: bool) -> None:
    output, seen = Driven(is_prompt=is_prompt), list[tuple[int, int]]()
    outlet = bench.outlet(output)
    output.error = output.opening_error = OutputLost("driven was lost: cable pulled")
    for number in range(3):
        outlet.send(packet(number))
        assert outlet.settle(WAIT_S)
    output.fails_now = lambda: seen.append(numbers(outlet)) is not None
    output.error = output.opening_error = None
    assert [bench.heard(), bench.heard()][1] == "driven is back"
    assert set(seen) == {(0, 3)}


def test_packets_do_not_cut_the_pause_between_two_tries() -> None:
    told: queue.SimpleQueue[str] = queue.SimpleQueue()
    output = Driven()
    outlet = Outlet(output, ManualClock(), told.put, retry_s=(1_000_000,))
    outlet.open(FULL)
    output.error = OutputLost("driven was lost: cable pulled")
    outlet.send(packet(0))
    assert told.get(timeout=WAIT_S)
    calls = len(output.threads)
    for number in range(20_000):
        outlet.send(packet(number))
    outlet.close()
    assert len(output.threads) == calls


def test_every_state_of_an_outlet_is_reached_and_left_and_every_event_leads_somewhere() -> None:
    assert set(TRANSITIONS.values()) == set(OutletState)
    assert {before for before, _ in TRANSITIONS} == set(OutletState)
    assert {event for _, event in TRANSITIONS} == set(OutletEvent)
    ends = {(state, event) for (_, event), state in TRANSITIONS.items()}
    assert ends >= {(OutletState.LOST, OutletEvent.FAILED), (OutletState.CLOSED, OutletEvent.REFUSED)}
    assert len(ends) == len(OutletEvent), "each event leads to one state, whatever was before"


@pytest.mark.parametrize(
    ("state", "event"),
    [
        (OutletState.CLOSED, OutletEvent.FAILED),
        (OutletState.CLOSED, OutletEvent.OPENED),
        (OutletState.LOST, OutletEvent.OPENED),
        (OutletState.LOST, OutletEvent.REFUSED),
        (OutletState.OPEN, OutletEvent.REFUSED),
        (OutletState.OPEN, OutletEvent.TRIED),
    ],
)
def test_an_output_is_lost_or_open_only_after_it_was_tried(state: OutletState, event: OutletEvent) -> None:
    assert (state, event) not in TRANSITIONS


class Busy(Outlet):
    """One that is handed a packet at the worst moment: between two looks of a reader."""

    is_busy = False

    @property  # type: ignore[override]
    def _handed(self) -> Handed:
        handed = self._newest
        if self.is_busy:
            self._newest = Handed(handed.number + 1, packet(handed.number), FULL)
        return handed

    @_handed.setter
    def _handed(self, handed: Handed) -> None:
        self._newest = handed


@pytest.mark.parametrize("packets", [0, 1, 5])
def test_no_packet_counts_as_missed_while_another_is_handed_over(packets: int) -> None:
    outlet = Busy(Driven(is_prompt=True), ManualClock(), lambda _: None)
    outlet.open(FULL)
    for number in range(packets):
        outlet.send(packet(number))
    outlet.is_busy = True
    for _ in range(3):
        assert outlet.tally.missed >= 0
        assert outlet.tally.sent == packets
    outlet.is_busy = False
    outlet.close()


def test_the_pauses_between_tries_grow_to_two_seconds() -> None:
    assert RETRY_S == (0.25, 0.5, 1.0, 2.0)


@both_kinds
def test_the_rate_is_that_of_the_packets_that_left(bench: Bench, is_prompt: bool) -> None:
    output = Driven(is_prompt=is_prompt)
    outlet = bench.outlet(output)
    for number in range(100):
        outlet.send(packet(number))
        assert outlet.settle(WAIT_S)
        bench.clock.spin_ns(25_000_000)
    assert outlet.tally.refresh_hz == 40.0
    bench.clock.spin_ns(1_000_000_000)
    assert outlet.tally.refresh_hz == 0.0


@needs_a_pty
def test_a_serial_port_that_goes_and_comes_back_is_found_again_with_the_newest_packet(
    bench: Bench, tmp_path: Path
) -> None:
    port = tmp_path / "port"
    with Pty() as first, Pty() as second:
        port.symlink_to(first.port)
        outlet = bench.outlet(SerialLine(str(port), bench.clock))
        outlet.send(packet(0))
        assert first.read(513)[1:] == packet(0).slots.tobytes()
        port.unlink()
        first.unplug()
        outlet.send(packet(1))
        assert bench.heard() == f"serial:{port} was lost: input/output error; it is tried again"
        outlet.send(packet(2))
        port.symlink_to(second.port)
        assert bench.heard() == f"serial:{port} is back"
        assert second.read(513)[1:] == packet(2).slots.tobytes()
        outlet.send(packet(3))
        assert second.read(513)[1:] == packet(3).slots.tobytes()
        assert outlet.settle(WAIT_S)
        assert numbers(outlet) == (2, 2)
        assert second.is_empty()
        outlet.close()


@both_kinds
@pytest.mark.parametrize("seed", range(3))
def test_ten_thousand_packets_and_random_losses_break_no_promise(bench: Bench, is_prompt: bool, seed: int) -> None:
    output = Driven(is_prompt=is_prompt)
    luck = Random(seed)  # noqa: S311 - the same every time
    output.fails_now = lambda: luck.random() < 0.01
    outlet = bench.outlet(output, must=False)
    before = outlet.tally
    for number in range(1, 10_001):
        universes = 2 if number // 1000 % 2 else 1
        if number % 1000 == 0:
            outlet.open(TWO if universes == 2 else FULL)
        outlet.send(packet(number, universes))
        if luck.random() < 0.3:
            outlet.settle(WAIT_S)
        if number % 50 == 0:
            now = outlet.tally
            step = now - before
            assert step.sent >= 0
            assert step.missed >= 0
            assert number - 2 <= now.sent + now.missed <= number
            before = now
    output.fails_now = lambda: False
    while outlet.tally.lost:
        bench.heard()
    assert outlet.settle(WAIT_S)
    assert sum(numbers(outlet)) == 10_000
    assert output.faults == []
    assert all(earlier <= later for earlier, later in pairwise(output.sent))
    repeated = len(output.sent) - len(set(output.sent))
    assert repeated <= outlet.tally.times_lost
    assert output.sent[-1] == 10_000


@both_kinds
def test_no_packet_of_another_shape_reaches_an_output_whose_line_is_changed_by_another_thread(
    bench: Bench, is_prompt: bool
) -> None:
    output = Driven(is_prompt=is_prompt)
    outlet = bench.outlet(output)
    shapes, is_over = [1], threading.Event()
    handed_over = 0

    def hand_over() -> None:
        nonlocal handed_over
        while not is_over.is_set():
            outlet.send(packet(handed_over, shapes[0]))
            handed_over += 1

    sender = threading.Thread(target=hand_over, name="sender")
    sender.start()
    for line in [TWO, OTHER, FULL] * 60:
        outlet.open(line)
        shapes[0] = len(line.universes)
    is_over.set()
    sender.join(WAIT_S)
    assert outlet.settle(WAIT_S)
    assert output.faults == []
    assert output.lines == [FULL, *[TWO, OTHER, FULL] * 60]
    assert sum(numbers(outlet)) == handed_over
    assert output.sent == sorted(set(output.sent))
