"""How long `cuedeck --help` takes beside a bare start of the interpreter."""

from __future__ import annotations

import subprocess
import sys

from cuedeck.bench.timings import median_s


def report() -> str:

    def run(*arguments: str) -> None:
        command = [sys.executable, *arguments]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, timeout=60)  # noqa: S603 - this program itself

    for arguments in (("-c", "pass"), ("-m", "cuedeck", "--help")):
        run(*arguments)  # once for the caches
    bare_s = median_s(lambda: run("-c", "pass"), 20)
    help_s = median_s(lambda: run("-m", "cuedeck", "--help"), 20)
    return (
        "start\n"
        f"  cuedeck --help       {help_s * 1000:8.1f} ms\n"
        f"  bare interpreter     {bare_s * 1000:8.1f} ms   --help takes {help_s / bare_s:.2f} times as long"
    )
