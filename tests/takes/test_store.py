"""The file of takes: slates, what is kept while a take runs, and what is left of it when it is killed."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import zlib
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.clock import ManualClock
from cuedeck.folder.folder import ShowFolder
from cuedeck.output.base import Line, Packet
from cuedeck.takes.carried import numbers_of
from cuedeck.takes.reading import TAKES_FILE
from cuedeck.takes.recorder import Recorder
from cuedeck.takes.store import TakeStore, digest
from cuedeck.takes.take import Lateness, Status, Take, slate
from cuedeck.takes.trouble import TakesUnreadable
from cuedeck.timeline.plan import FiredCue
from tests.output.ports import FULL, packet
from tests.takes.rolled import add_packets, finish
from tests.timeline.shows import HEAD, show_text
from tests.tools import needed_disk
from tests.waiting import LONGEST_WAIT_S, wait_until

ROOT = Path(__file__).parent.parent.parent
NO_LATENESS = Lateness(0.0, 0.0, 0.0)


def begun(store: TakeStore, shot: str = "1", line: Line = FULL) -> Take:
    return store.begin(shot, line, Fraction(44), 10, ["simulator"])


@pytest.mark.parametrize(
    ("number", "letters"),
    [(1, "A"), (2, "B"), (26, "Z"), (27, "AA"), (28, "AB"), (52, "AZ"), (53, "BA"), (702, "ZZ"), (703, "AAA")],
)
def test_takes_are_lettered_on_the_slate(number: int, letters: str) -> None:
    assert slate("1", number) == f"1-{letters}"


@given(st.integers(1, 20_000))
def test_each_take_has_a_slate_of_its_own_and_later_ones_sort_after_it(number: int) -> None:
    here, after = slate("7b", number).removeprefix("7b-"), slate("7b", number + 1).removeprefix("7b-")
    assert (len(here), here) < (len(after), after)


def test_each_shot_counts_its_own_takes(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        slates = [begun(store, shot).slate for shot in ("1", "1", "2", "1", "2")]
        assert slates == ["1-A", "1-B", "2-A", "1-C", "2-B"]
        assert [take.slate for take in store.takes()] == slates
        assert (store.next_number("1"), store.next_number("2"), store.next_number("3")) == (4, 3, 1)
        found = store.find("1-c")
        assert found is not None
        assert found.number == 3
        assert store.find("1-D") is None


def test_a_take_is_counted_and_found_by_either_unicode_form_of_its_shot(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        slates = [begun(store, shot).slate for shot in ("caf\u00e9", "cafe\u0301")]
        assert [slate[-2:] for slate in slates] == ["-A", "-B"]
        assert [str(store.find(form)) for form in ("caf\u00e9-b", "CAFE\u0301-B")] == [str(store.find(slates[1]))] * 2


def test_a_take_keeps_what_it_was_shot_with(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        take = store.begin("1", Line((1, 7), 480, 43.5), Fraction(87, 2), 100, ["simulator", "serial:A"])
        assert take.status is Status.ROLLING
    with TakeStore(tmp_path) as store:
        (kept,) = store.takes()
    assert kept == take
    assert (kept.refresh_hz, kept.universes, kept.packets_due) == (Fraction(87, 2), (1, 7), 100)
    assert (kept.outputs, kept.fired, kept.lateness) == (("simulator", "serial:A"), (), None)
    assert kept.started_utc.endswith("+00:00")


def test_a_finished_take_knows_how_it_ended_and_the_digest_of_its_packets(tmp_path: Path) -> None:
    slots = np.stack([packet(number).slots for number in range(10)])
    with TakeStore(tmp_path, create=True) as store:
        take = begun(store)
        add_packets(store, take.id, list(range(4)), list(range(4)), list(range(4)), slots[:4])
        add_packets(store, take.id, list(range(4, 10)), list(range(4, 10)), list(range(4, 10)), slots[4:])
        fired = [FiredCue("2", 3), FiredCue("4a", 7)]
        finish(store, take.id, Status.COMPLETE, 10, 10, fired, Lateness(0.5, 1.25, 2.0))
    with TakeStore(tmp_path) as store:
        (kept,) = store.takes()
        assert np.array_equal(np.concatenate([block for _, block in store.blocks(kept)]), slots)
    assert (kept.status, kept.packets_sent, kept.fired) == (Status.COMPLETE, 10, tuple(fired))
    assert str(kept.lateness) == "median 0.500 ms, p99 1.250 ms, worst 2.000 ms"
    assert kept.sha256 == digest([slots])


# SHA-256 of "abc", FIPS 180-4 (from memory).
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_digest_is_sha_256_of_the_slots_however_they_are_cut() -> None:
    assert digest([np.frombuffer(b"abc", dtype=np.uint8)]) == ABC
    assert digest([np.frombuffer(b"a", dtype=np.uint8), np.frombuffer(b"bc", dtype=np.uint8)]) == ABC


def test_a_discarded_take_gives_its_letter_back(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        begun(store)
        store.discard(begun(store))
        assert begun(store).slate == "1-B"


def test_lateness_of_nothing_is_nothing_and_of_one_packet_that_one() -> None:
    assert Lateness.of([]) == NO_LATENESS
    assert Lateness.of([2_000_000]) == Lateness(2.0, 2.0, 2.0)


def test_reading_takes_where_there_are_none_leaves_no_file(tmp_path: Path) -> None:
    with TakeStore(tmp_path) as store:
        assert store.takes() == []
        assert store.find("1-A") is None
        with pytest.raises(TakesUnreadable, match=r"takes\.sqlite has no takes; shoot one first"):
            begun(store)
    assert list(tmp_path.iterdir()) == []


def test_takes_are_kept_with_a_write_ahead_log_and_read_while_one_is_written(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as writer, TakeStore(tmp_path) as reader:
        take = begun(writer)
        add_packets(writer, take.id, [0], [0], [0], packet(0).slots[None])
        assert [one.slate for one in reader.takes()] == ["1-A"]
        assert [numbers.tolist() for numbers, _ in reader.blocks(take)] == [[0]]
        database = sqlite3.connect(writer.path)
        assert database.execute("pragma journal_mode").fetchone() == ("wal",)
        database.close()


def test_a_folder_that_is_not_there_is_refused_in_words_and_not_made(tmp_path: Path) -> None:
    with pytest.raises(TakesUnreadable, match="cannot be made: its folder is not there"):
        TakeStore(tmp_path / "none", create=True)
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_holds_no_takes_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    file = tmp_path / "takes.sqlite"
    file.write_bytes(b"not a database, not at all" * 100)
    with pytest.raises(TakesUnreadable, match="is no file of takes, or its beginning is damaged"):
        TakeStore(tmp_path)
    assert file.read_bytes() == b"not a database, not at all" * 100


def test_takes_of_a_newer_version_are_left_alone(tmp_path: Path) -> None:
    TakeStore(tmp_path, create=True).close()
    database = sqlite3.connect(tmp_path / "takes.sqlite")
    database.execute("pragma user_version = 99")
    database.close()
    with pytest.raises(
        TakesUnreadable, match=r"was written by a newer cuedeck, or its beginning is damaged; install that version"
    ):
        TakeStore(tmp_path)


# Reading where nothing can be written.


def fill(disk: Path) -> None:
    with (disk / "filler").open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(bytes(4096))


def protect(disk: Path) -> None:
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True, timeout=120)


def one_take(folder: Path) -> Take:
    with TakeStore(folder, create=True) as store:
        take = begun(store)
        add_packets(store, take.id, [0], [0], [0], packet(0).slots[None])
        return finish(store, take.id, Status.COMPLETE, 1, 1, [], NO_LATENESS)


@pytest.mark.parametrize(
    ("spoil", "words"), [(fill, "the disk is full.*; make room"), (protect, "write-protected.*; look at who may write")]
)
def test_takes_are_read_on_a_disk_that_takes_no_byte_more(
    tmp_path: Path, spoil: Callable[[Path], None], words: str
) -> None:
    with needed_disk(tmp_path / "disk", "1m") as disk:
        take = one_take(disk)
        spoil(disk)
        with TakeStore(disk) as store:
            assert store.takes() == [take]
            ((numbers, slots),) = store.blocks(take)
        with pytest.raises(TakesUnreadable, match=words):
            one_take(disk)
    assert numbers.tolist() == [0]
    assert np.array_equal(slots[0], packet(0).slots)


@pytest.mark.parametrize("spoil", [fill, protect])
def test_a_file_of_takes_that_was_left_half_made_holds_none(tmp_path: Path, spoil: Callable[[Path], None]) -> None:
    with needed_disk(tmp_path / "disk", "1m") as disk:
        (disk / "takes.sqlite").touch()
        spoil(disk)
        with TakeStore(disk) as store:
            assert store.takes() == []


@pytest.mark.parametrize("spoil", [fill, protect])
def test_takes_of_a_killed_program_are_read_out_of_its_log(tmp_path: Path, spoil: Callable[[Path], None]) -> None:
    one_take(tmp_path)
    with TakeStore(tmp_path, create=True) as store, needed_disk(tmp_path / "disk", "1m") as disk:
        take = begun(store)
        for name in ("takes.sqlite", "takes.sqlite-wal", "takes.sqlite-shm"):
            shutil.copy(tmp_path / name, disk / name)  # as they lie there when the program is gone
        spoil(disk)
        with TakeStore(disk) as reader:
            assert [one.slate for one in reader.takes()] == ["1-A", take.slate]


def test_reading_leaves_nothing_behind_and_writes_nothing(tmp_path: Path) -> None:
    one_take(tmp_path)
    before = (tmp_path / "takes.sqlite").read_bytes()
    with TakeStore(tmp_path) as store:
        assert len(store.takes()) == 1
        with pytest.raises(TakesUnreadable, match="attempt to write a readonly database"):
            begun(store)
    assert [path.name for path in tmp_path.iterdir()] == ["takes.sqlite"]
    assert (tmp_path / "takes.sqlite").read_bytes() == before


def test_a_folder_with_signs_that_addresses_use_is_read_too(tmp_path: Path) -> None:
    folder = tmp_path / "a?b#c%20d"
    folder.mkdir()
    take = one_take(folder)
    with TakeStore(folder) as store:
        assert store.takes() == [take]


def test_takes_of_the_first_version_are_kept_and_get_what_came_since(tmp_path: Path) -> None:
    # The tables as version 1 wrote them.
    database = sqlite3.connect(tmp_path / "takes.sqlite")
    database.executescript(
        """
        create table take (id integer primary key, shot text not null, number integer not null,
            started_utc text not null, refresh text not null, universes text not null, slots_sent integer not null,
            packets_due integer not null, outputs text not null, fired text not null default '[]',
            status text not null default 'rolling', packets_sent integer not null default 0,
            sha256 text not null default '', lateness_ms text not null default '', unique (shot, number));
        create table packets (take integer not null references take(id), first integer not null,
            numbers blob not null, sent_ns blob not null, slots blob not null, primary key (take, first)) without rowid;
        insert into take (shot, number, started_utc, refresh, universes, slots_sent, packets_due, outputs)
            values ('1', 1, '2026-01-02T03:04:05+00:00', '44', '[1]', 24, 10, '["simulator"]');
        pragma user_version = 1;
        """
    )
    slots = zlib.compress(packet(0).slots.tobytes())
    database.execute("insert into packets values (1, 0, ?, ?, ?)", (bytes(8), bytes(8), slots))
    database.commit()
    database.close()
    for create in (False, True, True, False):
        with TakeStore(tmp_path, create=create) as store:
            (take,) = store.takes()
            assert (take.slate, take.chase, take.carried) == ("1-A", "", ())
            assert (take.speed, take.axes_live) == (1, False)
            assert [numbers.tolist() for numbers, _ in store.blocks(take)] == [[0]]
            assert store.times(take) is None
    with TakeStore(tmp_path, create=True) as store:
        (lost,) = store.close_left_behind()
        assert (lost.status, lost.packets_sent, lost.lateness) == (Status.BROKEN, 1, None)
    with TakeStore(tmp_path, create=True) as store:
        chased = store.begin("1", FULL, Fraction(44), 10, ["simulator"], "mtc:tape.mid")
        done = finish(store, chased.id, Status.CUT, 3, 3, [], NO_LATENESS, [0, 0, 1])
        assert (done.slate, done.chase, done.carried) == ("1-B", "mtc:tape.mid", ((0, 0, 2), (1, 0, 1)))


# The recorder.


def test_the_recorder_writes_every_packet_in_order_with_when_it_was_due_and_when_it_left(tmp_path: Path) -> None:
    clock = ManualClock(1000)
    with TakeStore(tmp_path, create=True) as store:
        take = begun(store)
        recorder = Recorder(store.path, take, clock)
        recorder.open(FULL)
        for number in range(200):
            clock.spin_ns(25_000_000)
            recorder.send(packet(number))
        recorder.close()
        blocks, times = list(store.blocks(take)), store.times(take)
    assert np.concatenate([numbers for numbers, _ in blocks]).tolist() == list(range(200))
    assert digest(slots for _, slots in blocks) == digest([np.stack([packet(number).slots for number in range(200)])])
    assert times is not None
    assert times.due_ns.tolist() == [packet(number).due_ns for number in range(200)]
    assert times.sent_ns.tolist() == [1000 + 25_000_000 * number for number in range(1, 201)]


def recorded(store: TakeStore, packets: list[Packet], chase: str = "") -> Take:
    """Return a take that still rolls when its program is gone: its packets are written, and no word of its end."""
    take = store.begin("1", FULL, Fraction(44), 10, ["simulator"], chase)
    clock = ManualClock(0)
    for part in (packets[:3], packets[3:]):  # two blocks
        recorder = Recorder(store.path, take, clock)
        recorder.open(FULL)
        for one in part:
            clock.wait_until_ns(one.due_ns + 2_000_000)
            recorder.send(one)
        recorder.close()
    return take


def test_a_take_that_an_earlier_version_called_lost_is_a_broken_one(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        begun(store)
        store.close_left_behind()
    with contextlib.closing(sqlite3.connect(tmp_path / TAKES_FILE)) as file, file:
        assert file.execute("UPDATE take SET status = 'lost'").rowcount == 1
    with TakeStore(tmp_path) as store:
        [take] = store.takes()
    assert (take.status, take.log) == (Status.BROKEN, ""), "it is read, and not taken for damaged"


def test_takes_that_were_left_behind_are_closed_as_broken_with_the_packets_so_far(tmp_path: Path) -> None:
    packets = [packet(number) for number in range(5)]
    with TakeStore(tmp_path, create=True) as store:
        whole = one_take(tmp_path)
        recorded(store, packets)
        begun(store, "2")
        closed = store.close_left_behind()
        assert store.takes() == [whole, *closed]
        assert store.close_left_behind() == []
    with_packets, without = closed
    assert [(one.slate, one.status, one.packets_sent) for one in closed] == [
        ("1-B", Status.BROKEN, 5), ("2-A", Status.BROKEN, 0),
    ]  # fmt: skip
    assert with_packets.packets_due == 10
    assert with_packets.sha256 == digest([np.stack([one.slots for one in packets])])
    assert with_packets.lateness == Lateness(2.0, 2.0, 2.0)
    assert without.lateness is None
    assert (with_packets.carried, without.carried) == ((), ())


@pytest.mark.parametrize(
    ("of_shot", "carried"),
    [
        # Held in the second block: until then each packet was the one of its number.
        ([None, None, None, None, 3, 3, 4], [0, 1, 2, 3, 3, 3, 4]),
        ([7, 6, 5, 5, 5, 8, 9], [7, 6, 5, 5, 5, 8, 9]),
        ([0, 1, 2, 3, 4, 5, 6], [0, 1, 2, 3, 4, 5, 6]),
        ([None] * 7, []),
    ],
)
def test_a_take_that_was_left_behind_knows_which_packets_of_the_shot_it_sent(
    tmp_path: Path, of_shot: list[int | None], carried: list[int]
) -> None:
    packets = [replace(packet(number), carried=one) for number, one in enumerate(of_shot)]
    with TakeStore(tmp_path, create=True) as store:
        recorded(store, packets)
        (lost,) = store.close_left_behind()
    assert numbers_of(lost.carried).tolist() == carried


@pytest.mark.skipif(os.name == "nt", reason="SIGKILL is not on Windows")
def test_a_take_is_readable_after_its_process_was_killed_in_the_middle(tmp_path: Path) -> None:
    text = show_text("cue: 1, at: 0 s, look: full, fade: 600 s, curve: even lightness", head=HEAD)
    (tmp_path / "show.yaml").write_text(text)
    process = subprocess.Popen(
        [sys.executable, "-m", "cuedeck", "shoot", str(tmp_path), "1", "--no-countdown"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        wait_until(lambda: _has_packets(tmp_path) or process.poll() is not None, "a packet in the log")
        assert process.poll() is None, "the take ended before it was killed"
        process.send_signal(signal.SIGKILL)
    finally:
        process.kill()
        process.wait(LONGEST_WAIT_S)
    rendered = ShowFolder(tmp_path).open().plan("1").timeline()
    with TakeStore(tmp_path) as store:
        (take,) = store.takes()
        assert (take.slate, take.status) == ("1-A", Status.ROLLING)
        blocks = list(store.blocks(take))
    with TakeStore(tmp_path, create=True) as store:
        (lost,) = store.close_left_behind()
        assert begun(store).slate == "1-B"
    numbers = np.concatenate([part for part, _ in blocks])
    assert np.array_equal(np.concatenate([part for _, part in blocks]), rendered.slots(numbers))
    assert (lost.slate, lost.status, lost.packets_sent) == ("1-A", Status.BROKEN, len(numbers))
    assert lost.packets_due == rendered.packet_count
    assert lost.sha256 == digest(part for _, part in blocks)
    assert lost.lateness is not None


def _has_packets(folder: Path) -> bool:
    """Return whether a block is on disk, looking from outside the program."""
    if not (folder / "takes.sqlite").exists():
        return False
    database = sqlite3.connect(f"file:{folder / 'takes.sqlite'}?mode=ro", uri=True, timeout=5)
    try:
        return bool(database.execute("select count(*) from packets").fetchone()[0])
    except sqlite3.OperationalError:  # the file is there, its tables are not yet
        return False
    finally:
        database.close()


def test_the_universes_of_a_take_are_kept_as_a_list(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        take = begun(store, line=Line((2, 63999), 512, 44.0))
        slots = packet(3, universes=2).slots[None]
        add_packets(store, take.id, [3], [0], [0], slots)
        ((numbers, kept),) = store.blocks(take)
        database = sqlite3.connect(store.path)
        (text,) = database.execute("select universes from take").fetchone()
        database.close()
    assert json.loads(text) == [2, 63999]
    assert numbers.tolist() == [3]
    assert np.array_equal(kept, slots)


def test_a_take_keeps_its_speed_and_where_its_positions_came_from(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        store.begin("1", FULL, Fraction(44), 10, ["simulator"], speed=Fraction(1, 4), axes_live=True)
    with TakeStore(tmp_path) as store:
        (take,) = store.takes()
    assert (take.speed, take.axes_live) == (Fraction(1, 4), True)
