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
        help="where packets go: simulator (default); serial:PORT for a plain adapter, framed:PORT"
        " for an interface that takes packets in frames; behind both ,universe=N and ,slots=N may follow, and behind"
        " serial:PORT ,break=baud where the adapter knows no break condition; sacn (multicast) or sacn:ADDRESS, with"
        " priority=N, interface=NAME, name=TEXT, sync=N or sync=off, spare=yes, port=N behind commas; may be repeated",
    )


def tell_of_universes(targets: Sequence[str], patch: Patch) -> None:
    """Say which universes of the rig a serial line leaves out. Raises UnknownTarget."""
    from cuedeck.clock import MonotonicClock
    from cuedeck.output.serial_output import SerialOutput
    from cuedeck.output.targets import outputs_for

    for output in outputs_for(targets, patch, MonotonicClock()):
        if not isinstance(output, SerialOutput):
            continue
        carried = patch.universes[0] if output.universe is None else output.universe
        left_out = [str(universe) for universe in patch.universes if universe != carried]
        if left_out and carried in patch.universes:
            print(
                f"{output.name} carries universe {carried}, not {', '.join(left_out)}:"
                f" add --to {output.kind}:PORT,universe={left_out[0]} for another interface",
                file=sys.stderr,
            )
