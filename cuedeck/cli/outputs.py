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
        help="where packets go: simulator (default); serial:PORT for a plain adapter, framed:PORT"
        " for an interface that takes packets in frames; behind both ,universe=N and ,slots=N may follow, and behind"
        " serial:PORT ,break=baud where the adapter knows no break condition; may be repeated",
    )


def tell_of_universes(outputs: Sequence[Output], line: Line) -> None:
    """Say which universes of the rig an output on a serial port leaves out."""
    from cuedeck.output.serial_output import SerialOutput

    for output in outputs:
        if not isinstance(output, SerialOutput) or output.universe is None:
            continue
        left_out = [str(universe) for universe in line.universes if universe != output.universe]
        if left_out:
            print(
                f"{output.name} carries universe {output.universe}, not {', '.join(left_out)}:"
                f" add --to {output.kind}:PORT,universe={left_out[0]} for another interface",
                file=sys.stderr,
            )
