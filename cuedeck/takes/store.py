"""The takes of a show, in one SQLite file in its folder.

A take is there from its first packet on, and its packets are written in blocks while it runs: whatever
happens to the program, what went out until then is on disk. WAL lets others read meanwhile. Reading asks
nothing of the disk: takes are listed and exported where it is full or write-protected.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import sqlite3
import zlib
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import numpy as np
import numpy.typing as npt

from cuedeck.errors import Refusal
from cuedeck.output.base import Line
from cuedeck.show.spelling import as_one
from cuedeck.takes.carried import written_runs
from cuedeck.takes.schema import STEPS
from cuedeck.takes.take import Lateness, Mark, Status, Take, slate, take_of
from cuedeck.takes.times import PacketTimes, from_blob, to_blob
from cuedeck.timeline.plan import FiredCue

TAKES_FILE = "takes.sqlite"
LONGEST_NOTE = 500
"""Characters of a note."""
Slots = npt.NDArray[np.uint8]
__all__ = [
    "LONGEST_NOTE",
    "TAKES_FILE",
    "Lateness",
    "Mark",
    "Status",
    "Take",
    "TakeStore",
    "TakesUnreadable",
    "digest",
    "slate",
]


class TakesUnreadable(Refusal):
    """The file of takes cannot be used. The message says why."""


def digest(blocks: Iterable[Slots]) -> str:
    """Return the SHA-256 of slots, the same however they are cut into blocks."""
    total = hashlib.sha256()
    for block in blocks:
        total.update(np.ascontiguousarray(block).tobytes())
    return total.hexdigest()


class TakeStore:
    """The file of takes of one show folder: to read, or with `create` to write too. Raises TakesUnreadable."""

    def __init__(self, folder: Path, *, create: bool = False) -> None:
        self.path = folder / TAKES_FILE
        self._database: sqlite3.Connection | None = None
        self._version = len(STEPS)
        if not create and not self.path.exists():
            return
        try:
            with self._in_words():
                if create:
                    self._database = _connected(self.path)
                    self._database.execute("pragma journal_mode = wal")
                    self._database.execute("pragma synchronous = full")
                    self._prepare(self._database)
                else:
                    self._database = self._reading()
        except TakesUnreadable:
            self.close()
            raise

    def _prepare(self, database: sqlite3.Connection) -> None:
        database.execute("begin immediate")
        try:
            for step in STEPS[self._version_of(database) :]:
                for statement in step.split(";"):
                    database.execute(statement)
            database.execute(f"pragma user_version = {len(STEPS)}")
            database.execute("commit")
        except TakesUnreadable:
            database.execute("rollback")
            raise

    def _reading(self) -> sqlite3.Connection | None:
        """Return a connection that only reads; None where the file was made and no take ever stood in it."""
        file = self.path.resolve()
        try:
            # Not mode=ro, which leaves the files of its log behind. Where writing is not allowed, this reads too.
            database = self._opened(f"{file.as_uri()}?mode=rw")
        except sqlite3.OperationalError:
            log = file.with_name(f"{file.name}-wal")
            if log.exists() and log.stat().st_size:
                raise
            # Beside the log stands memory that readers share. Without a log, and no room for it, it is not needed.
            database = self._opened(f"{file.as_uri()}?immutable=1")
        try:
            self._version = self._version_of(database)
        except BaseException:
            database.close()
            raise
        if self._version:
            return database
        database.close()
        return None

    @staticmethod
    def _opened(uri: str) -> sqlite3.Connection:
        database = _connected(uri)
        try:
            database.execute("pragma query_only = on")
            database.execute("select count(*) from sqlite_master").fetchone()
        except BaseException:
            database.close()
            raise
        return database

    @property
    def _columns(self) -> str:
        """The columns of a take; a file that is only read may lack those that came since."""
        later = "chase, carried" if self._version > 1 else "'', ''"
        later += ", speed, axes_live" if self._version > 2 else ", '1', 0"
        later += ", mark, note" if self._version > 4 else ", '', ''"
        return (
            "id, shot, number, started_utc, refresh, universes, packets_due,"
            f" packets_sent, outputs, fired, status, sha256, lateness_ms, {later}"
        )

    def _version_of(self, database: sqlite3.Connection) -> int:
        """Return the version of the tables, 0 where there are none yet. Raises TakesUnreadable if they are not ours."""
        (version,) = database.execute("pragma user_version").fetchone()
        (tables,) = database.execute("select count(*) from sqlite_master").fetchone()
        if version == 0 and tables:
            raise TakesUnreadable(f"{self.path} holds something other than takes: move it away, and a new one is made")
        if version > len(STEPS):
            raise TakesUnreadable(f"{self.path} was written by a newer cuedeck: install that version, or move the file")
        return int(version)

    def close(self) -> None:
        """Let go of the file; safe to call twice."""
        if self._database is not None:
            self._database.close()
            self._database = None

    def __enter__(self) -> TakeStore:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextlib.contextmanager
    def _in_words(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            cure = "look whether the disk is full or the folder is write-protected"
            if self.path.is_dir() or getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_NOTADB:
                cure = "move it away, and a new one is made"
            raise TakesUnreadable(f"the takes in {self.path} cannot be used: {error}; {cure}") from error

    def takes(self) -> list[Take]:
        """Return all takes, the oldest first."""
        if self._database is None:
            return []
        with self._in_words():
            rows = self._database.execute(f"select {self._columns} from take order by id").fetchall()  # noqa: S608
        return [take_of(row) for row in rows]

    def find(self, wanted: str) -> Take | None:
        """Return the take with a slate, in capitals or not, or None."""
        name = as_one(wanted).casefold()
        return next((take for take in self.takes() if as_one(take.slate).casefold() == name), None)

    def by_id(self, number: int | None) -> Take:
        """Return the take with a number of the log. Raises StopIteration where there is none."""
        return next(take for take in self.takes() if take.id == number)

    def next_number(self, shot: str) -> int:
        """Return the number, from 1, that the next take of a shot gets."""
        return max((take.number for take in self.takes() if as_one(take.shot) == as_one(shot)), default=0) + 1

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
        with self._in_words():
            database = self._connection()
            database.execute("begin immediate")
            number = self.next_number(shot)
            cursor = database.execute(
                "insert into take (shot, number, started_utc, refresh, universes, slots_sent, packets_due, outputs,"
                " chase, speed, axes_live) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    shot,
                    number,
                    datetime.now(UTC).isoformat(timespec="seconds"),
                    str(refresh),
                    json.dumps(line.universes),
                    line.slots_sent,
                    packets_due,
                    json.dumps(list(outputs)),
                    chase,
                    str(speed),
                    axes_live,
                ),
            )
            database.execute("commit")
        return self.by_id(cursor.lastrowid)

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
        with self._in_words():
            self._connection().execute(
                "insert into packets (take, first, numbers, due_ns, sent_ns, slots, carried)"
                " values (?, ?, ?, ?, ?, ?, ?)",
                (
                    take,
                    numbers[0],
                    to_blob(numbers),
                    to_blob(due_ns),
                    to_blob(sent_ns),
                    zlib.compress(np.ascontiguousarray(slots).tobytes(), 1),
                    to_blob(carried) if carried else None,
                ),
            )

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

        `late` is None where that is not known.
        """
        sha256 = digest(slots for _, slots in self._blocks(take))
        with self._in_words():
            self._connection().execute(
                "update take set status = ?, packets_due = ?, packets_sent = ?, fired = ?, sha256 = ?,"
                " lateness_ms = ?, carried = ? where id = ?",
                (
                    status,
                    packets_due,
                    packets_sent,
                    json.dumps([[one.cue, one.packet] for one in fired]),
                    sha256,
                    "" if late is None else json.dumps([late.median_ms, late.p99_ms, late.worst_ms]),
                    written_runs(carried),
                    take,
                ),
            )
        return self.by_id(take)

    def close_left_behind(self) -> list[Take]:
        """Close the takes that still roll as lost, with what they had written; return them, the oldest first.

        Only for the program that alone may shoot this show, before its first take: any other take that rolls
        would be closed under the hands of the one that shoots it. What the operator had fired is not known.
        """
        left = [take for take in self.takes() if take.status is Status.ROLLING]
        return [self._close_as_lost(take) for take in left]

    def _close_as_lost(self, take: Take) -> Take:
        times = self.times(take)
        late = None if times is None else Lateness.of(times.late_ns)
        sent = sum(len(numbers) for numbers, _ in self.blocks(take))
        return self.finish(take.id, Status.LOST, take.packets_due, sent, take.fired, late, self._carried(take))

    def _carried(self, take: Take) -> list[int]:
        """Return which packets of the shot the packets written so far were; nothing where all go by their numbers."""
        rows = self._of_packets(take, "numbers, carried")
        if all(carried is None for _, carried in rows):
            return []
        return [int(one) for numbers, carried in rows for one in from_blob(numbers if carried is None else carried)]

    def times(self, take: Take) -> PacketTimes | None:
        """Return when the recorded packets were due and left; None where an older cuedeck did not keep that."""
        rows = self._of_packets(take, "due_ns, sent_ns") if self._version > 3 else []
        if not rows or any(due_ns is None for due_ns, _ in rows):
            return None
        due_ns, sent_ns = (np.concatenate([from_blob(blob) for blob in blobs]) for blobs in zip(*rows, strict=True))
        return PacketTimes(due_ns, sent_ns)

    def _of_packets(self, take: Take, columns: str) -> list[tuple[bytes, bytes]]:
        query = f"select {columns} from packets where take = ? order by first"  # noqa: S608
        with self._in_words():
            return self._connection().execute(query, (take.id,)).fetchall()

    def set_mark(self, take: Take, mark: Mark) -> None:
        """Circle a take, reject it, or take that back. Raises TakesUnreadable."""
        with self._in_words():
            self._connection().execute("update take set mark = ? where id = ?", (mark.value, take.id))

    def set_note(self, take: Take, note: str) -> str:
        """Write a note to a take, in place of the one that stood there; return it as it is kept. Raises Refusal."""
        text = " ".join(note.split())
        if len(text) > LONGEST_NOTE:
            raise Refusal(f"the note has {len(text)} characters: write it in {LONGEST_NOTE} or fewer")
        if not text.isprintable():
            raise Refusal("the note holds signs that cannot be shown: write it without them")
        with self._in_words():
            self._connection().execute("update take set note = ? where id = ?", (text, take.id))
        return text

    def discard(self, take: Take) -> None:
        """Forget a take that never rolled, so that the next one gets its letter."""
        with self._in_words():
            self._connection().execute("delete from take where id = ? and packets_sent = 0", (take.id,))

    def blocks(self, take: Take) -> Iterator[tuple[npt.NDArray[np.int64], Slots]]:
        """Yield the recorded packets of a take: their numbers, and slots of shape (packets, universes, 512)."""
        return self._blocks(take.id)

    def _blocks(self, take: int) -> Iterator[tuple[npt.NDArray[np.int64], Slots]]:
        with self._in_words():
            database = self._connection()
            (universes,) = database.execute("select universes from take where id = ?", (take,)).fetchone()
            rows = database.execute("select numbers, slots from packets where take = ? order by first", (take,))
            for numbers_blob, slots_blob in rows:
                numbers = from_blob(numbers_blob)
                slots = np.frombuffer(zlib.decompress(slots_blob), dtype=np.uint8)
                yield numbers, slots.reshape(len(numbers), len(json.loads(universes)), -1)

    def _connection(self) -> sqlite3.Connection:
        if self._database is None:
            raise TakesUnreadable(f"there are no takes in {self.path.parent}")
        return self._database


def _connected(where: Path | str) -> sqlite3.Connection:
    """Return a connection to a path, or to an address of a file as text."""
    is_uri = isinstance(where, str)
    return sqlite3.connect(where, uri=is_uri, timeout=5, check_same_thread=False, isolation_level=None)
