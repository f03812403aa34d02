"""A source of streaming ACN as a process of its own.

    python -m tests.output.sacn_source TARGET [--universes 1,2] [--level N] [--packets N] [--rehearsal] [--outlet]

It says `sending`, `lost: why` and `back` as these happen, opens its output again at every packet while that
is lost, and ends after so many packets, or when its standard input does. With `--outlet` the output is lost and
tried again as in a player, and what that says is said.
"""

from __future__ import annotations

import argparse
import select
import sys

import numpy as np

from cuedeck.clock import MonotonicClock
from cuedeck.output.base import Line, Output, OutputLost, Packet
from cuedeck.output.outlet import Outlet
from cuedeck.output.targets import output_for
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show

REFRESH_HZ = 44


def options() -> argparse.Namespace:
    """Return what was asked for."""
    parser = argparse.ArgumentParser()
    parser.add_argument("target")
    parser.add_argument("--universes", default="1")
    parser.add_argument("--level", type=int, default=-1, help="of all slots; otherwise the number of the packet")
    parser.add_argument("--packets", type=int, default=-1)
    parser.add_argument("--rehearsal", action="store_true")
    parser.add_argument("--outlet", action="store_true")
    return parser.parse_args()


def say(text: str) -> None:
    """Say something to whoever waits for it."""
    print(text, flush=True)


def run(output: Output | Outlet, line: Line, level: int, packets: int) -> None:
    """Send until there is enough, or nobody wants any more."""
    clock = MonotonicClock()
    start_ns, number, is_lost = clock.now_ns(), 0, False
    while number != packets and not select.select([sys.stdin], [], [], 0)[0]:
        due_ns = start_ns + number * 1_000_000_000 // REFRESH_HZ
        clock.wait_until_ns(due_ns)
        value = number % 256 if level < 0 else level
        try:
            if is_lost:
                output.open(line)
            output.send(Packet(number, due_ns, np.full((len(line.universes), 512), value, np.uint8)))
        except OutputLost as lost:
            if not is_lost:
                say(f"lost: {lost}")
            is_lost = True
        else:
            if is_lost or not number:
                say("back" if is_lost else "sending")
            is_lost = False
        number += 1


def main() -> None:
    """Send to a target."""
    asked = options()
    universes = tuple(int(universe) for universe in asked.universes.split(","))
    line = Line(universes, 512, REFRESH_HZ, is_rehearsal=asked.rehearsal)
    output = output_for(asked.target, build_patch(load_show(b"cuedeck: 1\n").show), MonotonicClock())
    way_out = Outlet(output, MonotonicClock(), say) if asked.outlet else output
    way_out.open(line)
    run(way_out, line, asked.level, asked.packets)
    way_out.close()
    say("ended")


if __name__ == "__main__":
    main()
