"""`cuedeck takes SHOW check` and `rescue`: what is damaged in a file of takes, and what can be saved of it."""

from __future__ import annotations

import secrets
import sys
from pathlib import Path

from cuedeck.cli import exits
from cuedeck.errors import Refusal
from cuedeck.show.problems import counted


def check_file(log: Path) -> int:
    """Say what is damaged in a file of takes."""
    from cuedeck.takes.rescue import problems_of
    from cuedeck.takes.store import TakeStore

    if not log.exists():
        print("no takes yet: there is nothing to check")
        return exits.DONE
    with TakeStore(log.parent, file=log) as store:
        problems, takes = problems_of(store), store.takes()
    for problem in problems:
        print(problem)
    if problems:
        print(f"'cuedeck takes {log.parent} rescue' writes what can be read into a new file", file=sys.stderr)
        return exits.WRONG
    print(f"{log} is sound: {counted(len(takes), 'take')}, every packet as it was written")
    return exits.DONE


def rescue_file(log: Path, out: Path | None) -> int:
    """Write what can be read of a damaged file into a new one, and keep the old one beside it."""
    from cuedeck.takes.rescue import Rescued, put_in_place, rescue

    if not log.is_file():
        raise Refusal(f"{log} is no file: there is nothing to rescue")
    if out is None and _is_sound(log):
        print(f"{log} is sound: there is nothing to rescue")
        return exits.DONE
    new = log.with_name(f".{log.stem}-{secrets.token_hex(4)}.rescued") if out is None else out
    try:
        rescued: Rescued = rescue(log, new)
    except BaseException:
        if out is None:
            new.unlink(missing_ok=True)
        raise
    for loss in rescued.losses:
        print(loss)
    whole, parts = counted(rescued.takes, "take"), len(rescued.losses)
    what = f"{whole} rescued whole{f', {parts} not' if parts else ''}"
    if out is None:
        kept = put_in_place(log, new)
        print(f"{log}: {what}; the damaged file is kept as {kept.name}")
    else:
        print(f"{out}: {what}; {log} is as it was")
    return exits.WRONG if rescued.losses else exits.DONE


def _is_sound(log: Path) -> bool:
    from cuedeck.takes.rescue import problems_of
    from cuedeck.takes.store import TakeStore
    from cuedeck.takes.trouble import TakesUnreadable, Trouble

    try:
        with TakeStore(log.parent, file=log) as store:
            return not problems_of(store)
    except TakesUnreadable as unreadable:
        if unreadable.trouble is Trouble.LOCKED:
            raise
        return False
