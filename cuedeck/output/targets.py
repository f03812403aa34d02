"""From what the user writes after `--to` to an output."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from cuedeck.clock import Clock
from cuedeck.errors import Refusal
from cuedeck.output.base import Output
from cuedeck.output.serial_line import SerialLine
from cuedeck.output.simulator import Simulator
from cuedeck.rig.patch import Patch


class UnknownTarget(Refusal):
    """A text after `--to` that names no output. The message says what to write."""


def _simulator(rest: str, patch: Patch, _: Clock) -> Output:
    if rest:
        raise UnknownTarget("the simulator takes nothing behind its name: write --to simulator")
    return Simulator(patch)


def _serial(rest: str, _: Patch, clock: Clock) -> Output:
    port, comma, universe = rest.partition(",universe=")
    if not port:
        raise UnknownTarget("which port? write --to serial:PORT ('cuedeck ports' lists them)")
    if comma and not re.fullmatch(r"\d{1,5}", universe, re.ASCII):
        raise UnknownTarget(f"'{universe}' is no universe: write --to serial:{port},universe=1")
    return SerialLine(port, clock, int(universe) if comma else None)


def _sacn(rest: str, _: Patch, __: Clock) -> Output:
    from cuedeck.output.sacn_target import OPTIONS, sacn_of

    host, *written = rest.split(",")
    start = f"sacn:{host}" if host else "sacn"
    options: dict[str, str] = {}
    for text in written:
        key, equals, value = text.partition("=")
        if key not in OPTIONS or not equals:
            raise UnknownTarget(f"'{text}' is no option of {start}: it takes {', '.join(f'{one}=' for one in OPTIONS)}")
        if key in options:
            raise UnknownTarget(f"{key} is written twice behind {start}: write it once")
        options[key] = value
    try:
        return sacn_of(host, options)
    except Refusal as refusal:
        raise UnknownTarget(str(refusal)) from refusal


OUTPUTS: Mapping[str, Callable[[str, Patch, Clock], Output]] = {
    "simulator": _simulator,
    "serial": _serial,
    "sacn": _sacn,
}


def outputs_for(targets: Sequence[str], patch: Patch, clock: Clock) -> list[Output]:
    """Return the outputs that some texts name, each once. Raises UnknownTarget."""
    outputs = [output_for(target, patch, clock) for target in dict.fromkeys(targets)]
    ports = [output.port for output in outputs if isinstance(output, SerialLine)]
    for port in ports:
        if ports.count(port) > 1:
            raise UnknownTarget(f"serial:{port} is named twice: one port carries one universe")
    names = [output.name for output in outputs]
    for name in names:
        if name.startswith("sacn") and names.count(name) > 1:
            raise UnknownTarget(f"{name} is named twice: receivers would hear each universe from two streams")
    return outputs


def output_for(target: str, patch: Patch, clock: Clock) -> Output:
    """Return the output that a text such as "simulator", "serial:PORT" or "sacn,priority=90" names.

    Raises UnknownTarget.
    """
    kind = re.split("[:,]", target, maxsplit=1)[0]
    rest = target[len(kind) :].removeprefix(":")
    if kind not in OUTPUTS:
        raise UnknownTarget(f"'{target}' is no output: write simulator, serial:PORT[,universe=N], or sacn[:ADDRESS]")
    return OUTPUTS[kind](rest, patch, clock)
