"""Which files playing a shot takes: `inventory.py SHOW TARGET`.

It sends the first packets, then lists what the interpreter has loaded.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from tests.output.emulated.guest import Stage

FEW = 3
"""Packets that a port takes though nobody reads from it."""


def loaded_files() -> Iterator[str]:
    """Yield every module, as source and compiled."""
    for module in list(sys.modules.values()):
        spec = getattr(module, "__spec__", None)
        for path in (getattr(module, "__file__", None), getattr(spec, "cached", None)):
            if path and Path(path).is_file():
                yield path


if __name__ == "__main__":
    stage = Stage(*sys.argv[1:])
    output = stage.open()
    for packet in islice(stage.packets(), FEW):
        output.send(packet)
    output.close()
    print(*sorted(set(loaded_files())), sep="\n")
