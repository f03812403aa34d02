"""`cuedeck fixture`: fixture types out of GDTF files."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from cuedeck.cli import exits
from cuedeck.cli.printing import number_range, print_table, say
from cuedeck.errors import Refusal

if TYPE_CHECKING:
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.rig.gdtf.channels import WrittenChannel
    from cuedeck.rig.gdtf.fixture_types import ImportedType


MOST_NOTES = 40


def add_arguments(parser: argparse.ArgumentParser) -> None:
    actions = parser.add_subparsers(title="actions", metavar="ACTION", dest="action", required=True)
    shown = actions.add_parser("show", help="print the modes and channels of a GDTF file")
    imported = actions.add_parser("import", help="write the fixture type of a GDTF file into a show")
    for one in (shown, imported):
        one.add_argument("file", metavar="FILE.gdtf", type=Path, help="the GDTF file")
        one.add_argument("--mode", metavar="NAME", help="this mode only")
    imported.add_argument("--name", metavar="NAME", help="what the show calls the type; else its name in the file")
    imported.add_argument("--into", metavar="SHOW", help="the folder of the show; else the current folder")
    imported.add_argument("--replace", action="store_true", help="write over a types file of that name")


def run(options: argparse.Namespace) -> int:
    from cuedeck.folder.gdtf_file import read_archive
    from cuedeck.rig.gdtf.fixture_types import import_type

    if options.action == "import":
        return _import(options)
    found = import_type(read_archive(options.file), str(options.file), options.mode)
    _print_notes(found)
    _print_modes(found)
    return exits.DONE


def _import(options: argparse.Namespace) -> int:
    from cuedeck.folder.gdtf_file import read_archive
    from cuedeck.folder.types_file import add_types_file
    from cuedeck.rig.gdtf.fixture_types import import_type
    from cuedeck.rig.types import types_file_text
    from cuedeck.show import SHOW_FILE
    from cuedeck.show.source import MOST_BYTES

    folder = _show_folder(options.into)
    found = import_type(read_archive(options.file), str(options.file), options.mode)
    name = _type_name(found.name if options.name is None else options.name)
    text = types_file_text(name, found.description, _comments(found, options.file))
    if len(text.encode()) > MOST_BYTES:
        raise Refusal(f"the type would be larger than {MOST_BYTES // 1_000_000} MB: import one mode, with --mode NAME")
    relative, is_new = add_types_file(folder, name, text, replace=options.replace)
    _print_notes(found)
    print(f"{folder.path / relative}: {name}, {_modes_in_words(found)}")
    if is_new:
        print(f"{folder.path / SHOW_FILE}: includes {relative}")
    return exits.DONE


def _show_folder(path: str | None) -> ShowFolder:
    from cuedeck.folder.folder import NoShow, ShowFolder

    if path is not None:
        return ShowFolder(path)
    try:
        return ShowFolder(".")
    except NoShow as none:
        raise Refusal("there is no show in the current folder: add --into SHOW, the folder of the show") from none


def _type_name(name: str) -> str:
    from cuedeck.rig.gdtf.names import MOST_NAME_CHARACTERS

    if not name.strip() or not name.isprintable() or len(name) > MOST_NAME_CHARACTERS:
        cure = f"write up to {MOST_NAME_CHARACTERS} letters, digits and spaces"
        raise Refusal(f"the name of a type cannot be '{name.encode('unicode_escape').decode()[:40]}': {cure}")
    return name.strip()


def _comments(found: ImportedType, file: Path) -> list[str]:
    from cuedeck.rig.gdtf.names import clean

    made_by = f" by {found.maker}" if found.maker else ""
    return [
        f"From the GDTF file '{clean(file.name, 200)}', data version {found.data_version}: {found.name}{made_by}.",
        f"Slots: {_modes_in_words(found)}.",
        *(f"Note: {note}" for note in found.notes[:MOST_NOTES]),
    ]


def _modes_in_words(found: ImportedType) -> str:
    from cuedeck.show.problems import counted

    return ", ".join(f"'{mode}' {counted(found.slot_count(mode), 'slot')}" for mode in found.modes)


def _print_notes(found: ImportedType) -> None:
    for note in found.notes[:MOST_NOTES]:
        say(f"note: {note}")
    if len(found.notes) > MOST_NOTES:
        say(f"note: and {len(found.notes) - MOST_NOTES} more like these")


def _print_modes(found: ImportedType) -> None:
    from cuedeck.show.problems import counted

    print(f"{found.name}{f', {found.maker}' if found.maker else ''} (GDTF {found.data_version})")
    for mode, channels in found.modes.items():
        print(f"\nmode '{mode}': {counted(found.slot_count(mode), 'slot')}")
        print_table(("slots", "channel", "default", "snap", "ranges"), map(_row, channels), indent="  ")


def _row(channel: WrittenChannel) -> tuple[str, str, str, str, str]:
    slots = number_range(channel.first_slot, channel.first_slot + channel.width_slots - 1)
    long = channel.data if isinstance(channel.data, dict) else {}
    ranges = ", ".join(f"{name} {numbers}" for name, numbers in long.get("ranges", {}).items())
    return slots, channel.name, long.get("default", ""), long.get("snap", ""), ranges
