"""Arguments that several commands take. Nothing heavy is imported here, so that help is quick."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from cuedeck.errors import Refusal

Parsed = TypeVar("Parsed")
SHOW_OR_HERE = "the folder of the show, else the current folder"


def parsed(option: str, text: str, parse: Callable[[str], Parsed]) -> Parsed:
    """Return what `parse` makes of the text of an option. Raises Refusal, which names the option."""
    from cuedeck.show.units import UnitError

    try:
        return parse(text)
    except UnitError as error:
        raise Refusal(f"{option} {text}: {error.what}: {error.cure}") from error


def add_show(parser: argparse.ArgumentParser, *, may_be_here: bool = False) -> None:
    """Add the argument that names the show; where it may be left out, the current folder is meant."""
    if may_be_here:
        parser.add_argument("show", metavar="SHOW", nargs="?", default=".", help=SHOW_OR_HERE)
    else:
        parser.add_argument("show", metavar="SHOW", help="the folder of the show")


def add_shot(parser: argparse.ArgumentParser) -> None:
    """Add the argument that names the shot; it may be left out where there is only one."""
    parser.add_argument("shot", metavar="SHOT", nargs="?", help="the number of the shot, where there are several")


def add_speed(parser: argparse.ArgumentParser) -> None:
    """Add the argument that runs the shot faster or slower."""
    parser.add_argument(
        "--speed",
        metavar="FACTOR",
        default="1",
        help="run the shot so many times as fast as it is written, such as 1/4: its move, cues, waits and fades",
    )


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


def add_log(parser: argparse.ArgumentParser) -> None:
    """Add the argument that names another file for takes."""
    parser.add_argument(
        "--log", metavar="FILE", type=Path, help="log takes in this file instead of takes.sqlite in the show's folder"
    )


def add_floor(parser: argparse.ArgumentParser) -> None:
    """Add the arguments that say what a take listens to."""
    parser.add_argument("--contacts", metavar="PORT", help="the serial port of the shot's trigger and signal lines")
    parser.add_argument(
        "--osc",
        action="store_true",
        help="listen to OSC messages, as the show's 'osc:' says; addresses are"
        " no patterns, and the time tags of bundles are not honoured: messages act when they arrive",
    )
    parser.add_argument(
        "--arm", action="store_true", help="hold the first packet until /cuedeck/start comes or a contact starts"
    )
    parser.add_argument(
        "--wait",
        action="store_true",
        help="go on past the length of the shot until every operator cue was fired, by whoever it is; without it, a"
        " take that has no keyboard ends at its length",
    )
    parser.add_argument(
        "--axis-from",
        metavar="SOURCE",
        help="fire the cues tied to positions by the rig itself: osc, serial:PORT or serial:PORT,baud=N",
    )
