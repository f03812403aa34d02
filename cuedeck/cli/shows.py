"""What commands on a show have in common: opening it, and finding its shots."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.visible import visible_line

if TYPE_CHECKING:
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.timeline.opening import OpenedShow
    from cuedeck.timeline.plan import ShotPlan

SHOW_FILE = "show.yaml"
"""That of `show/load.py`, which takes long to load."""
SHOW_OR_HERE = "the folder of the show, else the current folder"


def add_show(parser: argparse.ArgumentParser, *, may_be_here: bool = False) -> None:
    """Add the argument that names the show; where it may be left out, the current folder is meant."""
    if may_be_here:
        parser.add_argument("show", metavar="SHOW", nargs="?", default=".", help=SHOW_OR_HERE)
    else:
        parser.add_argument("show", metavar="SHOW", help="the folder of the show")


def show_path(named: str) -> Path:
    """Return the folder of a show, without loading what reads one. Raises NoShow."""
    if (Path(named) / SHOW_FILE).is_file():
        return Path(named)
    from cuedeck.folder.folder import ShowFolder

    return ShowFolder(named).path


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


def open_sound(folder: ShowFolder) -> OpenedShow:
    """Open a show of which some shot can run; what is odd about it is told. Raises Refusal."""
    from cuedeck.timeline.choosing import require_sound

    opened = folder.open()
    require_sound(opened)
    tell_warnings(opened)
    return opened


def open_shot(folder: ShowFolder, shot: str | None, speed: str) -> ShotPlan:
    """Open a shot that can run, at a speed; what is odd about its show is told. Raises Refusal."""
    from cuedeck.timeline.choosing import sound_plan_of

    opened = folder.open()
    plan = sound_plan_of(opened, shot, speed)
    tell_warnings(opened, plan.name)
    return plan


def tell_warnings(opened: OpenedShow, shot: str | None = None) -> None:
    """Say what is odd about a show, or that shots of it cannot run beside the one that is to."""
    from cuedeck.timeline.choosing import other_errors

    for problem in opened.problems:
        if not problem.is_error:
            print(problem, file=sys.stderr)
    if line := other_errors(opened, shot):
        print(line, file=sys.stderr)


def tell_errors(opened: OpenedShow, shot: str | None = None) -> bool:
    """Say what is wrong with a show that is looked at all the same, or with one shot; return whether something is."""
    from cuedeck.timeline.choosing import other_errors

    errors = opened.errors if shot is None else opened.errors_of(shot)
    for problem in errors:
        print(problem, file=sys.stderr)
    if shot is not None and (line := other_errors(opened, shot)):
        print(line, file=sys.stderr)
    return bool(errors)


def table_lines(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """Yield the lines of a table, each column as wide as its widest cell."""
    every = [[visible_line(cell) for cell in row] for row in (heading, *rows)]
    widths = [max(len(row[n]) for row in every) for n in range(len(heading))]
    for row in every:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
