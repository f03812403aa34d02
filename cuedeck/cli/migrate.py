"""`cuedeck migrate`: bring a show file to the newest version, and keep the file as it was."""

from __future__ import annotations

import argparse
import itertools
import os
from pathlib import Path

from cuedeck.cli import exits
from cuedeck.cli.arguments import add_show
from cuedeck.errors import Refusal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_show(parser, may_be_here=True)


def run(options: argparse.Namespace) -> int:
    """Migrate the show file, or say that there is nothing to do."""
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.show import SHOW_FILE
    from cuedeck.show.source import VERSION, read_source
    from cuedeck.show.versions import migrated

    folder = ShowFolder(options.show)
    try:
        raw = folder.read(SHOW_FILE)
        newest, notes = migrated(raw)
        if not notes:
            print(f"{options.show}: the show is of version {VERSION}, the newest; nothing was changed")
            return exits.DONE
        kept = _keep(folder.path, f"{SHOW_FILE}.version-{read_source(SHOW_FILE, raw).data['cuedeck']}", raw)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise Refusal(f"the show cannot be migrated: {reason}; look at who may write in '{options.show}'") from error
    folder.save({SHOW_FILE: newest}, {SHOW_FILE: raw})
    for note in notes:
        print(f"{options.show}: {note}")
    print(f"{options.show}: the file as it was is kept in {kept.name}")
    return exits.DONE


def _keep(folder: Path, name: str, raw: bytes) -> Path:
    """Keep bytes in a new file of this name, or of this name with a number; a file that holds them already will do."""
    for number in itertools.count(1):
        path = folder / (name if number == 1 else f"{name}-{number}")
        try:
            with path.open("xb") as file:
                file.write(raw)
                file.flush()
                os.fsync(file.fileno())
        except FileExistsError:
            if not path.is_file() or path.read_bytes() != raw:
                continue
        return path
    raise AssertionError("numbers do not end")
