"""What every output keeps: it opens, takes packets, and may be closed twice."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from uuid import UUID

import numpy as np
import pytest

from cuedeck.clock import ManualClock
from cuedeck.output.base import Line, Output
from cuedeck.output.e131 import SacnSource
from cuedeck.output.framed import FramedSerial
from cuedeck.output.handlers import receiver_of
from cuedeck.output.sacn import Destination, Sacn
from cuedeck.output.serial_line import BREAK_BAUD, SerialLine
from cuedeck.output.simulator import Simulator
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show
from cuedeck.takes.recorder import Recorder
from cuedeck.takes.store import TakeStore
from tests.output.frame_parser import FrameParser
from tests.output.ports import FULL, Pty, packet
from tests.output.udp import UdpPort

RIG = b"cuedeck: 1\nrig: {lamp: {type: dimmer, address: 1.1}}\n"


@dataclass
class Bench:
    """An output, and how to see at the far end what it was sent."""

    output: Output
    arrived: Callable[[int], list[bytes]]
    """Returns the slots of the last so many packets that arrived; called when the output is closed."""


def _simulator(_: Path) -> Iterator[Bench]:
    simulator = Simulator(build_patch(load_show(RIG).show))
    assert simulator.states() == ()

    def arrived(count: int) -> list[bytes]:
        assert simulator.last is not None
        assert [state.level for state in simulator.states()] == [simulator.last.slots[0, 0] / 255]
        return [simulator.last.slots.tobytes()][-count:]

    yield Bench(simulator, arrived)


def _serial_line(_: Path) -> Iterator[Bench]:
    with Pty() as pty:
        yield Bench(SerialLine(pty.port, ManualClock()), lambda count: [pty.read(513)[1:] for _ in range(3)][-count:])


def _serial_line_with_zeros(_: Path) -> Iterator[Bench]:
    with Pty() as pty:
        output = SerialLine(pty.port, ManualClock(), break_baud=BREAK_BAUD)
        # A pseudo-terminal knows no baud rate: the zero byte before each packet is one more byte.
        yield Bench(output, lambda count: [pty.read(514)[2:] for _ in range(3)][-count:])


def _framed(_: Path) -> Iterator[Bench]:
    with Pty() as pty:
        yield Bench(
            FramedSerial(pty.port, ManualClock()),
            lambda count: [frame.payload[1:] for frame in FrameParser().feed(pty.read(3 * 518))][-count:],
        )


def _simulated_line(_: Path, break_baud: int | None = None) -> Iterator[Bench]:
    def arrived(count: int) -> list[bytes]:
        receiver = receiver_of("contract")
        assert receiver.last is not None
        assert not receiver.remarks
        return [one.slots for one in (*receiver.packets, receiver.last)][-count:]

    yield Bench(SerialLine("simulator://contract", ManualClock(), break_baud=break_baud), arrived)


def _simulated_line_with_zeros(folder: Path) -> Iterator[Bench]:
    yield from _simulated_line(folder, BREAK_BAUD)


def _sacn(_: Path) -> Iterator[Bench]:
    with UdpPort() as far:
        output = Sacn(SacnSource(UUID(int=1), "contract"), Destination("127.0.0.1", far.number))
        yield Bench(output, lambda count: [one[126:] for one in far.read(3)][-count:])


def _recorder(folder: Path) -> Iterator[Bench]:
    with TakeStore(folder, create=True) as store:
        take = store.begin("1", FULL, Fraction(44), 3, ["simulator"])
        recorder = Recorder(store.path, take, ManualClock())
        yield Bench(
            recorder,
            lambda count: [one.tobytes() for one in np.concatenate([block for _, block in store.blocks(take)])][
                -count:
            ],
        )


needs_a_pty = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are not on Windows")
OUTPUTS = {
    "simulator": _simulator,
    "serial line": pytest.param(_serial_line, marks=needs_a_pty),
    "serial line, breaks by zero bytes": pytest.param(_serial_line_with_zeros, marks=needs_a_pty),
    "framed serial": pytest.param(_framed, marks=needs_a_pty),
    "simulated line": _simulated_line,
    "simulated line, breaks by zero bytes": _simulated_line_with_zeros,
    "recorder": _recorder,
    "streaming ACN": _sacn,
}


@pytest.fixture(params=OUTPUTS.values(), ids=OUTPUTS.keys())
def bench(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Bench]:
    yield from request.param(tmp_path)


def all_but(name: str) -> pytest.MarkDecorator:
    """Give a test every output but one, which does not promise what is tested."""
    others = {other: made for other, made in OUTPUTS.items() if other != name}
    return pytest.mark.parametrize("bench", others.values(), ids=others.keys(), indirect=True)


def test_what_is_sent_arrives(bench: Bench) -> None:
    bench.output.open(FULL)
    for number in range(3):
        bench.output.send(packet(number))
    bench.output.close()
    assert bench.arrived(1) == [packet(2).slots.tobytes()]


@all_but("simulator")  # it keeps the last packet only
def test_each_packet_arrives(bench: Bench) -> None:
    bench.output.open(FULL)
    for number in range(3):
        bench.output.send(packet(number))
    bench.output.close()
    assert bench.arrived(3) == [packet(number).slots.tobytes() for number in range(3)]


@all_but("recorder")  # it records one take of one line
def test_one_that_is_open_changes_over_to_another_line(bench: Bench) -> None:
    bench.output.open(Line((1, 2), 24, 44.0))
    bench.output.open(FULL)
    for number in range(3):
        bench.output.send(packet(number))
    bench.output.close()
    assert bench.arrived(1) == [packet(2).slots.tobytes()]


@all_but("recorder")  # it records one take
def test_it_may_be_opened_again_after_it_was_closed(bench: Bench) -> None:
    bench.output.open(FULL)
    bench.output.close()
    bench.output.open(FULL)
    for number in range(3):
        bench.output.send(packet(number))
    bench.output.close()
    assert bench.arrived(1) == [packet(2).slots.tobytes()]


def test_it_may_be_closed_twice(bench: Bench) -> None:
    bench.output.open(FULL)
    for number in range(3):
        bench.output.send(packet(number))
    bench.output.close()
    bench.output.close()
    assert bench.arrived(1) == [packet(2).slots.tobytes()], "the second time ends nothing and sends nothing"


def test_it_may_be_closed_without_having_been_opened_or_used(bench: Bench) -> None:
    bench.output.close()
    bench.output.close()


def test_it_has_a_name_that_stays(bench: Bench) -> None:
    name = bench.output.name
    assert name
    assert name == name.strip()
    bench.output.open(FULL)
    assert bench.output.name == name
    bench.output.close()
    assert bench.output.name == name


def test_it_leaves_the_packet_as_it_is_and_keeps_no_hold_on_the_line(bench: Bench) -> None:
    sent = packet(1)
    before = sent.slots.copy()
    bench.output.open(FULL)
    bench.output.send(sent)
    bench.output.close()
    assert np.array_equal(sent.slots, before)
    assert (sent.number, sent.due_ns) == (1, packet(1).due_ns)
