"""What small commands cost from prompt to answer, beside a bare start of the interpreter: processor time."""

from __future__ import annotations

import resource
import subprocess
import sys

from cuedeck.bench.shows import fading_text, show_folder
from cuedeck.player.channel.client import start_player
from cuedeck.player.channel.requests import Quit

RUNS = 15


def report() -> str:
    """Run each some times, by turns, and say what half of the runs stay below."""
    with show_folder(fading_text(10)) as folder:
        show = str(folder)
        commands = {
            "bare interpreter": ("-c", "pass"),
            "--help": ("-m", "cuedeck", "--help"),
            "ports": ("-m", "cuedeck", "ports"),
            "takes SHOW": ("-m", "cuedeck", "takes", show),
            "player SHOW": ("-m", "cuedeck", "player", show),
            "player SHOW blackout": ("-m", "cuedeck", "player", show, "blackout"),
            "player SHOW release": ("-m", "cuedeck", "player", show, "release"),
        }
        costs_s: dict[str, list[float]] = {name: [] for name in commands}
        with start_player(folder) as player:
            for _ in range(RUNS):
                for name, words in commands.items():
                    costs_s[name].append(_cost_s(*words))
            player.ask(Quit())
    middle_s = {name: sorted(costs)[RUNS // 2] for name, costs in costs_s.items()}
    bare_s = middle_s["bare interpreter"]
    lines = (
        f"  {name:22} {s * 1000:8.1f} ms   {s / bare_s:5.2f} times a bare interpreter" for name, s in middle_s.items()
    )
    return "\n".join(["start, processor time", *lines])


def _cost_s(*words: str) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *words], check=False, capture_output=True)  # noqa: S603 - ourselves
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
