"""`cuedeck bench`: measurements on this machine, peers side by side."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from importlib import import_module

from cuedeck.cli import exits
from cuedeck.errors import Refusal


@dataclass(frozen=True)
class Measurement:
    """What can be measured."""

    what: str
    takes: str
    """How long it takes, for the help."""
    seconds: float | None = None
    """How long it measures without --seconds; None where the user cannot choose."""
    quick_seconds: float | None = None
    """How long it measures when it runs with all the others."""
    is_quick: bool = True
    """Whether it runs where no name is given."""
    needs_posix: bool = False
    """Whether it needs pseudo-terminals and signals."""


MEASUREMENTS: Mapping[str, Measurement] = {
    "start": Measurement("help, lists and words to a player beside a bare interpreter", "15 s"),
    "load": Measurement("opening a show beside a bare YAML loader", "10 s"),
    "render": Measurement("offline rendering beside a plain loop", "5 s"),
    "fire": Measurement("a cue that is fired, compiled from the timeline before and from nothing", "20 s"),
    "screen": Measurement(
        "the UI beside Textual's smallest, of a small show and of a large one: first paint, key to packet, cost",
        "1 min 30 s",
        is_quick=False,
        needs_posix=True,
    ),
    "idle": Measurement(
        "player and UI while nothing happens, beside a bare one",
        "1 min 15 s",
        60,
        is_quick=False,
        needs_posix=True,
    ),
    "memory": Measurement("the memory that edits and saves of another program leave behind", "8 min", is_quick=False),
    "ltc": Measurement("decoding timecode beside libltc", "10 s"),
    "sacn": Measurement("streaming ACN of 64 universes beside a bare loop and the sacn library", "10 s"),
    "player": Measurement("a whole player with 64 universes beside a bare loop", "15 s", 10, 5),
    "lateness": Measurement(
        "packets beside bare loops while the UI repaints, at each priority", "2 min 30 s", 60, 10, needs_posix=True
    ),
    "resume": Measurement("a player that is killed, 10 times", "30 s", is_quick=False, needs_posix=True),
    "endurance": Measurement(
        "one output pulled 20 times, the UI killed 10 times", "10 min", 600, is_quick=False, needs_posix=True
    ),
    "fuzz": Measurement("100,000 malformed messages each to control channel and OSC", "3 min", is_quick=False),
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    listed = "\n".join(
        f"  {name:10} {one.what}; {one.takes}{'' if one.is_quick else ', only by its name'}"
        for name, one in MEASUREMENTS.items()
    )
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = f"{parser.description}:\n\n{listed}"
    parser.add_argument("names", nargs="*", metavar="NAME", help="what to measure; without a name, all that is quick")
    parser.add_argument(
        "--seconds",
        type=_seconds,
        metavar="N",
        help="measure player, idle, lateness, endurance for so long, fuzz at most",
    )


def run(options: argparse.Namespace) -> int:
    """Print each measurement as it is done."""
    for name in options.names:
        if name not in MEASUREMENTS:
            raise Refusal(f"'{name}' is nothing to measure: write {', '.join(MEASUREMENTS)}")
    names = dict.fromkeys(options.names or [name for name, one in MEASUREMENTS.items() if one.is_quick])
    for name in names:
        if MEASUREMENTS[name].needs_posix and os.name != "posix":
            print(f"{name}\n  left out: this system has no pseudo-terminals", flush=True)
            continue
        print(_report(name, options.seconds, is_named=bool(options.names))(), flush=True)
    return exits.DONE


def _report(name: str, seconds: float | None, *, is_named: bool) -> Callable[[], str]:
    """Return the function that measures. Its module is imported only now, as some work on POSIX only."""
    module, measurement = {"player": "player_load"}.get(name, name), MEASUREMENTS[name]
    report: Callable[..., str] = import_module(f"cuedeck.bench.{module}").report
    usual = measurement.seconds if is_named else measurement.quick_seconds
    if name == "fuzz" and seconds is not None:
        return partial(report, seconds=seconds)
    return report if usual is None else partial(report, seconds or usual)


def _seconds(text: str) -> float:
    try:
        seconds = float(text)
    except ValueError:
        seconds = 0.0
    if not 0 < seconds <= 900:
        raise argparse.ArgumentTypeError(f"'{text}' is no time: write seconds, at most 900")
    return seconds
