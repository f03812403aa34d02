"""The recorder keeps every packet of a take, whatever becomes of the log while it rolls."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from cuedeck.clock import ManualClock
from cuedeck.takes.recorder import Recorder
from cuedeck.takes.rescue import put_in_place, rescue
from cuedeck.takes.spool import take_in, waiting_for
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Lateness, Status
from cuedeck.takes.trouble import TakesUnreadable, Trouble
from tests.output.ports import FULL, packet
from tests.takes.rolled import finish, locked

LONGEST_WAIT_S = 30


class Rolling:
    """A take that rolls, and a second file for it."""

    def __init__(self, tmp_path: Path, most_bytes: int = 256_000_000, *, has_place: bool = True) -> None:
        self.folder = tmp_path / "show"
        self.folder.mkdir(exist_ok=True)
        self.place = tmp_path / "place"
        self.place.mkdir(exist_ok=True)
        self.places = [self.place] if has_place else []
        self.log = self.folder / "takes.sqlite"
        with TakeStore(self.folder, create=True) as store:
            self.take = store.begin("1", FULL, Fraction(40), 1000, ["simulator"])
        self.clock = ManualClock(0)
        self.recorder = Recorder(self.log, self.take, self.clock, self.places, most_bytes)
        self.recorder.open(FULL)
        self.sent = 0
        _rolling.append(self)

    def roll(self, packets: int) -> None:
        """Send so many packets, and wait until each of them is at least in memory."""
        for _ in range(packets):
            self.clock.spin_ns(25_000_000)
            self.recorder.send(packet(self.sent))
            self.sent += 1

    def roll_until(self, wanted: Callable[[], bool]) -> None:
        """Send packets until something holds."""
        end_s = time.monotonic() + LONGEST_WAIT_S
        while not wanted():
            assert time.monotonic() < end_s, self.recorder.trouble
            self.roll(10)
            time.sleep(0.02)

    def kept(self) -> list[int]:
        """Return the numbers of the packets in the log, once what waits for it was taken in."""
        take_in(self.log, self.places)
        with TakeStore(self.folder) as store:
            (take,) = (one for one in store.takes() if one.key == self.take.key)
            blocks = list(store.blocks(take))
        slots = np.concatenate([slots for _, slots in blocks])
        numbers = [int(one) for part, _ in blocks for one in part]
        assert np.array_equal(slots, np.stack([packet(number).slots for number in numbers]))
        return numbers


_rolling: list[Rolling] = []


@pytest.fixture(autouse=True)
def second_files_are_closed() -> Iterator[None]:
    """Close what the end of a take in the player would."""
    yield
    while _rolling:
        _rolling.pop().recorder.spool.close()


@pytest.mark.parametrize(("packets", "blocks"), [(1, [1]), (11, [11]), (13, [11, 2])])
def test_packets_of_a_quarter_of_a_second_are_one_block_and_the_last_wait_for_no_other(
    tmp_path: Path, packets: int, blocks: list[int]
) -> None:
    rolling = Rolling(tmp_path)
    rolling.roll(packets)
    end_s = time.monotonic() + LONGEST_WAIT_S
    while sum(block.count for block in rolling.recorder.blocks) < packets:
        assert time.monotonic() < end_s
        time.sleep(0.01)
    assert [block.count for block in rolling.recorder.blocks] == blocks
    rolling.recorder.close()


def test_a_log_that_is_locked_for_a_while_has_every_packet_afterwards_and_says_so_meanwhile(tmp_path: Path) -> None:
    rolling = Rolling(tmp_path)
    rolling.roll(50)
    with locked(rolling.log):
        rolling.roll_until(lambda: "packets kept in memory" in rolling.recorder.trouble)
        assert rolling.recorder.trouble.startswith("takes.sqlite is locked by another program; ")
        rolling.roll_until(lambda: bool(rolling.recorder.spells))
    rolling.roll_until(lambda: not rolling.recorder.trouble)
    rolling.recorder.close()
    assert "had to wait: takes.sqlite is locked by another program" in rolling.recorder.story
    assert rolling.recorder.lost == []
    with TakeStore(rolling.folder) as store:
        assert store.firsts(rolling.take.key) == {block.first for block in rolling.recorder.blocks}
    assert rolling.kept() == list(range(rolling.sent))


def test_packets_are_in_the_second_file_while_the_log_is_locked_and_nobody_else_can_take_it(tmp_path: Path) -> None:
    rolling = Rolling(tmp_path)
    with locked(rolling.log):
        rolling.roll(100)
        rolling.roll_until(lambda: len(rolling.recorder.spool.written) >= 9)
        (file,) = waiting_for(rolling.log, rolling.places)
        with pytest.raises(TakesUnreadable, match="locked by another program"):
            TakeStore(rolling.folder, file=file, patience_s=0).takes()
        rolling.recorder.close()
        rolling.recorder.spool.close()
    assert take_in(rolling.log, rolling.places) == ["packets of take 1-A that had to wait are in the log now"]
    assert not list(waiting_for(rolling.log, rolling.places))
    assert rolling.kept() == list(range(rolling.sent))


def moved_away(log: Path) -> None:
    log.rename(log.with_name("elsewhere.sqlite"))


def deleted(log: Path) -> None:
    log.unlink()


def emptied(log: Path) -> None:
    beside = log.with_name("empty")
    beside.touch()
    beside.replace(log)


def exchanged(log: Path) -> None:
    other = log.with_name("other")
    other.mkdir()
    with TakeStore(other, create=True) as store:
        take = store.begin("1", FULL, Fraction(40), 1, ["simulator"])
        finish(store, take.id, Status.COMPLETE, 0, 0, [], Lateness(0, 0, 0))
    (other / "takes.sqlite").replace(log)


@pytest.mark.skipif(os.name == "nt", reason="a file that is open cannot be moved on Windows")
@pytest.mark.parametrize("spoil", [moved_away, deleted, emptied, exchanged])
def test_a_log_that_is_replaced_while_a_take_rolls_gets_the_whole_take(
    tmp_path: Path, spoil: Callable[[Path], None]
) -> None:
    rolling = Rolling(tmp_path)
    rolling.roll_until(lambda: bool(rolling.sent > 50))
    spoil(rolling.log)
    rolling.roll(50)
    rolling.recorder.close()
    rolling.recorder.spool.close()
    assert rolling.recorder.trouble == ""
    assert logged(rolling) == len(rolling.recorder.blocks), "the second file is not needed for it"
    assert rolling.kept() == list(range(rolling.sent))
    with TakeStore(rolling.folder) as store:
        slates = [take.slate for take in store.takes()]
    assert slates == (["1-A", "1-B"] if spoil is exchanged else ["1-A"])


def test_a_folder_in_the_place_of_the_log_is_told_and_the_take_is_there_when_it_is_gone(tmp_path: Path) -> None:
    rolling = Rolling(tmp_path)
    rolling.roll(50)
    rolling.log.unlink()
    rolling.log.mkdir()
    rolling.roll_until(lambda: rolling.recorder.trouble.startswith("takes.sqlite is a folder; "))
    rolling.recorder.close()
    rolling.recorder.spool.close()
    rolling.log.rmdir()
    assert rolling.kept() == list(range(rolling.sent))


def test_a_log_that_is_damaged_while_a_take_rolls_gets_the_whole_take_once_it_is_rescued(tmp_path: Path) -> None:
    rolling = Rolling(tmp_path)
    rolling.roll(50)
    rolling.roll_until(lambda: rolling.sent > 80)
    for part in ("", "-wal"):
        file = rolling.log.with_name(f"takes.sqlite{part}")
        size = file.stat().st_size
        file.write_bytes(file.read_bytes()[: size // 3] + bytes(size - size // 3))
    rolling.roll(100)
    rolling.recorder.close()
    rolling.recorder.spool.close()
    with contextlib.suppress(TakesUnreadable):
        rescue(rolling.log, rolling.folder / "new")
    if (rolling.folder / "new").exists():
        put_in_place(rolling.log, rolling.folder / "new")
    assert rolling.kept() == list(range(rolling.sent))


@pytest.mark.skipif(os.name == "nt", reason="there are no such limits on Windows")
def test_a_log_that_cannot_grow_is_told_and_written_when_it_can(tmp_path: Path) -> None:
    """As on a full disk, which only root can have: the log has to stay smaller than it is; the second file may grow."""
    import resource

    rolling = Rolling(tmp_path)
    rolling.roll_until(lambda: rolling.sent > 300)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (rolling.log.with_name("takes.sqlite-wal").stat().st_size, before[1]))
    try:
        rolling.roll_until(lambda: bool(rolling.recorder.spells))
        assert rolling.recorder.spells[0].what.startswith("takes.sqlite cannot be read or written")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    rolling.roll_until(lambda: not rolling.recorder.trouble)
    rolling.recorder.close()
    rolling.recorder.spool.close()
    assert rolling.recorder.lost == []
    assert rolling.kept() == list(range(rolling.sent))


def test_what_no_memory_and_no_file_can_keep_is_named_with_its_packets_and_the_reason(tmp_path: Path) -> None:
    rolling = Rolling(tmp_path, most_bytes=30_000, has_place=False)
    with locked(rolling.log):
        rolling.roll_until(lambda: bool(rolling.recorder.lost))
        rolling.roll(60)
    rolling.recorder.close()
    (lost, *_) = rolling.recorder.lost
    assert lost.what == "takes.sqlite is locked by another program"
    named = {number for one in rolling.recorder.lost for number in range(one.first, one.last + 1)}
    assert f"packets {lost.first} to {lost.last} are not kept: {lost.what}" in rolling.recorder.story
    assert sorted(named | set(rolling.kept())) == list(range(rolling.sent))
    assert not named & set(rolling.kept())


def test_memory_forgets_what_the_log_has_first_and_then_what_the_second_file_has(tmp_path: Path) -> None:
    rolling = Rolling(tmp_path, most_bytes=5_000)
    rolling.roll_until(lambda: rolling.sent > 200)
    with locked(rolling.log):
        rolling.roll_until(lambda: rolling.recorder.lacks_some)
        rolling.recorder.close()
        rolling.recorder.spool.close()
    assert rolling.recorder.lost == []
    assert rolling.kept() == list(range(rolling.sent))


def test_a_second_place_is_taken_where_the_first_takes_nothing(tmp_path: Path) -> None:
    rolling = Rolling(tmp_path)
    places = [tmp_path / "missing", rolling.place]
    recorder = Recorder(rolling.log, rolling.take, rolling.clock, places)
    rolling.recorder.close()
    rolling.recorder.spool.remove()
    rolling.recorder = recorder
    recorder.open(FULL)
    rolling.roll(40)
    recorder.close()
    recorder.spool.close()
    assert [file.parent for file in waiting_for(rolling.log, places)] == [rolling.place]


def test_a_take_of_a_killed_player_that_was_closed_as_lost_gets_its_packets_afterwards(tmp_path: Path) -> None:
    rolling = Rolling(tmp_path)
    with locked(rolling.log):
        rolling.roll(100)
        rolling.recorder.close()
        rolling.recorder.spool.close()
    with TakeStore(rolling.folder, create=True) as store:
        (lost,) = store.close_left_behind()
        assert lost.packets_sent == 0
    take_in(rolling.log, rolling.places)
    with TakeStore(rolling.folder) as store:
        (take,) = store.takes()
    assert (take.status, take.packets_sent) == (Status.BROKEN, 100)


# Two writers.

_WRITER = """
import sys
from fractions import Fraction
from pathlib import Path
import numpy as np
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Lateness, Status
from tests.output.ports import FULL, packet
from tests.takes.rolled import add_packets, finish
print("ready", flush=True)
sys.stdin.readline()
for _ in range(8):
    with TakeStore(Path(sys.argv[1]), create=True) as store:
        take = store.begin("1", FULL, Fraction(40), 30, ["simulator"])
        for first in range(0, 30, 3):
            numbers = [first, first + 1, first + 2]
            add_packets(store, take.id, numbers, numbers, numbers, np.stack([packet(one).slots for one in numbers]))
        finish(store, take.id, Status.COMPLETE, 30, 30, [], Lateness(0, 0, 0))
with TakeStore(Path(sys.argv[1]), create=True) as store:
    for _ in range(100):
        store.begin("2", FULL, Fraction(40), 30, ["simulator"])
"""


def test_two_programs_that_shoot_into_one_file_get_slates_of_their_own_and_lose_no_packet(tmp_path: Path) -> None:
    root = Path(__file__).parent.parent.parent
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", _WRITER, str(tmp_path)],
            cwd=root,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for _ in range(2)
    ]
    for writer in writers:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
    for writer in writers:
        writer.communicate("go\n", timeout=120)
        assert writer.returncode == 0
    with TakeStore(tmp_path) as store:
        takes = [take for take in store.takes() if take.shot == "1"]
        assert [take.number for take in takes] == list(range(1, 17))
        assert store.next_number("2") == 201
        assert {take.status for take in takes} == {Status.COMPLETE}
        assert {sum(len(numbers) for numbers, _ in store.blocks(take)) for take in takes} == {30}
        assert store.check_file() == []


def test_another_player_that_closes_a_take_that_rolls_changes_nothing_at_its_end(tmp_path: Path) -> None:
    """As two programs can that have no lock in common, on a disk that several computers share."""
    rolling = Rolling(tmp_path)
    rolling.roll(50)
    with TakeStore(rolling.folder, create=True) as other:
        (closed,) = other.close_left_behind()
        assert closed.status is Status.BROKEN
    rolling.roll(50)
    rolling.recorder.close()
    with TakeStore(rolling.folder, create=True) as store:
        finish(store, rolling.take.id, Status.COMPLETE, 100, 100, [], Lateness(0, 0, 0))
        (take,) = store.takes()
    assert (take.status, take.packets_sent) == (Status.COMPLETE, 100)
    assert rolling.kept() == list(range(100))


def test_a_newer_cuedeck_that_changes_the_file_while_a_take_rolls_costs_no_packet(tmp_path: Path) -> None:
    rolling = Rolling(tmp_path)
    rolling.roll_until(lambda: rolling.sent > 50 and bool(logged(rolling)))
    newer = sqlite3.connect(rolling.log, timeout=5)
    newer.execute("alter table take add column lens text not null default ''")
    newer.execute("pragma user_version = 99")
    newer.close()
    rolling.roll(50)
    rolling.recorder.close()
    assert logged(rolling) == len(rolling.recorder.blocks)


def logged(rolling: Rolling) -> int:
    """Return how many blocks are in the log, looking from outside the program."""
    with contextlib.closing(sqlite3.connect(rolling.log, timeout=5)) as database:
        (count,) = database.execute("select count(*) from packets").fetchone()
    return int(count)


@pytest.mark.skipif(os.name == "nt", reason="made with a hard link")
def test_a_file_of_two_names_is_not_written(tmp_path: Path) -> None:
    """Two programs that open one database by two names have two write-ahead logs, and spoil it (SQLite's manual)."""
    TakeStore(tmp_path, create=True).close()
    (tmp_path / "other.sqlite").hardlink_to(tmp_path / "takes.sqlite")
    with pytest.raises(TakesUnreadable, match="has a second name") as refused:
        TakeStore(tmp_path, create=True)
    assert refused.value.trouble is Trouble.TWO_NAMES
    with TakeStore(tmp_path) as store:
        assert store.takes() == []


# Durability.


def settings(store: TakeStore) -> dict[str, object]:
    with store._file.transaction() as database:
        return {
            name: database.execute(f"pragma {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "locking_mode", "trusted_schema")
        }


def test_every_commit_to_a_log_is_synced_to_the_disk(tmp_path: Path) -> None:
    """With a write-ahead log, only synchronous FULL (2) syncs it after every transaction (SQLite's manual)."""
    with TakeStore(tmp_path, create=True) as store:
        assert settings(store) == {
            "journal_mode": "wal", "synchronous": 2, "locking_mode": "normal", "trusted_schema": 0,
        }  # fmt: skip
    with TakeStore(tmp_path, file=tmp_path / "second", create=True, is_alone=True) as second:
        assert settings(second)["locking_mode"] == "exclusive"


def test_the_recorder_writes_with_the_same_settings(tmp_path: Path) -> None:
    rolling = Rolling(tmp_path)
    rolling.roll_until(lambda: rolling.recorder._store is not None)
    assert rolling.recorder._store is not None
    assert settings(rolling.recorder._store)["synchronous"] == 2
    rolling.recorder.close()
