"""What is read of a file of takes, which may be damaged or foreign.

The invariant owned here: a row is believed when it is what it should be, and one that is not keeps no other from
being read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Self

import numpy as np

from cuedeck.arrays import Numbers, Slots
from cuedeck.show.spelling import as_one
from cuedeck.takes import blocks
from cuedeck.takes.blocks import Block, Packets, block_in, packets_in
from cuedeck.takes.database import PATIENCE_S, Database
from cuedeck.takes.take import COLUMNS, COLUMNS_SINCE, MOST_TAKES, DamagedTake, Take, slate, take_of
from cuedeck.takes.times import PacketTimes
from cuedeck.takes.trouble import TakeDamaged, TakesUnreadable, Trouble

TAKES_FILE = "takes.sqlite"


class TakeReader:
    """The file of takes of a show folder, or another. Raises TakesUnreadable."""

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

    def __enter__(self) -> Self:
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
        return self._file.is_in_place

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
        name = as_one(wanted).casefold()
        for one in damaged:
            if as_one(one.name).casefold() == name:
                raise TakeDamaged(self.path, f"take {one.name}: {one.reason}")
        return next((take for take in takes if as_one(take.slate).casefold() == name), None)

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
        query = (
            "select shot, max(number) from take"
            " where typeof(number) = 'integer' and number between 1 and ? and typeof(shot) = 'text' group by shot"
        )
        with self._file.connection() as database:
            rows = database.execute(query, (MOST_TAKES - 1,)).fetchall()
        return max((number for name, number in rows if as_one(name) == as_one(shot)), default=0) + 1

    def blocks(self, take: Take) -> Iterator[tuple[Numbers, Slots]]:
        """Yield the recorded packets of a take: their numbers, and slots of shape (packets, universes, 512)."""
        return ((packets.numbers, packets.slots) for packets in self.packets(take))

    def packets(self, take: Take) -> Iterator[Packets]:
        """Yield the recorded packets of a take, block by block. Raises TakeDamaged at the first that is damaged."""
        for found in self.kept(take):
            if isinstance(found, TakesUnreadable):
                raise TakeDamaged(self.path, f"take {take.slate}: {found.detail}") from found
            yield found[1]

    def kept(self, take: Take) -> Iterator[tuple[Block, Packets] | TakesUnreadable]:
        """Yield the blocks of a take with their packets, and in place of a damaged one what is wrong with it."""
        since = self._file.version
        columns = blocks.COLUMNS if since > 5 else blocks.COLUMNS.replace("digest", "null")
        columns = columns if since > 3 else columns.replace("due_ns", "null").replace("carried", "null")
        query = f"select {columns} from packets where take = ?"  # noqa: S608 - no text of others is in it
        for row in self._file.rows(query, "first", (take.id,)):
            if isinstance(row, TakesUnreadable):
                yield TakeDamaged(self.path, row.detail)
                continue
            try:
                block = block_in(row)
                yield block, packets_in(block, len(take.universes))
            except ValueError as error:
                yield TakeDamaged(self.path, str(error))

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
        return self._file.check()

    def _columns(self) -> str:
        """The columns of a take; a file that is only read may lack those that came since."""
        version = self._file.version
        later = (names if version >= since else instead for since, names, instead in COLUMNS_SINCE)
        return ", ".join([COLUMNS, *later])


def _is_absent(path: Path) -> bool:
    try:
        path.stat()
    except FileNotFoundError:
        return True
    except OSError:
        return False  # what is wrong with it is said when it is opened
    return False


def _name_of(row: Sequence[object]) -> str:
    """Return the slate of a row that is damaged, if that much can be read."""
    _, shot, number = row[:3]
    if type(shot) is str and type(number) is int and 0 < number <= MOST_TAKES and len(shot) <= 200:
        return slate(shot, number)
    return f"row {row[0]!r}"[:40]
