"""A take is circled or rejected, and gets a note: durable, beside a take that is being written."""

from __future__ import annotations

import sqlite3
import threading
from fractions import Fraction
from pathlib import Path

import pytest

from cuedeck.errors import Refusal
from cuedeck.takes.store import LONGEST_NOTE, TakeStore
from cuedeck.takes.take import Lateness, Status, Take, TakeMark
from cuedeck.takes.trouble import TakesUnreadable
from tests.output.ports import FULL, packet
from tests.takes.rolled import add_packets, finish
from tests.waiting import LONGEST_WAIT_S

NO_LATENESS = Lateness(0.0, 0.0, 0.0)


def begun(store: TakeStore) -> Take:
    return store.begin("1", FULL, Fraction(44), 1000, ["simulator"])


def marks(folder: Path) -> list[tuple[str, str, str]]:
    with TakeStore(folder) as store:
        return [(take.slate, take.mark.value, take.note) for take in store.takes()]


def test_a_take_is_circled_rejected_and_neither_and_the_last_word_counts(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        first, second = begun(store), begun(store)
        assert (first.mark, first.note) == (TakeMark.NONE, "")
        store.set_mark(first, TakeMark.REJECTED)
        store.set_mark(first, TakeMark.CIRCLED)
        store.set_mark(second, TakeMark.REJECTED)
    assert marks(tmp_path) == [("1-A", "circled", ""), ("1-B", "rejected", "")]
    with TakeStore(tmp_path, create=True) as store:
        store.set_mark(second, TakeMark.NONE)
    assert marks(tmp_path) == [("1-A", "circled", ""), ("1-B", "", "")]


def test_a_note_is_kept_on_one_line_and_the_next_takes_its_place(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        take = begun(store)
        assert store.set_note(take, "  soft at\nthe end,\tüber the vase ") == "soft at the end, über the vase"
    assert marks(tmp_path) == [("1-A", "", "soft at the end, über the vase")]
    with TakeStore(tmp_path, create=True) as store:
        assert store.set_note(take, " ") == ""
    assert marks(tmp_path) == [("1-A", "", "")]


def test_a_note_that_is_too_long_or_cannot_be_shown_is_refused_and_the_old_one_stays(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        take = begun(store)
        store.set_note(take, "x" * LONGEST_NOTE)
        with pytest.raises(Refusal, match="the note has 501 characters: write it in 500 or fewer"):
            store.set_note(take, "y" * 501)
        with pytest.raises(Refusal, match="the note holds signs that cannot be shown: write it without them"):
            store.set_note(take, "ring \a the bell")
    assert marks(tmp_path) == [("1-A", "", "x" * 500)]


def test_what_is_marked_while_a_take_rolls_is_there_when_it_has_ended_and_so_are_its_packets(tmp_path: Path) -> None:
    """Through a connection of another process or thread, that is open for a moment each time."""
    blocks, told = 60, threading.Event()

    def shoot() -> None:
        with TakeStore(tmp_path, create=True) as store:
            take = begun(store)
            told.set()
            for number in range(blocks):
                add_packets(store, take.id, [number], [0], [0], packet(number).slots[None])
            finish(store, take.id, Status.COMPLETE, blocks, blocks, [], NO_LATENESS)

    player = threading.Thread(target=shoot)
    player.start()
    assert told.wait(LONGEST_WAIT_S)
    for number in range(20):
        with TakeStore(tmp_path, create=True) as store:
            (take,) = store.takes()
            store.set_mark(take, TakeMark.CIRCLED)
            store.set_note(take, f"note {number}")
    player.join(LONGEST_WAIT_S)
    assert marks(tmp_path) == [("1-A", "circled", "note 19")]
    with TakeStore(tmp_path) as store:
        (take,) = store.takes()
        assert (take.status, take.packets_sent) == (Status.COMPLETE, blocks)
        assert [int(numbers[0]) for numbers, _ in store.blocks(take)] == list(range(blocks))


def test_a_mark_outlives_the_closing_of_a_take_that_was_left_behind(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        store.set_mark(begun(store), TakeMark.REJECTED)
    with TakeStore(tmp_path, create=True) as store:
        (lost,) = store.close_left_behind()
    assert (lost.status, lost.mark) == (Status.BROKEN, TakeMark.REJECTED)


def test_takes_from_before_there_were_marks_are_read_without_them_and_can_be_marked(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        begun(store)
    database = sqlite3.connect(tmp_path / "takes.sqlite")
    database.executescript(
        "alter table take drop column mark; alter table take drop column note; alter table take drop column key;"
        "alter table take drop column log; alter table take drop column reason;"
        "alter table packets drop column digest; pragma user_version = 4;"
    )
    database.close()
    assert marks(tmp_path) == [("1-A", "", "")]
    with TakeStore(tmp_path, create=True) as store:
        (take,) = store.takes()
        store.set_mark(take, TakeMark.CIRCLED)
        store.set_note(take, "kept")
    assert marks(tmp_path) == [("1-A", "circled", "kept")]


def test_a_file_that_was_opened_to_read_takes_no_mark(tmp_path: Path) -> None:
    with TakeStore(tmp_path, create=True) as store:
        take = begun(store)
    with TakeStore(tmp_path) as store, pytest.raises(TakesUnreadable, match="attempt to write a readonly database"):
        store.set_mark(take, TakeMark.CIRCLED)
    assert marks(tmp_path) == [("1-A", "", "")]
