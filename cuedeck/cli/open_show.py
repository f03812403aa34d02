"""`cuedeck open`: the terminal UI."""

from __future__ import annotations

import argparse
import sys

from cuedeck.cli import exits
from cuedeck.cli.shows import add_show, add_speed, open_sound
from cuedeck.errors import Refusal
from cuedeck.timeline.choosing import speed_of

NAME = "open"
HELP = "open a show in the terminal: rehearse its shots against the simulator"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    add_show(parser, may_be_here=True)
    add_speed(parser)


def run(options: argparse.Namespace) -> int:
    """Run the terminal UI."""
    from cuedeck.clock import MonotonicClock
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.takes.store import TakeStore, TakesUnreadable, slate
    from cuedeck.tui.app import CuedeckApp

    # Textual reads the one and draws on the other.
    if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr)):
        raise Refusal("'open' needs a terminal; 'cuedeck shoot' and 'cuedeck check' run without one")
    speed = speed_of(options.speed)
    folder = ShowFolder(options.show)
    opened = open_sound(folder)
    if not opened.show.shots:
        raise Refusal("the show has no shot yet: add one under 'shots:' (see README)")
    try:
        with TakeStore(folder.path) as store:
            next_slates = {shot: slate(shot, store.next_number(shot)) for shot in opened.show.shots}
    except TakesUnreadable:
        next_slates = None  # a rehearsal needs no takes; `shoot` and `takes` say what is wrong with them
    next_slate = None if next_slates is None else next_slates.__getitem__
    CuedeckApp(folder.name, opened, MonotonicClock(), next_slate, speed).run()
    return exits.DONE
