"""`cuedeck patch`: the patch sheet of a show, and addresses for the lights that need one."""

from __future__ import annotations

import argparse
import json
import sys
from typing import TYPE_CHECKING, Any

from cuedeck.cli import exits
from cuedeck.cli.arguments import add_show
from cuedeck.cli.opening import print_errors
from cuedeck.cli.printing import number_range, print_table

if TYPE_CHECKING:
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.rig.patch import Patch
    from cuedeck.show.units import Level
    from cuedeck.timeline.opening import OpenedShow


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_show(parser, may_be_here=True)
    parser.add_argument("--slots", action="store_true", help="also list what each slot carries")
    parser.add_argument("--json", action="store_true", help="print the sheet as JSON")
    parser.add_argument("--auto", action="store_true", help="propose addresses where there is none, or a clash")
    parser.add_argument("--all", action="store_true", help="with --auto: address every light anew")
    parser.add_argument("--gap", metavar="SLOTS", type=_slots, default=0, help="with --auto: spare slots between")
    parser.add_argument(
        "--every", metavar="SLOTS", type=_slots, default=1, help="with --auto: start on slots 1, 1 + SLOTS, ..."
    )
    parser.add_argument("--write", action="store_true", help="with --auto: write the addresses into the show")


def _slots(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text) <= 512):
        raise argparse.ArgumentTypeError(f"'{text}' is not a number of slots, 0 to 512")
    return int(text)


def run(options: argparse.Namespace) -> int:
    """Print the sheet, or propose addresses and write them where that is asked for."""
    from cuedeck.errors import Refusal
    from cuedeck.folder.folder import ShowFolder

    if not options.auto and (options.write or options.all or options.gap or options.every != 1):
        raise Refusal("--write, --all, --gap and --every say how to address: add --auto")
    folder = ShowFolder(options.show)
    opened = folder.open()
    if options.auto:
        return _address(folder, opened, options)
    print_errors(opened)
    if options.json:
        print(json.dumps(_as_data(opened.patch), indent=2))
    else:
        _print_sheet(opened.patch, options.slots)
    return exits.WRONG if opened.errors else exits.DONE


def _print_sheet(patch: Patch, with_slots: bool) -> None:
    from cuedeck.rig.sheet import SWITCHES, limits_text, slot_names, switches, universe_uses
    from cuedeck.show.problems import counted

    rows = []
    for fixture in patch.fixtures:
        kind = fixture.hung.type + (f", {fixture.hung.mode}" if fixture.hung.mode else "")
        own = number_range(fixture.address.slot, fixture.last_slot)
        dip = switches(fixture.address.slot, fixture.type.tenth_switch)
        dip = dip or f"none: {SWITCHES} switches end at 511"
        rows.append((str(fixture.address), fixture.name, kind, own, dip, limits_text(fixture)))
        if with_slots:
            rows += [(f"  {slot}", f"  {name}", "", "", "", "") for slot, name in slot_names(fixture)]
    heading = ("address", "light", "type", "slots", "switches on", "limits")
    columns = len(heading) if any(row[-1] for row in rows) else len(heading) - 1  # without limits, no column for them
    print_table(heading[:columns], [row[:columns] for row in rows])
    print()
    for use in universe_uses(patch):
        spare = ", ".join(number_range(first, last) for first, last in use.spare) or "none"
        print(f"universe {use.universe}: {counted(use.used_slots, 'slot')} used, {use.spare_slots} spare ({spare})")
    print(f"{patch.slots_sent} slots are sent in each packet")


def _as_data(patch: Patch) -> dict[str, Any]:
    from cuedeck.rig.sheet import slot_names, switches, universe_uses

    lights = [
        {
            "light": fixture.name,
            "type": fixture.hung.type,
            "mode": fixture.hung.mode,
            "address": str(fixture.address),
            "first_slot": fixture.address.slot,
            "last_slot": fixture.last_slot,
            "switches": switches(fixture.address.slot, fixture.type.tenth_switch),
            "never_above": _as_text(fixture.hung.never_above),
            "never_below": _as_text(fixture.hung.never_below),
            "slots": [{"slot": slot, "carries": name} for slot, name in slot_names(fixture)],
        }
        for fixture in patch.fixtures
    ]
    universes = [
        {"universe": use.universe, "used": use.used_slots, "spare": use.spare_slots, "spare_slots": use.spare}
        for use in universe_uses(patch)
    ]
    return {"lights": lights, "universes": universes, "slots_sent": patch.slots_sent}


def _as_text(level: Level | None) -> str | None:
    return None if level is None else str(level)


def _address(folder: ShowFolder, opened: OpenedShow, options: argparse.Namespace) -> int:
    from cuedeck.rig.addressing import propose
    from cuedeck.show.problems import counted
    from cuedeck.show.yamltext.edit import SetValue

    proposals = propose(opened.show, gap_slots=options.gap, every_slots=max(options.every, 1), everything=options.all)
    if options.json:
        rows = [{"light": p.name, "before": p.before and str(p.before), "address": str(p.address)} for p in proposals]
        print(json.dumps(rows, indent=2))
    elif proposals:
        addresses = [(one.name, str(one.before or "none"), str(one.address)) for one in proposals]
        print_table(("light", "before", "proposed"), addresses)
    if not proposals:
        print("every light has an address of its own", file=sys.stderr)
    elif options.write:
        files = folder.change(opened, [SetValue(("rig", one.name, "address"), str(one.address)) for one in proposals])
        print(f"{counted(len(proposals), 'light')} addressed in {', '.join(files)}", file=sys.stderr)
    else:
        print("nothing was written: add --write", file=sys.stderr)
    return exits.DONE
