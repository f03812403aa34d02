"""Chooses the file that takes are logged in, before a take: one that can be written."""

from __future__ import annotations

import sys
from pathlib import Path

from cuedeck.cli.printing import say
from cuedeck.cli.prompts import ask
from cuedeck.errors import Refusal

LOOK_S = 2.0
"""How long to wait for another program that holds the file."""


def log_to_use(folder: Path, wanted: Path | None) -> str | None:
    """Return the file to log a take in, as a whole path; None for that of the show.

    Raises Refusal where it cannot be written and nobody chooses another.
    """
    log = _chosen(folder, wanted)
    return None if log is None else str(log)


def log_if_any(folder: Path, wanted: Path | None) -> Path | None:
    """Return the same, or None and a message where takes cannot be logged: rehearsals need no log."""
    try:
        return _chosen(folder, wanted)
    except Refusal as refusal:
        say(f"cuedeck: {refusal}\n         rehearsals and looks run without it; takes are refused until it is mended")
        return None


def _chosen(folder: Path, wanted: Path | None) -> Path | None:
    """Return the file to log in, None for that of the show. Raises Refusal where neither can be written."""
    from cuedeck.takes.reading import TAKES_FILE
    from cuedeck.takes.trouble import ELSEWHERE, TakesUnreadable

    try:
        _require_writable(folder / TAKES_FILE if wanted is None else wanted)
    except TakesUnreadable as unreadable:
        instead = None if wanted is not None else _other_file(folder, unreadable)
        if instead is None:
            raise Refusal(f"{unreadable}; {ELSEWHERE}") from unreadable
        return instead.resolve()
    return None if wanted is None else wanted.resolve()


def _other_file(folder: Path, unreadable: Refusal) -> Path | None:
    """Ask whether to log to another file, in the folder or else at home; return it, or None without a yes."""
    if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stderr)):
        return None
    instead = next((one for one in _other_places(folder) if _can_write(one)), None)
    if instead is None:
        return None
    say(f"cuedeck: {unreadable}")
    return instead if (ask(f"log to {instead} instead? y or n: ") or "").casefold() in ("y", "yes") else None


def _other_places(folder: Path) -> list[Path]:
    name = folder.resolve().name
    return [folder / "takes-elsewhere.sqlite", Path.home() / f"{name}-takes.sqlite"]


def _can_write(log: Path) -> bool:
    try:
        _require_writable(log)
    except Refusal:
        return False
    return True


def _require_writable(log: Path) -> None:
    """Write to a log, and leave none where none was. Raises TakesUnreadable."""
    from cuedeck.takes.store import TakeStore

    was_there = log.exists()
    TakeStore(log.parent, create=True, file=log, patience_s=LOOK_S).close()
    if not was_there:
        log.unlink(missing_ok=True)
