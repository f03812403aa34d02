"""Makes an output of a text after `--to`: KIND, KIND:REST, or KIND:REST,key=value,..."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from cuedeck.clock import Clock
from cuedeck.errors import Refusal
from cuedeck.output.base import Output
from cuedeck.output.framed import FramedSerial
from cuedeck.output.serial_line import BREAK_BAUD, SerialLine
from cuedeck.output.serial_output import SerialOutput
from cuedeck.output.usb_ports import is_there, same_port
from cuedeck.show.units import FEWEST_SLOTS, FULL_UNIVERSE
from cuedeck.timing.line import FASTEST_BREAK_BAUD, SLOWEST_BREAK_BAUD

if TYPE_CHECKING:
    from cuedeck.rig.patch import Patch  # only named: a player that resumes must be on the line quickly

Options = Mapping[str, str]
Builder = Callable[[str, Options, "Patch | None", Clock], Output]


class UnknownTarget(Refusal):
    """A text after `--to` that names no output. The message says what to write."""


@dataclass(frozen=True)
class TargetKind:
    """A kind of output, as it is written."""

    build: Builder
    """Is handed what stands between the colon and the first comma, and the options by their names."""
    options: tuple[str, ...] = ()
    usage: str = ""
    """What stands behind the name of the kind."""


def _simulator(rest: str, _: Options, patch: Patch | None, __: Clock) -> Output:
    if rest:
        raise UnknownTarget("the simulator takes nothing behind its name: write --to simulator")
    from cuedeck.output.simulator import Simulator

    return Simulator(patch)


def _serial(port: str, options: Options, _: Patch | None, clock: Clock) -> Output:
    _require_port("serial", port)
    universe, slots = _universe(f"serial:{port}", options), _slots(f"serial:{port}", options)
    return SerialLine(port, clock, universe, slots, _break_baud(port, options))


def _framed(port: str, options: Options, _: Patch | None, clock: Clock) -> Output:
    _require_port("framed", port)
    if port.lower().startswith("simulator://"):
        raise UnknownTarget(f"{port} is a line, and no interface that takes frames: write --to serial:{port}")
    return FramedSerial(port, clock, _universe(f"framed:{port}", options), _slots(f"framed:{port}", options))


def _sacn(host: str, options: Options, _: Patch | None, __: Clock) -> Output:
    from cuedeck.output.sacn_target import sacn_of

    try:
        return sacn_of(host, options)
    except Refusal as refusal:
        raise UnknownTarget(str(refusal)) from refusal


OUTPUTS: Mapping[str, TargetKind] = {
    "simulator": TargetKind(_simulator),
    "serial": TargetKind(_serial, ("universe", "slots", "break"), ":PORT[,universe=N]"),
    "framed": TargetKind(_framed, ("universe", "slots"), ":PORT[,universe=N]"),
    "sacn": TargetKind(_sacn, ("priority", "interface", "name", "sync", "spare", "port"), "[:ADDRESS]"),
}


def outputs_for(targets: Sequence[str], patch: Patch | None, clock: Clock) -> list[Output]:
    """Return the outputs that some texts name, each once. Raises UnknownTarget."""
    outputs = [output_for(target, patch, clock) for target in dict.fromkeys(targets)]
    taken: list[SerialOutput] = []
    for output in outputs:
        if isinstance(output, SerialOutput):
            if any(same_port(output.port, other.port) for other in taken):
                raise UnknownTarget(f"{output.kind}:{output.port} is named twice: one port carries one universe")
            taken.append(output)
    names = [output.name for output in outputs]
    for name in names:
        if names.count(name) > 1:
            raise UnknownTarget(f"{name} is named twice: receivers would hear each universe from two streams")
    return outputs


def kind_of(target: str) -> str:
    """Return the kind of output in a text; it need not be a known one."""
    return target.split(",", maxsplit=1)[0].partition(":")[0]


def missing(targets: Sequence[str]) -> tuple[str, ...]:
    """Return those of some targets whose port is not there."""
    ports = {target: target.split(",", maxsplit=1)[0].partition(":")[2] for target in targets}
    return tuple(one for one, port in ports.items() if kind_of(one) in ("serial", "framed") and not is_there(port))


def output_for(target: str, patch: Patch | None, clock: Clock) -> Output:
    """Return the output that a text such as "serial:PORT" or "sacn,priority=90" names. Raises UnknownTarget."""
    first, *written = target.split(",")
    name, rest = kind_of(target), first.partition(":")[2]
    kind = OUTPUTS.get(name)
    if kind is None:
        *most, last = (f"{one}{known.usage}" for one, known in OUTPUTS.items())
        raise UnknownTarget(f"'{target}' is no output: write {', '.join(most)}, or {last}")
    return kind.build(rest, _options(f"{name}:{rest}" if rest else name, written, kind), patch, clock)


def _options(start: str, written: Sequence[str], kind: TargetKind) -> Options:
    """Return the options behind a target, by their names."""
    options: dict[str, str] = {}
    for text in written:
        key, equals, value = text.partition("=")
        if key not in kind.options or not equals:
            allowed = ", ".join(f"{one}=" for one in kind.options)
            cure = f"it takes {allowed}" if allowed else f"{start.partition(':')[0]} takes none"
            raise UnknownTarget(f"'{text}' is no option of {start}: {cure}")
        if key in options:
            raise UnknownTarget(f"{key} is written twice behind {start}: write it once")
        options[key] = value
    return options


def whole_number(start: str, options: Options, key: str, lowest: int, highest: int) -> int | None:
    """Return the number that an option gives, None where it is not written. Raises UnknownTarget."""
    if key not in options:
        return None
    text = options[key]
    if not re.fullmatch(r"\d{1,9}", text, re.ASCII) or not lowest <= int(text) <= highest:
        what = f"'{text}' is no {key}" if key == "universe" else f"{key}={text} cannot be"
        raise UnknownTarget(f"{what}: write --to {start},{key}=N with a number from {lowest} to {highest}")
    return int(text)


_universe = partial(whole_number, key="universe", lowest=1, highest=63_999)
_slots = partial(whole_number, key="slots", lowest=FEWEST_SLOTS, highest=FULL_UNIVERSE)


def _break_baud(port: str, options: Options) -> int | None:
    """Return the baud rate of a zero byte that makes the break; None for a break condition."""
    match options.get("break", "condition"):
        case "condition":
            return None
        case "baud":
            return BREAK_BAUD
        case text if re.fullmatch(r"\d{1,9}", text, re.ASCII) and SLOWEST_BREAK_BAUD <= int(text) <= FASTEST_BREAK_BAUD:
            return int(text)
        case text:
            raise UnknownTarget(
                f"break={text} makes no break: write --to serial:{port},break=condition, break=baud,"
                f" or the baud rate of a zero byte, from {SLOWEST_BREAK_BAUD} to {FASTEST_BREAK_BAUD}"
            )


def _require_port(kind: str, port: str) -> None:
    if port.lower() == "simulator://":
        raise UnknownTarget("which line? write --to serial:simulator://NAME, with any name")
    if not port:
        raise UnknownTarget(f"which port? write --to {kind}:PORT ('cuedeck ports' lists them)")
