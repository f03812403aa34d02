"""`cuedeck takes`: the takes of a show, and their packets."""

from __future__ import annotations

import argparse
import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.arguments import SHOW_OR_HERE
from cuedeck.cli.opening import show_path
from cuedeck.errors import Refusal
from cuedeck.show import SHOW_FILE
from cuedeck.visible import visible_line

if TYPE_CHECKING:
    from cuedeck.takes.store import TakeStore
    from cuedeck.takes.take import Take

EXPORT, CHECK, RESCUE = "export", "check", "rescue"
CIRCLE, REJECT, UNMARK, NOTE, UNNOTE = "circle", "reject", "unmark", "note", "unnote"
MARKS = (CIRCLE, REJECT, UNMARK, NOTE, UNNOTE)
ACTIONS = (EXPORT, CHECK, RESCUE, *MARKS)
"""The first words that are no show."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    # main puts the current folder in
    parser.add_argument("show", metavar="SHOW", help=f"{SHOW_OR_HERE}; or a file of takes")
    parser.add_argument("--json", action="store_true", help="print the list as JSON")
    actions = parser.add_subparsers(metavar="ACTION", dest="action")
    export = actions.add_parser(EXPORT, help="write the recorded packets of a take to a .npz or .csv file")
    export.add_argument("slate", metavar="SLATE", help="the take, such as 1-A")
    export.add_argument("--out", metavar="FILE", required=True, type=Path, help="FILE.npz or FILE.csv")
    for name, text in (
        (CIRCLE, "circle a take: it is to be used"),
        (REJECT, "reject a take: it is not to be used"),
        (UNMARK, "take a circle or a rejection back"),
        (NOTE, "write a note to a take; without a text, show it"),
        (UNNOTE, "take the note of a take away"),
    ):
        action = actions.add_parser(name, help=text)
        action.add_argument("slate", metavar="SLATE", help="the take, such as 1-A")
        if name == NOTE:
            action.add_argument("text", metavar="TEXT", nargs="*", help="the note")
    actions.add_parser(CHECK, help="say what is damaged in the file of takes: SQLite's own check, and every digest")
    rescue = actions.add_parser(RESCUE, help="write what can be read of a damaged file into a new one; the old is kept")
    rescue.add_argument(
        "--out", metavar="FILE", type=Path, help="the new file; left out, it takes the place of the old"
    )
    words = f"{EXPORT} SLATE --out FILE | {CIRCLE} SLATE | {REJECT} SLATE | {UNMARK} SLATE | {NOTE} SLATE [TEXT]"
    parser.usage = f"{parser.prog} [-h] [--json] [SHOW] [{words} | {UNNOTE} SLATE | {CHECK} | {RESCUE} [--out FILE]]"


def run(options: argparse.Namespace) -> int:
    """List the takes, mark one, export one, or see to their file."""
    from cuedeck.cli import takes_rescue
    from cuedeck.takes.store import TakeStore

    log = _log_of(options.show)
    if options.action == RESCUE:
        code = takes_rescue.rescue_file(log, options.out)
        _add_second_files(log)
        return code
    _add_second_files(log)
    if options.action == CHECK:
        return takes_rescue.check_file(log)
    is_reading = options.action not in MARKS or (options.action == NOTE and not options.text)
    with TakeStore(log.parent, file=log, create=not is_reading and log.exists()) as store:
        if options.action in MARKS:
            return _mark(store, options)
        if options.action == EXPORT:
            return _export(store, options.slate, options.out)
        return _list(store, options)


def _log_of(show: str) -> Path:
    """Return the file of takes of a show; the rest of the show may be damaged or missing. Raises NoShow."""
    from cuedeck.takes.reading import TAKES_FILE

    path = Path(show)
    if path.is_file() and path.name != SHOW_FILE:
        return path
    if path.is_dir() and os.path.lexists(path / TAKES_FILE):
        return path / TAKES_FILE
    if path.is_dir() and not (path / SHOW_FILE).exists():
        from cuedeck.folder.folder import NoShow

        raise NoShow(f"there is neither {TAKES_FILE} nor {SHOW_FILE} in '{show}': give the folder of a show")
    return show_path(show) / TAKES_FILE


def _add_second_files(log: Path) -> None:
    """Add the takes that the second files hold to the log, and print what became of them."""
    from cuedeck.player.runtime_directory import log_places
    from cuedeck.takes.spool import take_in

    for what in take_in(log, log_places()):
        print(what, file=sys.stderr)


def _list(store: TakeStore, options: argparse.Namespace) -> int:
    takes, damaged = store.listed()
    if options.json:
        print(
            json.dumps(
                [*map(_as_data, takes), *({"slate": one.name, "damaged": one.reason} for one in damaged)], indent=2
            )
        )
    elif takes:
        _print_table(store, takes)
    elif not damaged:
        print(f"no takes yet: cuedeck shoot {options.show} SHOT")
    for one in damaged:
        print(f"{one.name:8} DAMAGED: {one.reason}", file=sys.stderr if options.json else sys.stdout)
    if damaged:
        print(f"'cuedeck takes {options.show} {RESCUE}' writes what can be read into a new file", file=sys.stderr)
    return exits.WRONG if damaged else exits.DONE


def _mark(store: TakeStore, options: argparse.Namespace) -> int:
    """Circle or reject a take, or write a note to it, and say so."""
    from cuedeck.takes.take import TakeMark

    take = _found(store, options.slate)
    if options.action in (NOTE, UNNOTE):
        text = [] if options.action == UNNOTE else options.text
        note = store.set_note(take, " ".join(text)) if text or options.action == UNNOTE else take.note
        print(f"note of take {take.slate}: {note}" if note else f"take {take.slate} has no note")
        return exits.DONE
    mark = {CIRCLE: TakeMark.CIRCLED, REJECT: TakeMark.REJECTED, UNMARK: TakeMark.NONE}[options.action]
    store.set_mark(take, mark)
    print(f"take {take.slate} is {mark or 'neither circled nor rejected'}")
    return exits.DONE


def _found(store: TakeStore, slate: str) -> Take:
    from cuedeck.show.problems import counted
    from cuedeck.takes.trouble import TakeDamaged

    take = store.find(slate)
    if take is None and (damaged := store.listed()[1]):
        what = f"there is no take '{slate}' that can be read, and {counted(len(damaged), 'take')} in it cannot"
        raise TakeDamaged(store.path, what)
    if take is None:
        known = ", ".join(one.slate for one in store.takes()[-8:])
        raise Refusal(
            f"there is no take '{slate}': {f'the last ones are {known}' if known else 'none has been shot yet'}"
        )
    return take


def _print_table(store: TakeStore, takes: list[Take]) -> None:
    from cuedeck.takes.compare import stood_still

    print(
        f"{'slate':8} {'started (UTC)':20} {'packets':>13}  {'status':10} {'mark':8} {'worst late':>10}"
        f"  {'sha256':12}  fired, reason, note"
    )
    for take in takes:
        worst = f"{take.lateness.worst_ms:.2f} ms" if take.lateness else ""
        started = take.started_utc[:19].replace("T", " ")
        sent = f"{'?' if take.status == 'rolling' else take.packets_sent}/{take.packets_due}"
        fired = "".join(f"  {one.cue}@{one.packet}" for one in take.fired)
        fired += f"  speed {take.speed}" if take.speed != 1 else ""
        fired += "  axes live" if take.axes_live else ""
        fired += f"  {take.reason}" if take.reason else ""
        fired += "".join(f"  stood still {still}" for still in stood_still(store, take))
        fired += f"  “{take.note}”" if take.note else ""
        fired += f"  log: {take.log}" if take.log else ""
        row = (
            f"{take.slate:8} {started:20} {sent:>13}  {_status(take):10} {take.mark:8} {worst:>10}"
            f"  {take.sha256[:12]:12}{fired}"
        )
        print(visible_line(row.rstrip()))


def _status(take: Take) -> str:
    """Return how a take ended. One without an end may still run, or its program was killed."""
    return "rolling?" if take.status == "rolling" else take.status


def _as_data(take: Take) -> dict[str, object]:
    return {
        "slate": take.slate,
        "shot": take.shot,
        "started_utc": take.started_utc,
        "status": take.status,
        "reason": take.reason,
        "packets_due": take.packets_due,
        "packets_sent": take.packets_sent,
        "refresh_hz": str(take.refresh_hz),
        "outputs": list(take.outputs),
        "fired": [{"cue": one.cue, "packet": one.packet} for one in take.fired],
        "sha256": take.sha256,
        "chase": take.chase,
        "speed": str(take.speed),
        "axes_live": take.axes_live,
        "mark": take.mark.value,
        "note": take.note,
        "log": take.log,
        "carried": [list(run) for run in take.carried],
    }


def _export(store: TakeStore, slate: str, out: Path) -> int:
    import numpy as np

    from cuedeck.takes.arrays import write_packets
    from cuedeck.takes.carried import numbers_of
    from cuedeck.timeline.timeline import packet_times_s

    take = _found(store, slate)
    numbers = [part for part, _ in store.blocks(take)]
    every = np.concatenate(numbers) if numbers else np.array([], dtype=np.int64)
    carried = numbers_of(take.carried)[: len(every)] if take.carried else None
    times_s = packet_times_s(every, take.refresh_hz)
    write_packets(
        out, times_s, take.universes, lambda: (slots for _, slots in store.blocks(take)), carried, store.times(take)
    )
    print(f"{out}: {len(every)} packets of take {take.slate} ({take.status})")
    return exits.DONE
