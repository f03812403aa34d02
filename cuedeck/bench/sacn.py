"""Sending streaming ACN beside a bare loop over packets that stand ready, and beside the general `sacn` library.

All of it goes to one socket on 127.0.0.1 that nobody reads, and each universe changes with each packet, so
that nothing may be left out. Processor time counts, the system's part of sending among it: `bare_loop` is
what no sender in this language can do without.
"""

from __future__ import annotations

import importlib.util
import socket
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, ExitStack, contextmanager
from statistics import median
from uuid import UUID

import numpy as np

from cuedeck.arrays import Slots
from cuedeck.output.base import Line, Packet
from cuedeck.output.e131 import SacnSource, data_packet
from cuedeck.output.sacn import Destination, Sacn

UNIVERSES = 64
REFRESH_HZ = 44
_BEATS = 5 * REFRESH_HZ
_ROUNDS = 5
_SOURCE = SacnSource(UUID(int=1), "cuedeck bench")

Beat = Callable[[int], object]
"""Sends every universe once; is handed the number of the packet."""


def slots_of(number: int) -> Slots:
    """Return slots that differ from those of the packet before in every universe."""
    return np.full((UNIVERSES, 512), number % 256, np.uint8)


@contextmanager
def unread_port() -> Iterator[int]:
    """Give the number of a port on 127.0.0.1 that is open, and that nobody reads."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as far:
        far.bind(("127.0.0.1", 0))
        yield far.getsockname()[1]


@contextmanager
def ours(port: int) -> Iterator[Beat]:
    """Give what sends as a take does."""
    output = Sacn(_SOURCE, Destination(host="127.0.0.1", port=port))
    output.open(Line(tuple(range(1, UNIVERSES + 1)), 512, REFRESH_HZ))
    contents = [slots_of(number) for number in range(256)]
    period_ns = 1_000_000_000 // REFRESH_HZ

    def beat(number: int) -> None:
        output.send(Packet(number, number * period_ns, contents[number % 256]))

    yield beat
    output.close()


@contextmanager
def bare_loop(port: int) -> Iterator[Beat]:
    """Give what sends packets that stand ready, always the same, and does nothing else."""
    ready = [data_packet(_SOURCE, universe, 0, bytes(512)) for universe in range(1, UNIVERSES + 1)]
    address = ("127.0.0.1", port)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sending:
        sending.setblocking(False)

        def beat(_: int) -> None:
            for packet in ready:
                sending.sendto(packet, address)

        yield beat


@contextmanager
def library(port: int) -> Iterator[Beat]:
    """Give what sends as the loop of the `sacn` library does. Raises ImportError where it is not installed."""
    import sacn
    from sacn.sending import sender_socket_udp

    usual_port, sender_socket_udp.DEFAULT_PORT = sender_socket_udp.DEFAULT_PORT, port  # it takes no other
    sender = sacn.sACNsender(bind_address="127.0.0.1", bind_port=0, universeDiscovery=False)
    for universe in range(1, UNIVERSES + 1):
        sender.activate_output(universe)
        sender[universe].destination = "127.0.0.1"
    outputs = [sender[universe] for universe in range(1, UNIVERSES + 1)]
    contents = [(number,) * 512 for number in range(256)]

    def beat(number: int) -> None:
        for output in outputs:
            output.dmx_data = contents[number % 256]
        sender._sender_handler.on_periodic_callback(time.time())

    try:
        yield beat
    finally:
        sender_socket_udp.DEFAULT_PORT = usual_port
        sender._sender_handler.socket._socket.close()


def processor_seconds_a_packet(beat: Beat) -> float:
    """Return the processor time of one packet of one universe, over five seconds' worth of them."""
    start = time.process_time()
    for number in range(_BEATS):
        beat(number)
    return (time.process_time() - start) / (_BEATS * UNIVERSES)


def measure() -> dict[str, float]:
    """Return the median processor time of a packet for each of the senders that are there, in seconds."""
    taken: dict[str, list[float]] = {}
    with unread_port() as port, ExitStack() as opened:
        beats = {name: opened.enter_context(sender(port)) for name, sender in SENDERS.items() if _is_there(name)}
        for _ in range(_ROUNDS):  # in turn, so that a busy minute is shared by all
            for name, beat in beats.items():
                taken.setdefault(name, []).append(processor_seconds_a_packet(beat))
    return {name: median(seconds) for name, seconds in taken.items()}


def report() -> str:
    """Run all three and say how they compare."""
    seconds = measure()
    ours_s = seconds["cuedeck"]
    lines = [f"streaming ACN, {UNIVERSES} universes at {REFRESH_HZ} Hz, processor time for a packet of 512 slots"]
    for name, took_s in seconds.items():
        core = f"{100 * took_s * UNIVERSES * REFRESH_HZ:5.1f} % of a core"
        lines.append(f"  {name:20} {took_s * 1e6:8.2f} us, {core}{_compared(name, ours_s, took_s)}")
    if "sacn library" not in seconds:
        lines.append("  sacn library         is not installed (pip install sacn): left out")
    return "\n".join(lines)


def _compared(name: str, ours_s: float, took_s: float) -> str:
    if name == "bare loop":
        return f"; cuedeck takes {ours_s / took_s:.2f} times as long"
    return f"; {took_s / ours_s:.0f} times as long as cuedeck" if name != "cuedeck" else ""


def _is_there(name: str) -> bool:
    return name != "sacn library" or importlib.util.find_spec("sacn") is not None


SENDERS: Mapping[str, Callable[[int], AbstractContextManager[Beat]]] = {
    "cuedeck": ours,
    "bare loop": bare_loop,
    "sacn library": library,
}
