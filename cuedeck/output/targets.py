"""From what the user writes after `--to` to an output."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from cuedeck.clock import Clock
from cuedeck.errors import Refusal
from cuedeck.output.base import Output
from cuedeck.output.serial_line import SerialLine

if TYPE_CHECKING:
    from cuedeck.rig.patch import Patch  # only named: a player that resumes must be on the line quickly


class UnknownTarget(Refusal):
    """A text after `--to` that names no output. The message says what to write."""


def _simulator(rest: str, patch: Patch, _: Clock) -> Output:
    if rest:
        raise UnknownTarget("the simulator takes nothing behind its name: write --to simulator")
    from cuedeck.output.simulator import Simulator

    return Simulator(patch)


def _serial(rest: str, _: Patch | None, clock: Clock) -> Output:
    port, comma, universe = rest.partition(",universe=")
    if not port:
        raise UnknownTarget("which port? write --to serial:PORT ('cuedeck ports' lists them)")
    if comma and not re.fullmatch(r"\d{1,5}", universe, re.ASCII):
        raise UnknownTarget(f"'{universe}' is no universe: write --to serial:{port},universe=1")
    return SerialLine(port, clock, int(universe) if comma else None)


OUTPUTS: Mapping[str, Callable[..., Output]] = {"simulator": _simulator, "serial": _serial}


def outputs_for(targets: Sequence[str], patch: Patch | None, clock: Clock) -> list[Output]:
    """Return the outputs that some texts name, each once. Raises UnknownTarget."""
    outputs = [output_for(target, patch, clock) for target in dict.fromkeys(targets)]
    ports = [output.port for output in outputs if isinstance(output, SerialLine)]
    for port in ports:
        if ports.count(port) > 1:
            raise UnknownTarget(f"serial:{port} is named twice: one port carries one universe")
    return outputs


def output_for(target: str, patch: Patch | None, clock: Clock) -> Output:
    """Return the output that a text such as "simulator" or "serial:PORT" names. Raises UnknownTarget."""
    kind, _, rest = target.partition(":")
    if kind not in OUTPUTS:
        raise UnknownTarget(f"'{target}' is no output: write simulator, or serial:PORT[,universe=N]")
    return OUTPUTS[kind](rest, patch, clock)
