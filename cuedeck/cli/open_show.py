"""`cuedeck open`: the terminal UI."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.arguments import add_log, add_show, add_speed
from cuedeck.cli.log_file import log_if_any
from cuedeck.cli.opening import print_left_out_universes, print_warnings
from cuedeck.errors import Refusal
from cuedeck.timeline.choosing import require_sound, speed_of

if TYPE_CHECKING:
    from cuedeck.folder.journal import LeftBehind


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_show(parser, may_be_here=True)
    parser.add_argument(
        "--to",
        metavar="OUTPUT",
        action="append",
        help="rehearse and take on this output, as for 'shoot'; left out, rehearsals stay in the window and takes go to"
        " the simulator; may be repeated",
    )
    parser.add_argument(
        "--watch",
        action="store_true",
        help="only look on, as on a second screen: follow what the player does, start none, ask it for nothing and"
        " change nothing; while no shot runs on the line, the playhead is your own",
    )
    add_speed(parser)
    add_log(parser)


def run(options: argparse.Namespace) -> int:
    from cuedeck.clock import MonotonicClock
    from cuedeck.draft.nudges import Nudges
    from cuedeck.folder.draft_files import DraftFiles
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.takes.reading import TAKES_FILE
    from cuedeck.takes.store import TakeStore
    from cuedeck.takes.take import slate
    from cuedeck.takes.trouble import TakesUnreadable
    from cuedeck.tui.app import CuedeckApp

    # Textual reads the one and draws on the other.
    if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr)):
        raise Refusal("'open' needs a terminal; 'cuedeck shoot' and 'cuedeck check' run without one")
    if options.watch and options.to:
        raise Refusal("--watch only looks on, and sends nothing: leave --to out")
    speed = speed_of(options.speed)
    folder = ShowFolder(options.show)
    files = DraftFiles(folder.path)
    saved = files.open()
    require_sound(saved)
    recovery = None if options.watch else files.recover(_is_wanted)
    opened = saved if recovery is None else files.open()
    print_warnings(opened)
    targets = list(dict.fromkeys(options.to or []))
    print_left_out_universes(targets, opened.patch)

    log = None if options.watch else log_if_any(folder.path, options.log)

    def next_slate(shot: str) -> str:
        try:
            with TakeStore(folder.path, file=log) as store:
                return slate(shot, store.next_number(shot))
        except TakesUnreadable:
            return ""  # a rehearsal needs no takes; `shoot` and `takes` say what is wrong with them

    app = CuedeckApp(
        folder.name,
        saved,
        MonotonicClock(),
        next_slate,
        speed,
        folder.path,
        targets,
        files,
        is_watching=options.watch,
        open_takes=lambda: TakeStore(
            folder.path, file=log, create=(log or folder.path / TAKES_FILE).exists(), patience_s=1.0
        ),
        log=None if log is None else str(log),
    )
    if recovery is not None:
        app.recovered(recovery.names, opened, Nudges.of_plain(recovery.nudges))
    app.run()
    for line in (*app.leave_player(options.show, holds=opened.show.on_stop == "hold"), *app.end_draft()):
        print(line)
    if app.failure is not None:
        raise app.failure
    return exits.DONE


def _is_wanted(left: LeftBehind) -> bool:
    """Ask whether to make edits that came with the folder from elsewhere."""
    from cuedeck.cli.printing import say
    from cuedeck.cli.prompts import ask

    for line in left.words():
        say(line)
    while (answer := ask("make these edits? y or n: ")) not in ("y", "n", None):
        pass
    return answer == "y"
