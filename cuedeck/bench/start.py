"""How long `cuedeck --help` takes beside a bare start of the interpreter."""

from __future__ import annotations

import subprocess
import sys

from cuedeck.bench.render import seconds_of


def report() -> str:
    """Run both and say how they compare."""

    def start(*arguments: str) -> None:
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)  # noqa: S603 - ourselves

    for arguments in (("-c", "pass"), ("-m", "cuedeck", "--help")):
        start(*arguments)  # once for the caches
    bare_s = seconds_of(lambda: start("-c", "pass"), 20)
    help_s = seconds_of(lambda: start("-m", "cuedeck", "--help"), 20)
    return (
        "start\n"
        f"  cuedeck --help       {help_s * 1000:8.1f} ms\n"
        f"  bare interpreter     {bare_s * 1000:8.1f} ms   --help takes {help_s / bare_s:.2f} times as long"
    )
