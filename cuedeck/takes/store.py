"""The takes of a show, in one SQLite file in its folder.

A take is there from its first packet on, and its packets are written in blocks while it runs: whatever
happens to the program, what went out until then is on disk. Others read meanwhile. What is read may be damaged or
foreign: a row is believed when it is what it should be, and one that is not keeps no other from being read.
"""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from fractions import Fraction

import numpy as np

from cuedeck.arrays import Slots
from cuedeck.errors import Refusal
from cuedeck.output.base import Line
from cuedeck.takes import blocks
from cuedeck.takes.blocks import Block
from cuedeck.takes.carried import runs_of
from cuedeck.takes.reading import TakeReader
from cuedeck.takes.take import COLUMNS, COLUMNS_SINCE, Lateness, Status, Take, TakeMark, row_of
from cuedeck.takes.trouble import TakesUnreadable

LONGEST_NOTE = 500
"""Characters of a note."""
_MOST_AT_ONCE = 100
"""Blocks that are copied in one transaction."""
# A block that is there stays: the recorder writes again whatever it cannot know to be kept.
_PUT_IN = f"insert or ignore into packets (take, {blocks.COLUMNS}) values (?, ?, ?, ?, ?, ?, ?, ?)"  # noqa: S608
_ALL_COLUMNS = ", ".join([COLUMNS, *(names for _, names, _ in COLUMNS_SINCE)])


def digest(blocks: Iterable[Slots]) -> str:
    """Return the SHA-256 of slots, the same however they are cut into blocks."""
    total = hashlib.sha256()
    for block in blocks:
        total.update(np.ascontiguousarray(block).tobytes())
    return total.hexdigest()


class TakeStore(TakeReader):
    """The file of takes of a show folder, or another: to read, or with `create` to write too. Raises TakesUnreadable.

    `is_alone` keeps every other program out of the file while it is open.
    """

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
            # Asked within the transaction, or two programs take the same letter.
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

    def copy_blocks(self, source: TakeReader, take: Take) -> tuple[int, list[str]]:
        """Copy the blocks of a take from another file; return how many packets, and what is wrong with the rest."""
        some: list[Block] = []
        bad, packets = [], 0
        for found in source.kept(take):
            if isinstance(found, TakesUnreadable):
                bad.append(found.detail)
                continue
            some.append(found[0])
            packets += found[0].count
            if len(some) >= _MOST_AT_ONCE:
                self.put_in(take, some)
                some = []
        self.put_in(take, some)
        return packets, bad

    def finish_as(self, take: Take) -> Take:
        """Close a take as it is given, with the digest of what is written. Raises TakeDamaged."""
        return self.rewrite(replace(take, sha256=digest(slots for _, slots in self.blocks(take))))

    def rewrite(self, take: Take) -> Take:
        """Write how a take ended; its mark and its note are as they stand in the log."""
        # Others may have marked it since it was read.
        names = [name for name in _ALL_COLUMNS.split(", ")[1:] if name not in ("mark", "note")]
        values = dict(zip(_ALL_COLUMNS.split(", ")[1:], row_of(take), strict=True))
        assignments = ", ".join(f"{name} = ?" for name in names)
        with self._file.connection() as database:
            query = f"update take set {assignments} where id = ?"  # noqa: S608 - the names are ours
            database.execute(query, (*(values[name] for name in names), take.id))
        return self.by_id(take.id)

    def close_left_behind(self) -> list[Take]:
        """Close the takes that still roll as broken, with what they had written; return them, the oldest first.

        Only for the program that alone may shoot this show, before its first take: any other take that rolls
        would be closed under the hands of the one that shoots it. What the operator had fired is not known.
        """
        return [self.close_as_broken(take) for take in self.takes() if take.status is Status.ROLLING]

    def close_as_broken(self, take: Take) -> Take:
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
                status=Status.BROKEN,
                packets_sent=sent,
                lateness=Lateness.of(late_ns) if late_ns and has_times else None,
                carried=tuple(runs_of(carried)) if has_carried else (),
                sha256=total.hexdigest(),
                log="; ".join([*filter(None, [take.log]), *bad])[:LONGEST_NOTE],
            )
        )

    def set_mark(self, take: Take, mark: TakeMark) -> None:
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


def _insert(database: sqlite3.Connection, take: Take) -> int:
    names = _ALL_COLUMNS.partition(", ")[2]
    row = row_of(take)
    query = f"insert into take ({names}) values (?{', ?' * (len(row) - 1)})"  # noqa: S608 - the names are ours
    return int(database.execute(query, row).lastrowid or 0)
