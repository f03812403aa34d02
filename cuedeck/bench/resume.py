"""A player that is killed while its take rolls: when its client knows, and how long the line is without a packet.

Beside it, an interpreter that is started to send one packet and does nothing else: no player can be sooner.
"""

from __future__ import annotations

import os
import queue
import random
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from statistics import median

from cuedeck.bench.player_process import end_player, wait_for, wait_until_rolling
from cuedeck.bench.receivers import PtyReceiver, UdpReceiver
from cuedeck.bench.shows import SHOT, fading_text, show_folder
from cuedeck.bench.timings import machine_load, ratio
from cuedeck.player.channel.client import PlayerClient, start_player
from cuedeck.player.channel.connect import PlayerGone
from cuedeck.player.channel.requests import Begin

TIMES = 10
_LONGEST_S = 30.0
_SHOT_S = 900
_BARE = "import socket; socket.socket(socket.AF_INET, socket.SOCK_DGRAM).sendto(b'bare', ('127.0.0.1', {port}))"


@dataclass
class Resumed:
    """What some kills gave, in nanoseconds."""

    noticed: list[int] = field(default_factory=list)
    """From the kill until the client knew."""
    network: list[int] = field(default_factory=list)
    """From the last packet before it to the first after it, over the network."""
    serial: list[int] = field(default_factory=list)
    """The same on a serial line."""
    bare: list[int] = field(default_factory=list)
    """From the start of a bare interpreter to its packet."""


class RestartingClient:
    """A client that starts another player as soon as it knows that its player is gone."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.gone_ns: queue.SimpleQueue[int] = queue.SimpleQueue()
        self.clients: queue.SimpleQueue[PlayerClient] = queue.SimpleQueue()
        self.start(resume=False)

    def start(self, *, resume: bool) -> None:
        """Start a player, and watch it."""
        self.clients.put(start_player(self._folder, resume=resume, on_gone=self._note_end))

    def _note_end(self, _: PlayerGone) -> None:
        self.gone_ns.put(time.time_ns())
        self.start(resume=True)


def report(times: int = TIMES) -> str:
    """Kill so often, and say how long it took."""
    resumed = measure(times)
    bare_ns = median(resumed.bare)
    lines = [f"a player is killed while it rolls, {times} times; {machine_load()}", f"{'':42}    median     worst  ms"]
    for name, taken in (
        ("until the client knows", resumed.noticed),
        ("without a packet, network", resumed.network),
        ("without a packet, serial line", resumed.serial),
        ("bare interpreter, until its packet", resumed.bare),
    ):
        compared = "" if taken is resumed.bare else f"  {ratio(median(taken), bare_ns)} the bare interpreter's"
        lines.append(f"  {name:40}{median(taken) / 1e6:10.1f}{max(taken) / 1e6:10.1f}{compared}")
    return "\n".join(lines)


def measure(times: int) -> Resumed:
    """Kill so often while a take rolls on a network and on a serial line."""
    resumed = Resumed()
    with ExitStack() as opened:
        folder = opened.enter_context(show_folder(fading_text(_SHOT_S)))
        receiver = opened.enter_context(UdpReceiver())
        line = opened.enter_context(PtyReceiver(folder.parent / "line"))
        opened.callback(end_player, folder)
        restarting = RestartingClient(folder)
        client = restarting.clients.get(timeout=_LONGEST_S)
        for _ in range(times):
            client.ask(Begin(shot=SHOT, to=(receiver.target, line.target)))
            wait_until_rolling(client)
            time.sleep(0.5 + random.random() / 2)  # noqa: S311 - anywhere between two packets
            killed_ns = time.time_ns()
            os.kill(client.pid, signal.SIGKILL)
            killed, client = client, restarting.clients.get(timeout=_LONGEST_S)
            killed.close()
            resumed.noticed.append(restarting.gone_ns.get(timeout=_LONGEST_S) - killed_ns)
            time.sleep(0.3)
            resumed.network.append(_longest_gap([one.at_ns for one in receiver.arrived], killed_ns))
            resumed.serial.append(_longest_gap(line.chunks_ns, killed_ns))
            resumed.bare.append(_bare_ns(receiver))
        client.close()
    return resumed


def _longest_gap(arrived_ns: Sequence[int], killed_ns: int) -> int:
    """Return the longest time without anything, around a kill and after it."""
    around = [at_ns for at_ns in arrived_ns if at_ns > killed_ns - 200_000_000]
    gaps = [after - before for before, after in pairwise(around)]
    if not gaps or around[-1] < killed_ns:
        raise TimeoutError("no packet came after the player was killed")
    return max(gaps)


def _bare_ns(receiver: UdpReceiver) -> int:
    before_ns = time.time_ns()
    subprocess.run([sys.executable, "-c", _BARE.format(port=receiver.port)], check=True, timeout=_LONGEST_S)  # noqa: S603

    def taken_ns() -> int | None:
        arrived = (one.at_ns for one in receiver.arrived if one.content == b"bare" and one.at_ns > before_ns)
        return next((at_ns - before_ns for at_ns in arrived), None)

    return wait_for(taken_ns, "the packet of the bare interpreter did not arrive")
