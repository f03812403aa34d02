"""What commands that send say about their outputs."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cuedeck.output.base import Line, Output


def add_outputs(parser: argparse.ArgumentParser) -> None:
    """Add the argument that says where packets go."""
    parser.add_argument(
        "--to",
        metavar="OUTPUT",
        action="append",
        help="where packets go: simulator (default), serial:PORT or serial:PORT,universe=N; sacn (multicast) or"
        " sacn:ADDRESS, with priority=N, interface=NAME, name=TEXT, sync=N or sync=off, port=N behind commas;"
        " may be repeated",
    )


def tell_of_universes(outputs: Sequence[Output], line: Line) -> None:
    """Say which universes of the rig a serial line leaves out."""
    from cuedeck.output.serial_line import SerialLine

    for output in outputs:
        carried = output.universe if isinstance(output, SerialLine) else None
        left_out = [str(universe) for universe in line.universes if universe != carried]
        if carried is not None and left_out:
            print(
                f"{output.name} carries universe {carried}, not {', '.join(left_out)}:"
                f" add --to serial:PORT,universe={left_out[0]} for another interface",
                file=sys.stderr,
            )
