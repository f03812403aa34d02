"""The SQLite file of takes: opened, brought up to the tables of today, and what fails at it in words.

The invariant owned here: what was committed is on the disk (a write-ahead log, synced with every commit), and a file
that is not ours is neither believed nor changed. Reading asks nothing of the disk: takes are listed and exported
where it is full or write-protected.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from cuedeck.folder.inside import Foreign, require_own_database
from cuedeck.takes.schema import STEPS
from cuedeck.takes.trouble import TakesUnreadable, Trouble, unreadable

PATIENCE_S = 5.0
"""How long another program is waited for that holds the file."""
_LONGEST_VALUE = 64_000_000
"""Bytes of a value in a row: a block of 1,500 universes is less."""
_TABLES = {"take", "packets"}
Row = tuple[Any, ...]
_Stamp = tuple[int, int] | None


class Database:
    """A connection to a file of takes: to read, or with `writes` to write too. Raises TakesUnreadable."""

    def __init__(self, path: Path, *, writes: bool, patience_s: float = PATIENCE_S, is_alone: bool = False) -> None:
        """Open a file, which is made where one that writes finds none. `is_alone` keeps every other program out."""
        self.path = path
        self.version = len(STEPS)
        self._patience_s = patience_s
        self._connection: sqlite3.Connection | None = None
        _require_file(path)
        self._stamps: tuple[_Stamp, _Stamp] = (None, None)
        try:
            with in_words(path):
                if writes:
                    self._open_to_write(is_alone=is_alone)
                else:
                    self._open_to_read()
        except BaseException:
            self.close()
            raise
        self._stamps = self._stamps_now()  # not sooner: opening may have made the file, or its log

    @property
    def is_open(self) -> bool:
        """Whether there are tables to read."""
        return self._connection is not None

    @property
    def is_in_place(self) -> bool:
        """Whether the file is still the one that is found under its name, and its write-ahead log with it."""
        return self._stamps == self._stamps_now() and self._stamps[0] is not None

    def close(self) -> None:
        """Let go of the file; safe to call twice."""
        connection, self._connection = self._connection, None
        if connection is None:
            return
        with contextlib.suppress(sqlite3.Error):  # what was committed is in the write-ahead log
            if self._stamps[0] is not None and not self.is_in_place:
                # Else its write-ahead log would be taken for that of the file that stands in its place now.
                connection.execute("pragma wal_checkpoint(truncate)")
            connection.close()

    @contextlib.contextmanager
    def connection(self) -> Iterator[sqlite3.Connection]:
        """Give the connection; what fails with it is raised as TakesUnreadable."""
        if self._connection is None:
            raise TakesUnreadable(self.path, Trouble.EMPTY)
        with in_words(self.path):
            yield self._connection

    @contextlib.contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """Give the connection within a transaction, of which all is kept or nothing."""
        with self.connection() as connection:
            connection.execute("begin immediate")  # who reads first and writes then is refused without any patience
            try:
                yield connection
                connection.execute("commit")
            except BaseException:
                with contextlib.suppress(sqlite3.Error):
                    connection.execute("rollback")
                raise

    def check(self) -> list[str]:
        """Return what SQLite itself finds wrong with the file."""
        try:
            with self.connection() as database:
                found = [str(row[0]) for row in database.execute("pragma integrity_check(20)")]
        except TakesUnreadable as error:
            if error.trouble is not Trouble.DAMAGED:
                raise
            found = [error.detail]
        return [] if found == ["ok"] else found

    def rows(self, query: str, order: str, values: tuple[object, ...]) -> Iterator[Row | TakesUnreadable]:
        """Yield the rows of a query, which begin with what they are ordered by.

        Where some cannot be read, those behind them are read from the end, and between them is what is wrong.
        """
        joined = "and" if "where" in query else "where"
        last = -1
        try:
            with self.connection() as database, contextlib.closing(database.cursor()) as cursor:
                for row in cursor.execute(f"{query} order by {order}", values):
                    if not (type(row[0]) is int and row[0] > last):
                        raise TakesUnreadable(self.path, Trouble.DAMAGED, "its rows are out of order")
                    last = row[0]
                    yield row
        except TakesUnreadable as error:
            if error.trouble not in (Trouble.DAMAGED, Trouble.NO_DATABASE):
                raise
            yield error
            behind = f"{query} {joined} {order} > ? order by {order} desc"
            yield from reversed(self._rows_until_damage(behind, (*values, last)))

    def _rows_until_damage(self, query: str, values: tuple[object, ...]) -> list[Row]:
        rows: list[Row] = []
        try:
            with self.connection() as database, contextlib.closing(database.cursor()) as cursor:
                for row in cursor.execute(query, values):
                    if type(row[0]) is not int or (rows and row[0] >= rows[-1][0]):
                        break
                    rows.append(row)
        except TakesUnreadable:
            return rows  # that it is damaged has been said
        return rows

    def _open_to_write(self, *, is_alone: bool) -> None:
        with contextlib.suppress(OSError):
            if self.path.stat().st_nlink > 1 and self.path.is_file():
                raise TakesUnreadable(self.path, Trouble.TWO_NAMES)
        self._connection = database = self._connected(self.path)
        if is_alone:  # before the log: its index is in this process then, and no other can share it
            database.execute("pragma locking_mode = exclusive")
        self._require_ours(database)
        database.execute("pragma journal_mode = wal")
        # What stands in a second file has to outlive the program, and not the power.
        database.execute(f"pragma synchronous = {'normal' if is_alone else 'full'}")
        with self.transaction():
            for step in STEPS[self._version_of(database) :]:
                for statement in step.split(";"):  # executescript would commit what was begun
                    database.execute(statement)
            database.execute(f"pragma user_version = {len(STEPS)}")

    def _open_to_read(self) -> None:
        """Open it to read only; nothing is open where it was made and no take ever stood in it."""
        file = self.path.resolve()
        try:
            # Not mode=ro, which leaves the files of its log behind. Where writing is not allowed, this reads too.
            self._connection = self._opened(f"{file.as_uri()}?mode=rw")
        except sqlite3.OperationalError:
            log = file.with_name(f"{file.name}-wal")
            if log.exists() and log.stat().st_size:
                raise
            # Beside the log stands memory that readers share. Without a log, and no room for it, it is not needed.
            self._connection = self._opened(f"{file.as_uri()}?immutable=1")
        self._require_ours(self._connection)
        self.version = self._version_of(self._connection)
        if not self.version:
            self.close()

    def _opened(self, uri: str) -> sqlite3.Connection:
        database = self._connected(uri)
        try:
            database.execute("pragma query_only = on")
            database.execute("select count(*) from sqlite_master").fetchone()
        except BaseException:
            database.close()
            raise
        return database

    def _connected(self, where: Path | str) -> sqlite3.Connection:
        is_uri = isinstance(where, str)
        # From any thread, as a log is closed by another one than writes it; transactions are our own.
        database = sqlite3.connect(
            where, uri=is_uri, timeout=self._patience_s, check_same_thread=False, isolation_level=None
        )
        database.text_factory = lambda text: text.decode(errors="replace")
        database.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _LONGEST_VALUE)
        database.execute("pragma trusted_schema = off")  # what stands in a table of others calls no function
        return database

    def _require_ours(self, database: sqlite3.Connection) -> None:
        """Raise TakesUnreadable where there is more in the file than our tables: what it holds may be run."""
        rows = database.execute("select type, name, tbl_name, sql from sqlite_master").fetchall()
        if not all(_is_ours(*row) for row in rows):
            raise TakesUnreadable(self.path, Trouble.FOREIGN)

    def _version_of(self, database: sqlite3.Connection) -> int:
        """Return the version of the tables, 0 where there are none yet. Raises TakesUnreadable if they are not ours."""
        (version,) = database.execute("pragma user_version").fetchone()
        (tables,) = database.execute("select count(*) from sqlite_master").fetchone()
        if version == 0 and tables:
            raise TakesUnreadable(self.path, Trouble.FOREIGN)
        if not 0 <= version <= len(STEPS):
            raise TakesUnreadable(self.path, Trouble.NEWER)
        return int(version)

    def _stamps_now(self) -> tuple[_Stamp, _Stamp]:
        file = Path(os.path.realpath(self.path))
        return _stamp(file), _stamp(file.with_name(f"{file.name}-wal"))


def _require_file(path: Path) -> None:
    """Raise TakesUnreadable for a link out of the folder, a pipe, or a folder in the place of the file."""
    try:
        require_own_database(path)
    except Foreign as foreign:
        raise TakesUnreadable(path, Trouble.FOLDER if path.is_dir() else Trouble.NO_FILE, str(foreign)) from foreign


def _is_ours(kind: str, name: str, table: str, sql: str | None) -> bool:
    """Whether a row of the schema is one of our tables, or an index or statistics of SQLite's own."""
    if kind == "index":
        return table in _TABLES and sql is None
    return kind == "table" and (name in _TABLES or name.startswith("sqlite_stat")) and str(sql)[:12] == "CREATE TABLE"


def _stamp(path: Path) -> _Stamp:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_dev, status.st_ino


@contextlib.contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Raise what SQLite says as TakesUnreadable."""
    try:
        yield
    except sqlite3.Error as error:
        raise unreadable(path, error) from error
    except UnicodeDecodeError as error:  # what SQLite says of a damaged file may hold a part of it
        raise TakesUnreadable(path, Trouble.DAMAGED, "its list of tables cannot be read") from error
