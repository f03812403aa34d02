"""What commands on a show have in common: opening it, and finding its shots."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.timeline.opening import OpenedShow
    from cuedeck.timeline.plan import ShotPlan

SHOW_OR_HERE = "the folder of the show, else the current folder"


def add_show(parser: argparse.ArgumentParser, *, may_be_here: bool = False) -> None:
    """Add the argument that names the show; where it may be left out, the current folder is meant."""
    if may_be_here:
        parser.add_argument("show", metavar="SHOW", nargs="?", default=".", help=SHOW_OR_HERE)
    else:
        parser.add_argument("show", metavar="SHOW", help="the folder of the show")


def add_shot(parser: argparse.ArgumentParser) -> None:
    """Add the argument that names the shot; it may be left out where there is only one."""
    parser.add_argument("shot", metavar="SHOT", nargs="?", help="the number of the shot, where there are several")


def open_sound(folder: ShowFolder) -> OpenedShow:
    """Open a show that can run; its warnings are told. Raises Refusal where it has errors."""
    opened = folder.open()
    if opened.errors:
        count = len(opened.errors)
        lines = "\n".join(str(problem) for problem in opened.errors)
        raise Refusal(f"{'an error' if count == 1 else f'{count} errors'} in the show:\n{lines}")
    for problem in opened.problems:
        print(problem, file=sys.stderr)
    return opened


def tell_errors(opened: OpenedShow) -> None:
    """Say what is wrong with a show that is looked at all the same."""
    for problem in opened.errors:
        print(problem, file=sys.stderr)


def plan_of(opened: OpenedShow, shot: str | None) -> ShotPlan:
    """Return the plan of a shot, or of the only one. Raises Refusal where it is not clear which, or there is none."""
    from cuedeck.show.problems import choice_of

    if shot is None and len(opened.show.shots) == 1:
        shot = next(iter(opened.show.shots))
    if shot is None:
        cure = choice_of("", opened.show.shots, none="add one under 'shots:' (see README)")
        raise Refusal(f"which shot? {cure}" if opened.show.shots else f"the show has no shot yet: {cure}")
    if shot not in opened.show.shots:
        raise Refusal(f"the show has no shot '{shot}': {choice_of(shot, opened.show.shots)}")
    return opened.plan(shot)
