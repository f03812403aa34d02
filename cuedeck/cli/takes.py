"""`cuedeck takes`: the takes of a show, and their packets."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.shows import SHOW_OR_HERE
from cuedeck.errors import Refusal
from cuedeck.visible import visible_line

if TYPE_CHECKING:
    from cuedeck.takes.store import Take, TakeStore

NAME = "takes"
EXPORT = "export"
CIRCLE, REJECT, UNMARK, NOTE = "circle", "reject", "unmark", "note"
ACTIONS = (EXPORT, CIRCLE, REJECT, UNMARK, NOTE)
"""The first words that are no show."""
HELP = "list the takes of a show, circle or reject one, write a note to it, or export its packets"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    parser.add_argument("show", metavar="SHOW", help=SHOW_OR_HERE)  # main puts the current folder in
    parser.add_argument("--json", action="store_true", help="print the list as JSON")
    actions = parser.add_subparsers(metavar="ACTION", dest="action")
    export = actions.add_parser(EXPORT, help="write the recorded packets of a take to a .npz or .csv file")
    export.add_argument("slate", metavar="SLATE", help="the take, such as 1-A")
    export.add_argument("--out", metavar="FILE", required=True, type=Path, help="FILE.npz or FILE.csv")
    for name, text in (
        (CIRCLE, "circle a take: it is to be used"),
        (REJECT, "reject a take: it is not to be used"),
        (UNMARK, "take a circle or a rejection back"),
        (NOTE, "write a note to a take; without a text, take it away"),
    ):
        action = actions.add_parser(name, help=text)
        action.add_argument("slate", metavar="SLATE", help="the take, such as 1-A")
        if name == NOTE:
            action.add_argument("text", metavar="TEXT", nargs="*", help="the note")
    actions_text = f"{EXPORT} SLATE --out FILE | {CIRCLE} SLATE | {REJECT} SLATE | {UNMARK} SLATE | {NOTE} SLATE TEXT"
    parser.usage = f"{parser.prog} [-h] [--json] [SHOW] [{actions_text}]"


def run(options: argparse.Namespace) -> int:
    """List the takes, mark one, or export one."""
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.takes.store import TAKES_FILE, TakeStore

    folder = ShowFolder(options.show).path
    if options.action in (CIRCLE, REJECT, UNMARK, NOTE):
        with TakeStore(folder, create=(folder / TAKES_FILE).exists()) as store:
            return _mark(store, options)
    with TakeStore(folder) as store:
        if options.action == EXPORT:
            return _export(store, options.slate, options.out)
        takes = store.takes()
        if options.json:
            print(json.dumps([_as_data(take) for take in takes], indent=2))
        elif not takes:
            print(f"no takes yet: cuedeck shoot {options.show} SHOT")
        else:
            _print_table(store, takes)
    return exits.DONE


def _mark(store: TakeStore, options: argparse.Namespace) -> int:
    """Circle or reject a take, or write a note to it, and say so."""
    from cuedeck.takes.store import Mark

    take = _found(store, options.slate)
    if options.action == NOTE:
        note = store.set_note(take, " ".join(options.text))
        print(f"note of take {take.slate}: {note}" if note else f"take {take.slate} has no note")
        return exits.DONE
    mark = {CIRCLE: Mark.CIRCLED, REJECT: Mark.REJECTED, UNMARK: Mark.NONE}[options.action]
    store.set_mark(take, mark)
    print(f"take {take.slate} is {mark or 'neither circled nor rejected'}")
    return exits.DONE


def _found(store: TakeStore, slate: str) -> Take:
    take = store.find(slate)
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
        row = (
            f"{take.slate:8} {started:20} {sent:>13}  {_status(take):10} {take.mark:8} {worst:>10}"
            f"  {take.sha256[:12]:12}{fired}"
        )
        print(visible_line(row.rstrip()))


def _status(take: Take) -> str:
    """Return how a take ended; one that never said so may still run, or its program was killed."""
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
