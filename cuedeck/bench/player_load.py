"""What a whole player takes of a core with 64 universes, beside bare loops that send packets that stand ready.

One of them sleeps until each packet, one spins before it as the player does. The player renders, records, keeps the
last look, and tells a client how things stand.
"""

from __future__ import annotations

import os
from contextlib import ExitStack
from dataclasses import dataclass

from cuedeck.bench import bare_loop
from cuedeck.bench.player_process import rolling_take, stop_take, times_between
from cuedeck.bench.receivers import UdpReceiver
from cuedeck.bench.sacn import REFRESH_HZ, UNIVERSES
from cuedeck.bench.shows import fading_text, show_folder
from cuedeck.bench.timings import HEADING, Percentiles, machine_load, processor_s, ratio
from cuedeck.clock import now_ns

_STARTS_S = 60


@dataclass(frozen=True)
class Loads:
    """Shares of one core, and how late packets were."""

    player: float
    bare: dict[str, float]
    late: Percentiles
    missed: int


def report(seconds: float = 10.0) -> str:
    """Run the player, and each loop beside it for half of the time; say how they compare."""
    heading = f"a player with {UNIVERSES} universes at {REFRESH_HZ} Hz over {seconds:g} s; {machine_load()}"
    if processor_s(os.getpid()) is None:
        return f"{heading}\n  left out: this system does not say what a process has used"
    loads = measure(seconds)
    return "\n".join(
        [
            heading,
            f"  player               {100 * loads.player:8.1f} % of a core",
            *(
                f"  {name:20} {100 * share:8.1f} % of a core; the player takes {ratio(loads.player, share)} as much"
                for name, share in loads.bare.items()
            ),
            HEADING,
            loads.late.line("player, lateness") + f"  {loads.missed} missed",
        ]
    )


def measure(seconds: float) -> Loads:
    """Run a take with 64 universes and the bare loops, for so many seconds."""
    with ExitStack() as opened:
        folder = opened.enter_context(show_folder(fading_text(int(seconds) + _STARTS_S, universes=UNIVERSES)))
        receiver = opened.enter_context(UdpReceiver(lambda _: None))
        client = opened.enter_context(rolling_take(folder, receiver.target))
        ways = {"bare loop": "send", "bare loop, spinning": "spin and send"}
        begun_ns, before_s = now_ns(), processor_s(client.pid) or 0.0
        bare = {}
        for name, way in ways.items():  # in turn: three programs of real time would wait for two processors
            loop = bare_loop.start(way, REFRESH_HZ, seconds / 2, str(receiver.port))
            loop.go(begun_ns, 0.5)
            bare[name] = float(loop.result()) / (seconds / 2)
        until_ns, used_s = now_ns(), (processor_s(client.pid) or 0.0) - before_s
        missed = stop_take(client).missed
        late = Percentiles.of(times_between(folder, begun_ns, until_ns).late_ns)
    return Loads(used_s / ((until_ns - begun_ns) / 1e9), bare, late, missed)
