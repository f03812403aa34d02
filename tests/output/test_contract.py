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
from cuedeck.output.base import Output
from cuedeck.output.e131 import Source
from cuedeck.output.sacn import Destination, Sacn
from cuedeck.output.serial_line import SerialLine
from cuedeck.output.simulator import Simulator
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show
from cuedeck.takes.recorder import Recorder
from cuedeck.takes.store import TakeStore
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


def _sacn(_: Path) -> Iterator[Bench]:
    with UdpPort() as far:
        output = Sacn(Source(UUID(int=1), "contract"), Destination("127.0.0.1", far.number))
        yield Bench(output, lambda count: [one[126:] for one in far.read(3)][-count:])


def _recorder(folder: Path) -> Iterator[Bench]:
    with TakeStore(folder, create=True) as store:
        take = store.begin("1", FULL, Fraction(44), 3, ["simulator"])
        recorder = Recorder(store, take.id, ManualClock())
        yield Bench(
            recorder,
            lambda count: [one.tobytes() for one in np.concatenate([block for _, block in store.blocks(take)])][
                -count:
            ],
        )


OUTPUTS = {
    "simulator": _simulator,
    "serial line": pytest.param(
        _serial_line, marks=pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are not on Windows")
    ),
    "recorder": _recorder,
    "streaming ACN": _sacn,
}


@pytest.fixture(params=OUTPUTS.values(), ids=OUTPUTS.keys())
def bench(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Bench]:
    yield from request.param(tmp_path)


def test_what_is_sent_arrives(bench: Bench) -> None:
    bench.output.open(FULL)
    for number in range(3):
        bench.output.send(packet(number))
    bench.output.close()
    assert bench.arrived(1) == [packet(2).slots.tobytes()]


def test_it_may_be_closed_twice(bench: Bench) -> None:
    bench.output.open(FULL)
    bench.output.send(packet(0))
    bench.output.close()
    bench.output.close()


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
