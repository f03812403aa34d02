"""`cuedeck open`: the terminal UI."""

from __future__ import annotations

import argparse
import sys

from cuedeck.cli import exits
from cuedeck.cli.outputs import tell_of_universes
from cuedeck.cli.shows import add_show, add_speed, tell_warnings
from cuedeck.errors import Refusal
from cuedeck.timeline.choosing import speed_of

NAME = "open"
HELP = "open a show in the terminal: rehearse its shots, take them, follow the player"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    add_show(parser, may_be_here=True)
    parser.add_argument(
        "--to",
        metavar="OUTPUT",
        action="append",
        help="rehearse and take on this output, as for 'shoot'; left out, rehearsals stay in the window and takes go to"
        " the simulator; may be repeated",
    )
    add_speed(parser)


def run(options: argparse.Namespace) -> int:
    """Run the terminal UI."""
    from cuedeck.clock import MonotonicClock
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.player.show_keeper import ShowKeeper
    from cuedeck.takes.store import TakeStore, TakesUnreadable, slate
    from cuedeck.tui.app import CuedeckApp

    # Textual reads the one and draws on the other.
    if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr)):
        raise Refusal("'open' needs a terminal; 'cuedeck shoot' and 'cuedeck check' run without one")
    speed = speed_of(options.speed)
    folder = ShowFolder(options.show)
    keeper = ShowKeeper(folder.path)
    opened = keeper.opened()
    tell_warnings(opened)
    if not opened.show.shots:
        raise Refusal("the show has no shot yet: add one under 'shots:' (see README)")
    targets = list(dict.fromkeys(options.to or []))
    tell_of_universes(targets, opened.patch)

    def next_slate(shot: str) -> str:
        try:
            with TakeStore(folder.path) as store:
                return slate(shot, store.next_number(shot))
        except TakesUnreadable:
            return ""  # a rehearsal needs no takes; `shoot` and `takes` say what is wrong with them

    app = CuedeckApp(folder.name, opened, MonotonicClock(), next_slate, speed, folder.path, targets, keeper)
    app.run()
    for line in app.leave_player(options.show, holds=opened.show.on_stop == "hold"):
        print(line)
    return exits.DONE
