"""Nonsense at the control channel and at the OSC port while a take rolls, beside the same take left in peace."""

from __future__ import annotations

import random
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path

from cuedeck.bench.far_end import UdpFarEnd
from cuedeck.bench.lateness import times_between
from cuedeck.bench.made_show import LONGEST_S, SHOT, made_show
from cuedeck.bench.nonsense import nonsense
from cuedeck.bench.spread import HEADING, Spread, load_words, ratio
from cuedeck.bench.with_player import ended, player_of, rolling
from cuedeck.clock import now_ns
from cuedeck.player.channel.connect import PlayerRefused, PlayerSilent, connect
from cuedeck.player.channel.messages import BadMessage, Begin, Control, Stop, request_in
from cuedeck.player.instance_lock import InstanceLock

MESSAGES = 100_000
PEACE_S = 10.0
_A_CONNECTION = 101
"""Messages of nonsense after which a connection is dropped, and one more."""
_OSC_AT_ONCE = 20
_GOOD_OSC = (
    b"/cuedeck/start\0\0,\0\0\0",
    b"/cuedeck/cue\0\0\0\0,s\0\x003\0\0\0",
    b"/cuedeck/cue\0\0\0\0,i\0\0\0\0\0\3",
    b"/cuedeck/axis\0\0\0,sf\0slide\0\0\0\x42\xc8\0\0",
    b"#bundle\0\0\0\0\0\0\0\0\1\0\0\0\x14/cuedeck/start\0\0,\0\0\0",
)


@dataclass
class Fuzzed:
    """What was sent and what came of it."""

    peace: Spread
    """How late packets were before."""
    fuzzed: Spread
    """How late they were meanwhile."""
    missed: int
    lines: int
    replies: int
    connections: int
    datagrams: int
    osc: str
    """What the listener made of the datagrams."""
    still_answers: bool


def report(messages: int = MESSAGES, seconds: float | None = None) -> str:
    """Send so many messages to each, for so many seconds at most, and say what came of it."""
    done = measure(messages, seconds)
    answers = "still answers" if done.still_answers else "DOES NOT ANSWER"
    return "\n".join(
        [
            f"nonsense at the player while a take rolls; {load_words()}",
            f"  control channel: {done.lines} messages on {done.connections} connections, {done.replies} replies",
            f"  OSC: {done.datagrams} datagrams; {done.osc}",
            f"  the player {answers}; {done.missed} packets missed",
            HEADING,
            done.peace.line("left in peace"),
            done.fuzzed.line("meanwhile"),
            f"  p99.9 meanwhile {ratio(done.fuzzed.p999_ns, done.peace.p999_ns)} that in peace",
        ]
    )


def measure(messages: int, seconds: float | None = None) -> Fuzzed:
    """Send so many messages to each, for so many seconds at most."""
    chance = random.Random(1)  # noqa: S311 - the same nonsense each time
    peace_s = PEACE_S if seconds is None else seconds / 2
    with ExitStack() as opened:
        osc_port = _free_port()
        show = opened.enter_context(made_show(LONGEST_S, osc_port=osc_port))
        far = opened.enter_context(UdpFarEnd())
        client = opened.enter_context(player_of(show.folder))
        client.ask(Begin(shot=SHOT, to=("simulator", far.target), osc=True))
        rolling(client)
        begun_ns = now_ns()
        time.sleep(peace_s)
        fuzzed_ns = now_ns()
        until_s = time.monotonic() + (LONGEST_S if seconds is None else seconds)
        talk = Talk(show.folder, chance)
        talk.talk(messages, until_s)
        datagrams = _send_osc(osc_port, chance, messages, until_s + (seconds or 0))
        ended_ns = now_ns()
        client.ask(Stop())
        result = ended(client)
        peace = times_between(show.folder, begun_ns, fuzzed_ns).late_ns
        fuzzed = times_between(show.folder, fuzzed_ns, ended_ns).late_ns
    osc = next((text for label, text in result.floor if label == "osc"), "")
    spreads = Spread.of(peace), Spread.of(fuzzed)
    return Fuzzed(*spreads, result.missed, talk.lines, talk.replies, talk.connections, datagrams, osc, True)


class Talk:
    """Talks nonsense to a player, over one connection after the other."""

    def __init__(self, folder: Path, chance: random.Random) -> None:
        self.lines = self.replies = self.connections = 0
        self._instance = InstanceLock.of(folder)
        self._chance = chance

    def talk(self, messages: int, until_s: float) -> None:
        """Send so many messages, until a time of the monotonic clock at most."""
        while self.lines < messages and time.monotonic() < until_s:
            self._connect(min(messages - self.lines, _A_CONNECTION))

    def _connect(self, messages: int) -> None:
        announcement = self._instance.found()
        try:
            reached = None if announcement is None else connect(announcement)
        except (PlayerSilent, PlayerRefused):  # those before are still being seen off
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
            line = nonsense(self._chance).rstrip(b"\n") + b"\n"
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
                sending.sendto(_osc_nonsense(chance), ("127.0.0.1", port))
                sent += 1
            time.sleep(0.002)
    return sent


def _osc_nonsense(chance: random.Random) -> bytes:
    if chance.random() < 0.3:
        return chance.randbytes(chance.randrange(120))
    spoilt = bytearray(chance.choice(_GOOD_OSC))
    for _ in range(chance.choice((0, 1, 1, 4))):
        at, width = chance.randrange(len(spoilt) or 1), chance.choice((0, 1, 1, 4))
        spoilt[at : at + width] = chance.choice((b"", b"\0", b"/", b",", b"\xff\xff\xff\xff", chance.randbytes(4)))
    return bytes(spoilt)


def _free_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as tried:
        tried.bind(("127.0.0.1", 0))
        port: int = tried.getsockname()[1]
        return port
