"""What commands that send say about their outputs."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cuedeck.rig.patch import Patch


def add_outputs(parser: argparse.ArgumentParser) -> None:
    """Add the argument that says where packets go."""
    parser.add_argument(
        "--to",
        metavar="OUTPUT",
        action="append",
        help="where packets go: simulator (default), serial:PORT or serial:PORT,universe=N; may be repeated",
    )


def tell_of_universes(targets: Sequence[str], patch: Patch) -> None:
    """Say which universes of the rig a serial line leaves out. Raises UnknownTarget."""
    from cuedeck.clock import MonotonicClock
    from cuedeck.output.serial_line import SerialLine
    from cuedeck.output.targets import outputs_for

    for output in outputs_for(targets, patch, MonotonicClock()):
        if not isinstance(output, SerialLine):
            continue
        carried = patch.universes[0] if output.universe is None else output.universe
        left_out = [str(universe) for universe in patch.universes if universe != carried]
        if left_out and carried in patch.universes:
            print(
                f"{output.name} carries universe {carried}, not {', '.join(left_out)}:"
                f" add --to serial:PORT,universe={left_out[0]} for another interface",
                file=sys.stderr,
            )
