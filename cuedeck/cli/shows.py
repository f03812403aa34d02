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


def add_show(parser: argparse.ArgumentParser) -> None:
    """Add the argument that names the show."""
    parser.add_argument("show", metavar="SHOW", help="the folder of the show")


def add_shot(parser: argparse.ArgumentParser) -> None:
    """Add the argument that names the shot."""
    parser.add_argument("shot", metavar="SHOT", help="the number of the shot")


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


def plan_of(opened: OpenedShow, shot: str) -> ShotPlan:
    """Return the plan of a shot. Raises Refusal where the show has none of that name."""
    from cuedeck.show.problems import choice_of

    if shot not in opened.show.shots:
        raise Refusal(f"the show has no shot '{shot}': {choice_of(shot, opened.show.shots)}")
    return opened.plan(shot)
