"""What is wrong with a file of takes, and what can be read of a damaged one, written into a new file.

The invariant owned here: the damaged file is never changed and never deleted.
"""

from __future__ import annotations

import secrets
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

from cuedeck.errors import Refusal
from cuedeck.folder.durable import sync_folder
from cuedeck.folder.inside import BESIDE_DATABASE
from cuedeck.show.problems import counted
from cuedeck.takes.store import TakeStore, digest
from cuedeck.takes.take import COLUMNS, COLUMNS_SINCE, DamagedTake, Status, Take, salvaged
from cuedeck.takes.trouble import TakesUnreadable, Trouble

_PAGE_SIZE_AT, _PAGES_AT, _FREE_AT, _CHANGES_AT, _VALID_FOR_AT = 16, 28, 32, 24, 92
"""Where the header of a database says these, from SQLite's description of its file format."""


@dataclass
class Rescued:
    """What was saved of a damaged file."""

    takes: int = 0
    """Takes that are whole."""
    losses: list[str] = field(default_factory=list)
    """What could not be read, take by take."""


def problems_of(store: TakeStore) -> list[str]:
    """Return all that is wrong with a file of takes."""
    problems = [f"SQLite finds: {one}" for one in store.check_file()]
    takes, damaged = store.listed()
    problems += [f"take {one.name} cannot be read: {one.reason}" for one in damaged]
    for take in takes:
        problems += [f"take {take.slate}: {one}" for one in _problems_of(store, take)]
    return problems


def _problems_of(store: TakeStore, take: Take) -> list[str]:
    bad = [found.detail for found in store.kept(take) if isinstance(found, TakesUnreadable)]
    if bad or take.status is Status.ROLLING:
        return bad
    if take.sha256 != digest(slots for _, slots in store.blocks(take)):
        return ["its packets are not those that it was closed with: the digest of all is another"]
    return []


def rescue(source: Path, target: Path) -> Rescued:
    """Write what can be read of a file into a new one. Raises TakesUnreadable where that is nothing."""
    if target.exists():
        raise Refusal(f"{target} is there already: name a file that is not")
    rescued = Rescued()
    with _readable(source) as damaged, TakeStore(target.parent, create=True, file=target) as new:
        takes, unread = damaged.listed()
        for take in takes:
            _copy(damaged, take, new, rescued)
        for one in [*unread, *_orphans(damaged, takes, unread)]:
            _salvage(damaged, one, new, rescued)
    return rescued


def put_in_place(log: Path, rescued: Path) -> Path:
    """Put a rescued file in the place of the damaged one, and return where that is kept now. Raises Refusal."""
    number = next(n for n in range(1, 10_000) if not log.with_name(f"{log.stem}-damaged-{n}{log.suffix}").exists())
    kept = log.with_name(f"{log.stem}-damaged-{number}{log.suffix}")
    try:
        for part in BESIDE_DATABASE:
            beside = log.with_name(f"{log.name}{part}")
            if beside.exists():
                beside.rename(kept.with_name(f"{kept.name}{part}"))
        rescued.rename(log)
        sync_folder(log.parent)
    except OSError as error:
        raise Refusal(
            f"{log} could not be put aside ({(error.strerror or str(error)).lower()}); what was rescued is in {rescued}"
        ) from error
    return kept


def _copy(source: TakeStore, take: Take, target: TakeStore, rescued: Rescued, *, is_whole: bool = True) -> None:
    """Copy a take, with those of its packets that can be read."""
    keyed = replace(take, key=take.key or secrets.token_hex(16))
    total, bad = target.copy_blocks(source, keyed)
    number = target.put_in(keyed, ())
    copy = replace(keyed, id=number, number=target.by_id(number).number)
    is_ended = take.status is not Status.ROLLING
    is_same = is_ended and digest(slots for _, slots in target.blocks(copy)) == take.sha256
    if is_whole and not bad and (is_same or not is_ended):
        rescued.takes += 1
        return
    words = f"{counted(total, 'packet')} of {take.packets_sent or 'those'} that were sent"
    loss = "; ".join(bad[:3]) or "some of its packets are gone, or what was said of them"
    rescued.losses.append(f"take {copy.slate}: {words} could be read; {loss}")
    target.finish_as(
        replace(
            copy,
            status=Status.INCOMPLETE if take.status is Status.COMPLETE else take.status,
            log="; ".join(filter(None, [take.log, f"rescued from a damaged file: {words}"])),
        )
    )


def _salvage(source: TakeStore, one: DamagedTake, target: TakeStore, rescued: Rescued) -> None:
    """Copy a take of which the row is damaged: its packets, and what can be read of the rest."""
    if not one.row:
        rescued.losses.append(f"a take cannot be read at all: {one.reason}")
        return
    take, problems = salvaged(one.row)
    if "universes" in problems:
        take = replace(take, universes=_universes_in(source, take))
    reason = f"what could not be read: {', '.join(problems)}"
    damaged = replace(take, log="; ".join(filter(None, [take.log, reason])), status=Status.BROKEN)
    _copy(source, damaged, target, rescued, is_whole=False)
    rescued.losses[-1] += f"; {reason}"


def _universes_in(source: TakeStore, take: Take) -> tuple[int, ...]:
    """Return universes, as many as the packets of a take have."""
    for count in range(1, 65):
        guess = replace(take, universes=tuple(range(1, count + 1)))
        if any(not isinstance(found, TakesUnreadable) for found in source.kept(guess)):
            return guess.universes
    return (1,)


def _orphans(source: TakeStore, takes: list[Take], unread: list[DamagedTake]) -> Iterator[DamagedTake]:
    """Yield takes of which there are packets, and nothing else."""
    known = {take.id for take in takes} | {one.id for one in unread}
    columns = len(COLUMNS.split(",")) + sum(len(names.split(",")) for _, names, _ in COLUMNS_SINCE)
    for number in source.takes_with_packets():
        if number not in known:
            yield DamagedTake(number, f"row {number}", "its row is gone", (number, *[None] * (columns - 1)))


@contextmanager
def _readable(source: Path) -> Iterator[TakeStore]:
    """Open a damaged file to read; where its beginning is damaged, a copy with the beginning of a new one."""
    try:
        store = TakeStore(source.parent, file=source)
    except TakesUnreadable as unreadable:
        causes = (Trouble.DAMAGED, Trouble.NO_DATABASE, Trouble.NEWER, Trouble.FOREIGN)
        if unreadable.trouble not in causes or not source.is_file():
            raise
        with tempfile.TemporaryDirectory(prefix="cuedeck-rescue-") as folder:
            copy = _with_new_beginning(source, Path(folder))
            with _opened_copy(copy, unreadable) as store:
                yield store
        return
    with store:
        yield store


def _opened_copy(copy: Path, unreadable: TakesUnreadable) -> TakeStore:
    try:
        store = TakeStore(copy.parent, file=copy)
        if not any(store.listed()):
            raise unreadable
    except TakesUnreadable:
        raise unreadable from None
    return store


def _with_new_beginning(source: Path, folder: Path) -> Path:
    """Return a copy whose first page, which says what tables there are, is that of a new file of takes."""
    TakeStore(folder, create=True).close()
    new = folder / "takes.sqlite"
    page_bytes = int.from_bytes(new.read_bytes()[_PAGE_SIZE_AT : _PAGE_SIZE_AT + 2], "big")
    first = bytearray(new.read_bytes()[:page_bytes])
    pages = source.stat().st_size // page_bytes
    first[_PAGES_AT : _PAGES_AT + 4] = pages.to_bytes(4, "big")
    first[_FREE_AT : _FREE_AT + 8] = bytes(8)
    first[_VALID_FOR_AT : _VALID_FOR_AT + 4] = first[_CHANGES_AT : _CHANGES_AT + 4]
    copy = folder / "copy.sqlite"
    shutil.copyfile(source, copy)
    with copy.open("r+b") as file:
        file.write(first)
    return copy
