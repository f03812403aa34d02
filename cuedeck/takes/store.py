"""The takes of a show, in one SQLite file in its folder.

A take is there from its first packet on, and its packets are written in blocks while it runs: whatever
happens to the program, what went out until then is on disk. Others read meanwhile. What is read may be damaged or
foreign: a row is believed when it is what it should be, and one that is not keeps no other from being read.
"""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, suppress
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import numpy as np
import numpy.typing as npt

from cuedeck.errors import Refusal
from cuedeck.output.base import Line
from cuedeck.takes import blocks
from cuedeck.takes.blocks import Block, Packets, block_in, block_of, packets_in
from cuedeck.takes.carried import runs_of
from cuedeck.takes.database import PATIENCE_S, Database
from cuedeck.takes.take import (
    COLUMNS,
    COLUMNS_SINCE,
    MOST_TAKES,
    DamagedTake,
    Lateness,
    Mark,
    Status,
    Take,
    row_of,
    slate,
    take_of,
)
from cuedeck.takes.times import PacketTimes
from cuedeck.takes.trouble import TakeDamaged, TakesUnreadable, Trouble
from cuedeck.timeline.plan import FiredCue

TAKES_FILE = "takes.sqlite"
LONGEST_NOTE = 500
"""Characters of a note."""
Slots = npt.NDArray[np.uint8]
__all__ = [
    "LONGEST_NOTE",
    "TAKES_FILE",
    "DamagedTake",
    "Lateness",
    "Mark",
    "Status",
    "Take",
    "TakeDamaged",
    "TakeStore",
    "TakesUnreadable",
    "digest",
    "slate",
]
_PUT_IN = f"insert or ignore into packets (take, {blocks.COLUMNS}) values (?, ?, ?, ?, ?, ?, ?, ?)"  # noqa: S608
_ALL_COLUMNS = ", ".join([COLUMNS, *(names for _, names, _ in COLUMNS_SINCE)])


def digest(blocks: Iterable[Slots]) -> str:
    """Return the SHA-256 of slots, the same however they are cut into blocks."""
    total = hashlib.sha256()
    for block in blocks:
        total.update(np.ascontiguousarray(block).tobytes())
    return total.hexdigest()


class TakeStore:
    """The file of takes of a show folder, or another: to read, or with `create` to write too. Raises TakesUnreadable.

    `is_alone` keeps every other program out of the file while it is open.
    """

    def __init__(
        self,
        folder: Path,
        *,
        create: bool = False,
        file: Path | None = None,
        patience_s: float = PATIENCE_S,
        is_alone: bool = False,
    ) -> None:
        self.path = folder / TAKES_FILE if file is None else file
        self._database: Database | None = None
        if create or not _is_absent(self.path):
            self._database = Database(self.path, writes=create, patience_s=patience_s, is_alone=is_alone)

    def close(self) -> None:
        """Let go of the file; safe to call twice."""
        if self._database is not None:
            self._database.close()

    def __enter__(self) -> TakeStore:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def _file(self) -> Database:
        if self._database is None:
            raise TakesUnreadable(self.path, Trouble.EMPTY)
        return self._database

    @property
    def is_in_place(self) -> bool:
        """Whether the file that is open is still the one that is found under its name."""
        return self._file.is_in_place

    # What is read.

    def takes(self) -> list[Take]:
        """Return all takes that can be read, the oldest first."""
        return self.listed()[0]

    def listed(self) -> tuple[list[Take], list[DamagedTake]]:
        """Return all takes that can be read, and those that cannot, each the oldest first."""
        if self._database is None or not self._database.is_open:
            return [], []
        takes, damaged = [], []
        query = f"select {self._columns()} from take"  # noqa: S608 - no text of others is in it
        for row in self._database.rows(query, "id", ()):
            if isinstance(row, TakesUnreadable):
                damaged.append(DamagedTake(0, "?", row.detail))
                continue
            try:
                takes.append(take_of(row))
            except ValueError as error:
                damaged.append(DamagedTake(row[0], _name_of(row), str(error), row))
        return takes, damaged

    def find(self, wanted: str) -> Take | None:
        """Return the take with a slate, in capitals or not, or None. Raises TakeDamaged for one that cannot be read."""
        takes, damaged = self.listed()
        for one in damaged:
            if one.name.casefold() == wanted.casefold():
                raise TakeDamaged(self.path, f"take {one.name}: {one.reason}")
        return next((take for take in takes if take.slate.casefold() == wanted.casefold()), None)

    def by_id(self, number: int | None) -> Take:
        """Return the take with a number of the log. Raises TakesUnreadable where it cannot be read."""
        with self._file.connection() as database:
            query = f"select {self._columns()} from take where id = ?"  # noqa: S608 - no text of others is in it
            row = database.execute(query, (number,)).fetchone()
        if row is None:
            raise TakeDamaged(self.path, "a take is gone from it")
        try:
            return take_of(row)
        except ValueError as error:
            raise TakeDamaged(self.path, str(error)) from error

    def id_of(self, key: str) -> int | None:
        """Return the number in the log of the take with a key, or None."""
        if self._database is None or not self._database.is_open or self._database.version < 6:
            return None
        with self._file.connection() as database:
            row = database.execute("select id from take where key = ? and typeof(id) = 'integer'", (key,)).fetchone()
        return None if row is None else int(row[0])

    def firsts(self, key: str) -> set[int]:
        """Return the first packets of the blocks of the take with a key."""
        with self._file.connection() as database:
            query = "select first from packets where take in (select id from take where key = ?)"
            return {row[0] for row in database.execute(query, (key,))}

    def takes_with_packets(self) -> list[int]:
        """Return the numbers in the log of the takes of which there are packets, as far as they can be read."""
        found: list[int] = []
        with suppress(TakesUnreadable):
            while True:
                with self._file.connection() as database:
                    query = "select take from packets where take > ? and typeof(take) = 'integer' order by take limit 1"
                    row = database.execute(query, (found[-1] if found else 0,)).fetchone()
                if row is None or row[0] in found or len(found) >= MOST_TAKES:
                    break
                found.append(row[0])
        return found

    def next_number(self, shot: str) -> int:
        """Return the number, from 1, that the next take of a shot gets."""
        if self._database is None or not self._database.is_open:
            return 1
        query = "select max(number) from take where shot = ? and typeof(number) = 'integer' and number between 1 and ?"
        with self._file.connection() as database:
            (most,) = database.execute(query, (shot, MOST_TAKES - 1)).fetchone()
        return (most or 0) + 1

    def blocks(self, take: Take) -> Iterator[tuple[npt.NDArray[np.int64], Slots]]:
        """Yield the recorded packets of a take: their numbers, and slots of shape (packets, universes, 512)."""
        return ((packets.numbers, packets.slots) for packets in self.packets(take))

    def packets(self, take: Take) -> Iterator[Packets]:
        """Yield the recorded packets of a take, block by block. Raises TakeDamaged at the first that is damaged."""
        for found in self.kept(take):
            if isinstance(found, TakesUnreadable):
                raise found
            yield found[1]

    def kept(self, take: Take) -> Iterator[tuple[Block, Packets] | TakesUnreadable]:
        """Yield the blocks of a take with their packets, and in place of a damaged one what is wrong with it."""
        since = self._file.version
        columns = blocks.COLUMNS if since > 5 else blocks.COLUMNS.replace("digest", "null")
        columns = columns if since > 3 else columns.replace("due_ns", "null").replace("carried", "null")
        query = f"select {columns} from packets where take = ?"  # noqa: S608 - no text of others is in it
        for row in self._file.rows(query, "first", (take.id,)):
            if isinstance(row, TakesUnreadable):
                yield TakeDamaged(self.path, f"take {take.slate}: {row.detail}")
                continue
            try:
                block = block_in(row)
                yield block, packets_in(block, len(take.universes))
            except ValueError as error:
                yield TakeDamaged(self.path, f"take {take.slate}: {error}")

    def times(self, take: Take) -> PacketTimes | None:
        """Return when the recorded packets were due and left; None where an older cuedeck did not keep that."""
        due_ns, sent_ns = [], []
        for packets in self.packets(take):
            if packets.due_ns is None:
                return None
            due_ns.append(packets.due_ns)
            sent_ns.append(packets.sent_ns)
        return PacketTimes(np.concatenate(due_ns), np.concatenate(sent_ns)) if due_ns else None

    def check_file(self) -> list[str]:
        """Return what SQLite itself finds wrong with the file."""
        return self._file.check()

    def _columns(self) -> str:
        """The columns of a take; a file that is only read may lack those that came since."""
        version = self._file.version
        later = (names if version >= since else instead for since, names, instead in COLUMNS_SINCE)
        return ", ".join([COLUMNS, *later])

    # What is written.

    def transaction(self) -> AbstractContextManager[sqlite3.Connection]:
        """Give the connection within a transaction, of which all is kept or nothing."""
        return self._file.transaction()

    def begin(
        self,
        shot: str,
        line: Line,
        refresh: Fraction,
        packets_due: int,
        outputs: Sequence[str],
        chase: str = "",
        speed: Fraction = Fraction(1),
        axes_live: bool = False,
    ) -> Take:
        """Open the next take of a shot; `chase` is the source of the timecode that it follows."""
        begun = Take(
            id=0,
            shot=shot,
            number=0,
            started_utc=datetime.now(UTC).isoformat(timespec="seconds"),
            refresh_hz=refresh,
            universes=line.universes,
            packets_due=packets_due,
            packets_sent=0,
            outputs=tuple(outputs),
            fired=(),
            status=Status.ROLLING,
            sha256="",
            lateness=None,
            chase=chase,
            carried=(),
            speed=speed,
            axes_live=axes_live,
            key=secrets.token_hex(16),
            slots_sent=line.slots_sent,
        )
        with self._file.transaction() as database:
            numbered = replace(begun, number=self.next_number(shot))
            number = _insert(database, numbered)
        return replace(numbered, id=number)

    def put_in(self, take: Take, more: Sequence[Block]) -> int:
        """Write blocks to the take with the key of `take`, which is made where it is not there; return its number.

        Blocks that are there already stay. A take that is made anew keeps its slate where that is free.
        """
        with self._file.transaction() as database:
            number = self.id_of(take.key) if take.key else None
            if number is None:
                taken = database.execute(
                    "select count(*) from take where shot = ? and number = ?", (take.shot, take.number)
                ).fetchone()[0]
                number = _insert(database, replace(take, number=self.next_number(take.shot)) if taken else take)
            rows = [(number, *block.row) for block in more]
            database.executemany(_PUT_IN, rows)
        return number

    def add_packets(
        self,
        take: int,
        numbers: Sequence[int],
        due_ns: Sequence[int],
        sent_ns: Sequence[int],
        slots: Slots,
        carried: Sequence[int] = (),
    ) -> None:
        """Write a block of packets: numbers, when each was due and left, and slots (packets, universes, 512).

        `carried` are the packets of the shot that they were, where those are not the ones of their numbers.
        """
        row = (take, *block_of(numbers, due_ns, sent_ns, slots, carried).row)
        with self._file.connection() as database:
            database.execute(_PUT_IN, row)

    def finish(
        self,
        take: int,
        status: Status,
        packets_due: int,
        packets_sent: int,
        fired: Sequence[FiredCue],
        late: Lateness | None,
        carried: Sequence[int] = (),
    ) -> Take:
        """Close a take: how it ended, what the operator fired, how late its packets were, and what they carried.

        `late` is None where that is not known. Raises TakeDamaged where what is written cannot be read back.
        """
        ended = replace(
            self.by_id(take),
            status=status,
            packets_due=packets_due,
            packets_sent=packets_sent,
            fired=tuple(fired),
            lateness=late,
            carried=tuple(runs_of(carried)),
        )
        return self.finish_as(ended)

    def finish_as(self, take: Take) -> Take:
        """Close a take as it is given, with the digest of what is written. Raises TakeDamaged."""
        return self.rewrite(replace(take, sha256=digest(slots for _, slots in self.blocks(take))))

    def rewrite(self, take: Take) -> Take:
        """Write how a take ended; its mark and its note are as they stand in the log."""
        names = [name for name in _ALL_COLUMNS.split(", ")[1:] if name not in ("mark", "note")]
        values = dict(zip(_ALL_COLUMNS.split(", ")[1:], row_of(take), strict=True))
        assignments = ", ".join(f"{name} = ?" for name in names)
        with self._file.connection() as database:
            query = f"update take set {assignments} where id = ?"  # noqa: S608 - the names are ours
            database.execute(query, (*(values[name] for name in names), take.id))
        return self.by_id(take.id)

    def close_left_behind(self) -> list[Take]:
        """Close the takes that still roll as lost, with what they had written; return them, the oldest first.

        Only for the program that alone may shoot this show, before its first take: any other take that rolls
        would be closed under the hands of the one that shoots it. What the operator had fired is not known.
        """
        return [self.close_as_lost(take) for take in self.takes() if take.status is Status.ROLLING]

    def close_as_lost(self, take: Take) -> Take:
        """Close a take whose program was killed, with what can be read of its packets."""
        total, late_ns, carried, bad = hashlib.sha256(), list[int](), list[int](), list[str]()
        sent, has_times, has_carried = 0, True, False
        for found in self.kept(take):
            if isinstance(found, TakesUnreadable):
                bad.append(found.detail)
                continue
            packets = found[1]
            sent += len(packets.numbers)
            total.update(packets.slots.tobytes())
            has_times = has_times and packets.due_ns is not None
            late_ns += [] if packets.due_ns is None else (packets.sent_ns - packets.due_ns).tolist()
            has_carried = has_carried or packets.carried is not None
            carried += (packets.numbers if packets.carried is None else packets.carried).tolist()
        return self.rewrite(
            replace(
                take,
                status=Status.LOST,
                packets_sent=sent,
                lateness=Lateness.of(late_ns) if late_ns and has_times else None,
                carried=tuple(runs_of(carried)) if has_carried else (),
                sha256=total.hexdigest(),
                log="; ".join([*filter(None, [take.log]), *bad])[:LONGEST_NOTE],
            )
        )

    def set_mark(self, take: Take, mark: Mark) -> None:
        """Circle a take, reject it, or take that back. Raises TakesUnreadable."""
        with self._file.connection() as database:
            database.execute("update take set mark = ? where id = ?", (mark.value, take.id))

    def set_note(self, take: Take, note: str) -> str:
        """Write a note to a take, in place of the one that stood there; return it as it is kept. Raises Refusal."""
        text = " ".join(note.split())
        if len(text) > LONGEST_NOTE:
            raise Refusal(f"the note has {len(text)} characters: write it in {LONGEST_NOTE} or fewer")
        if not text.isprintable():
            raise Refusal("the note holds signs that cannot be shown: write it without them")
        with self._file.connection() as database:
            database.execute("update take set note = ? where id = ?", (text, take.id))
        return text

    def discard(self, take: Take) -> None:
        """Forget a take that never rolled, so that the next one gets its letter."""
        with self._file.connection() as database:
            database.execute("delete from take where id = ? and packets_sent = 0", (take.id,))


def _is_absent(path: Path) -> bool:
    try:
        path.stat()
    except FileNotFoundError:
        return True
    except OSError:
        return False  # what is wrong with it is said when it is opened
    return False


def _insert(database: sqlite3.Connection, take: Take) -> int:
    names = _ALL_COLUMNS.partition(", ")[2]
    row = row_of(take)
    query = f"insert into take ({names}) values (?{', ?' * (len(row) - 1)})"  # noqa: S608 - the names are ours
    return int(database.execute(query, row).lastrowid or 0)


def _name_of(row: Sequence[object]) -> str:
    """Return the slate of a row that is damaged, if that much can be read."""
    _, shot, number = row[:3]
    if type(shot) is str and type(number) is int and 0 < number <= MOST_TAKES and len(shot) <= 200:
        return slate(shot, number)
    return f"row {row[0]!r}"[:40]
