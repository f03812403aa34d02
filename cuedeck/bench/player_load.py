"""What a whole player takes of a core with 64 universes, beside bare loops that send packets that stand ready.

One of them sleeps until each packet, one spins before it as the player does. The player renders, records, keeps the
last look, and tells a client how things stand.
"""

from __future__ import annotations

import os
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from cuedeck.bench import bare_loop
from cuedeck.bench.far_end import UdpFarEnd
from cuedeck.bench.lateness import times_between
from cuedeck.bench.made_show import SHOT, made_show
from cuedeck.bench.sacn import REFRESH_HZ, UNIVERSES
from cuedeck.bench.spread import HEADING, Spread, load_words, ratio
from cuedeck.bench.with_player import ended, player_of, rolling
from cuedeck.clock import now_ns
from cuedeck.player.channel.messages import Begin, Stop

_STARTS_S = 60


@dataclass(frozen=True)
class Loads:
    """Shares of one core, and how late packets were."""

    player: float
    bare: dict[str, float]
    late: Spread
    missed: int


def report(seconds: float = 10.0) -> str:
    """Run all at the same time and say how they compare."""
    heading = f"a player with {UNIVERSES} universes at {REFRESH_HZ} Hz over {seconds:g} s; {load_words()}"
    if not Path("/proc/self/stat").exists():
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
        show = opened.enter_context(made_show(int(seconds) + _STARTS_S, universes=UNIVERSES))
        far = opened.enter_context(UdpFarEnd(lambda _: None))
        client = opened.enter_context(player_of(show.folder))
        client.ask(Begin(shot=SHOT, to=(far.target,)))
        rolling(client)
        ways = {"bare loop": "send", "bare loop, spinning": "spin and send"}
        loops = {name: bare_loop.start(way, REFRESH_HZ, seconds, str(far.port)) for name, way in ways.items()}
        begun_ns, before_s = now_ns(), _processor_seconds(client.pid)
        for phase, loop in enumerate(loops.values(), 1):
            loop.go(begun_ns, phase / 3)
        bare = {name: float(loop.said()) / seconds for name, loop in loops.items()}
        until_ns, used_s = now_ns(), _processor_seconds(client.pid) - before_s
        client.ask(Stop())
        missed = ended(client).missed
        late = Spread.of(times_between(show.folder, begun_ns, until_ns).late_ns)
    return Loads(used_s / ((until_ns - begun_ns) / 1e9), bare, late, missed)


def _processor_seconds(pid: int) -> float:
    """Return the processor time that a process has used, the system's part of it too."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii", errors="replace").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
