"""Malformed messages to the control channel and the OSC port while a take rolls, beside the same take without."""

from __future__ import annotations

import random
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path

from cuedeck.bench.fuzz_inputs import fuzzed_datagram, fuzzed_line
from cuedeck.bench.player_process import rolling_take, stop_take, times_between
from cuedeck.bench.receivers import UdpReceiver
from cuedeck.bench.shows import LONGEST_S, fading_text, show_folder
from cuedeck.bench.timings import HEADING, Percentiles, machine_load, ratio
from cuedeck.clock import now_ns
from cuedeck.player.channel.connect import PlayerRefused, PlayerSilent, connect
from cuedeck.player.channel.message import BadMessage
from cuedeck.player.channel.requests import Control, request_in
from cuedeck.player.instance_lock import InstanceLock

MESSAGES = 100_000
QUIET_S = 10.0
_MESSAGES_A_CONNECTION = 101
"""One more than the malformed messages after which the player drops a connection."""
_OSC_AT_ONCE = 20


@dataclass
class Fuzzed:
    """What was sent and what came of it."""

    quiet: Percentiles
    """How late packets were before."""
    fuzzed: Percentiles
    """How late they were meanwhile."""
    missed: int
    lines: int
    replies: int
    connections: int
    datagrams: int
    osc: str
    """What the listener made of the datagrams."""


def report(messages: int = MESSAGES, seconds: float | None = None) -> str:
    """Send so many messages to each, for so many seconds at most, and say what came of it."""
    done = measure(messages, seconds)
    return "\n".join(
        [
            f"malformed messages to the player while a take rolls; {machine_load()}",
            f"  control channel: {done.lines} messages on {done.connections} connections, {done.replies} replies",
            f"  OSC: {done.datagrams} datagrams; {done.osc}",
            f"  the player still answers; {done.missed} packets missed",
            HEADING,
            done.quiet.line("before"),
            done.fuzzed.line("meanwhile"),
            f"  p99.9 meanwhile {ratio(done.fuzzed.p999_ns, done.quiet.p999_ns)} that before",
        ]
    )


def measure(messages: int, seconds: float | None = None) -> Fuzzed:
    """Send so many messages to each, for so many seconds at most."""
    chance = random.Random(1)  # noqa: S311 - the same messages each time
    quiet_s = QUIET_S if seconds is None else seconds / 2
    with ExitStack() as opened:
        osc_port = _free_port()
        folder = opened.enter_context(show_folder(fading_text(LONGEST_S, osc_port=osc_port)))
        receiver = opened.enter_context(UdpReceiver())
        client = opened.enter_context(rolling_take(folder, "simulator", receiver.target, osc=True))
        begun_ns = now_ns()
        time.sleep(quiet_s)
        fuzzed_ns = now_ns()
        until_s = time.monotonic() + (LONGEST_S if seconds is None else seconds)
        fuzzer = ControlChannelFuzzer(folder, chance)
        fuzzer.send(messages, until_s)
        datagrams = _send_osc(osc_port, chance, messages, until_s + (seconds or 0))
        ended_ns = now_ns()
        result = stop_take(client)  # raises where the player does not answer any more
        quiet = times_between(folder, begun_ns, fuzzed_ns).late_ns
        fuzzed = times_between(folder, fuzzed_ns, ended_ns).late_ns
    osc = next((text for label, text in result.floor if label == "osc"), "")
    lateness = Percentiles.of(quiet), Percentiles.of(fuzzed)
    return Fuzzed(*lateness, result.missed, fuzzer.lines, fuzzer.replies, fuzzer.connections, datagrams, osc)


class ControlChannelFuzzer:
    """Sends malformed messages to a player, over one connection after the other."""

    def __init__(self, folder: Path, chance: random.Random) -> None:
        self.lines = self.replies = self.connections = 0
        self._instance = InstanceLock.of(folder)
        self._chance = chance

    def send(self, messages: int, until_s: float) -> None:
        """Send so many messages, until a time of the monotonic clock at most."""
        while self.lines < messages and time.monotonic() < until_s:
            self._connect(min(messages - self.lines, _MESSAGES_A_CONNECTION))

    def _connect(self, messages: int) -> None:
        announcement = self._instance.found()
        try:
            reached = None if announcement is None else connect(announcement)
        except (PlayerSilent, PlayerRefused):  # the connections before are still being closed
            reached = None
        if reached is None:
            time.sleep(0.02)
            return
        self.connections += 1
        lines = reached[0]
        listening = threading.Thread(target=self._count, args=(lines.read,), daemon=True)
        listening.start()
        with suppress(OSError):  # it was dropped
            for line in self._harmless(messages):
                lines.write(line)
                self.lines += 1
        lines.end()
        listening.join(5)
        lines.close()

    def _count(self, read: Callable[[], bytes]) -> None:
        with suppress(OSError, EOFError):
            while True:
                self.replies += b'"snapshot"' not in read()[:30]

    def _harmless(self, messages: int) -> Iterator[bytes]:
        """Yield messages, none of which takes over control: who has that may end the take, and rightly."""
        while messages:
            line = fuzzed_line(self._chance).rstrip(b"\n") + b"\n"
            if not any(_takes_over(part) for part in line.split(b"\n")):
                messages -= 1
                yield line


def _takes_over(line: bytes) -> bool:
    try:
        return isinstance(request_in(line + b"\n"), Control)
    except BadMessage:
        return False


def _send_osc(port: int, chance: random.Random, messages: int, until_s: float) -> int:
    """Send datagrams, no faster than they are read."""
    sent = 0
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sending:
        while sent < messages and time.monotonic() < until_s:
            for _ in range(min(_OSC_AT_ONCE, messages - sent)):
                sending.sendto(fuzzed_datagram(chance), ("127.0.0.1", port))
                sent += 1
            time.sleep(0.002)
    return sent


def _free_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as tried:
        tried.bind(("127.0.0.1", 0))
        port: int = tried.getsockname()[1]
        return port
