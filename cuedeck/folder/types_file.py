"""Types files: fixture types in files of their own, which a show includes.

A types file and the line that includes it are one save: both are there, or neither is.
"""

from __future__ import annotations

import re

from cuedeck.errors import Refusal
from cuedeck.folder.folder import ShowFolder
from cuedeck.show import SHOW_FILE
from cuedeck.show.include import plain_path
from cuedeck.show.source import Data, PathRefused
from cuedeck.show.yamltext.changes import Append, Change, SetValue
from cuedeck.show.yamltext.edit import apply_changes

TYPES_FOLDER = "types"


def types_path(name: str) -> str:
    """Return where in a show folder the types file of a fixture type stands."""
    stem = "-".join(re.findall(r"[a-z0-9]+", name.casefold()))
    return f"{TYPES_FOLDER}/{stem or 'fixture'}.yaml"


def add_types_file(folder: ShowFolder, name: str, text: str, *, replace: bool) -> tuple[str, bool]:
    """Write the types file of a fixture type, and include it; return its path and whether the show names it anew.

    Raises Refusal where the file is there already and may not be replaced, where the show has such a type
    elsewhere, and where something cannot be read or saved; nothing is changed then.
    """
    relative = types_path(name)
    source = folder.open().source
    if name in source.names("types"):
        place = source.place_of_key(("types", name))
        if place.file != relative:
            raise Refusal(f"the show has a type '{name}' already, at {place}: give --name NAME")
    old = _read(folder, relative)
    if old is not None and not replace:
        raise Refusal(f"{relative}: this file is there already; give --name NAME, or --replace to write over it")
    included = source.files[SHOW_FILE]
    change = _inclusion(source.data.get("include"), relative)
    if change is not None:
        included = apply_changes(SHOW_FILE, included, [change])
    expected = {SHOW_FILE: source.files[SHOW_FILE]} | ({} if old is None else {relative: old})
    folder.save({relative: text.encode(), SHOW_FILE: included}, expected)
    return relative, change is not None


def _read(folder: ShowFolder, relative: str) -> bytes | None:
    try:
        return folder.read(relative)
    except FileNotFoundError:
        return None
    except PathRefused as refused:
        raise Refusal(f"{relative}: {refused.what}; make '{TYPES_FOLDER}' a plain folder") from refused
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise Refusal(f"{relative} cannot be read: {reason}; look at who may read it") from error


def _inclusion(include: Data, relative: str) -> Change | None:
    """Return the change that includes a file; None where the show does so already."""
    if any(_leads_to(relative, item) for item in (include if isinstance(include, list) else [include])):
        return None
    if isinstance(include, list) and include:
        return Append(("include",), relative)
    if include is not None and not isinstance(include, (str, list)):
        raise Refusal("'include' in the show is no list of files: write 'include: [FILE.yaml]', or take it out")
    before: list[Data] = [include] if isinstance(include, str) else []
    return SetValue(("include",), [*before, relative])


def _leads_to(relative: str, item: Data) -> bool:
    """Whether an item of `include` is this path in other words, such as './types/spot.yaml'."""
    try:
        return isinstance(item, str) and plain_path(item) == relative
    except PathRefused:
        return False
