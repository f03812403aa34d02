"""What is said to be kept is on the disk by then: the system calls of real processes, in order.

A file is on the disk once it was synced; its name, once its folder was. [fsync(2), "Notes"]
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from tests.system_calls import Call, before_it_prints, steps_in, system_calls, unsynced
from tests.tui.shows import RIG, SHOTS

BESIDE = ".cuedeck-*.saving"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A show folder with two files."""
    show = tmp_path / "show"
    (show / "looks").mkdir(parents=True)
    (show / "show.yaml").write_text(RIG + SHOTS, encoding="utf-8")
    (show / "looks" / "common.yaml").write_text("looks: {}\n", encoding="utf-8")
    return show


def calls_of(what: str, folder: Path) -> list[Call]:
    return system_calls("-m", "tests.synced", what, folder)


def made_durably(folder: str) -> Iterator[str]:
    yield f"mkdir {folder}"
    yield f"fsync {Path(folder).parent}"


def written_beside(place: str) -> Iterator[str]:
    beside = Path(place) / BESIDE
    yield f"write {beside}"
    yield f"fsync {beside}"


def put_in_place(place: str, name: str) -> Iterator[str]:
    yield f"rename {Path(place) / BESIDE} {Path(place) / name}"
    yield f"fsync {place}"


def version_kept(file: str) -> Iterator[str]:
    place = f".versions/{file}"
    yield from written_beside(place)
    yield from put_in_place(place, "*Z.yaml")


def test_a_save_replaces_a_file_when_all_that_is_new_and_all_that_was_there_is_on_the_disk(folder: Path) -> None:
    steps = steps_in(folder, calls_of("save_two_files", folder))
    assert steps == [
        *written_beside("."),
        *written_beside("looks"),
        *made_durably(".versions"),
        *made_durably(".versions/show.yaml"),
        *version_kept("show.yaml"),
        *made_durably(".versions/looks"),
        *made_durably(".versions/looks/common.yaml"),
        *version_kept("looks/common.yaml"),
        *put_in_place(".", "show.yaml"),
        *put_in_place("looks", "common.yaml"),
    ]


def test_each_edit_is_on_the_disk_before_the_next_is_begun_and_stays_there_until_it_is_saved(folder: Path) -> None:
    line = ["write .draft/*.journal", "fsync .draft/*.journal"]
    calls = calls_of("edit_twice_and_save", folder)
    edited = steps_in(folder, before_it_prints("edited", calls))
    assert edited == [*made_durably(".draft"), *line, "fsync .draft", *line, *line]
    assert steps_in(folder, before_it_prints("saved", calls))[len(edited) :] == [
        *written_beside("."),
        *made_durably(".versions"),
        *made_durably(".versions/show.yaml"),
        *version_kept("show.yaml"),
        *put_in_place(".", "show.yaml"),
        "unlink .draft/*.journal",
        "rmdir .draft",
    ]


def test_a_new_show_gets_its_name_when_its_files_are_on_the_disk(tmp_path: Path) -> None:
    calls = system_calls("-m", "cuedeck", "new", tmp_path / "bottle", "--defaults")
    steps = steps_in(tmp_path, calls)
    renamed = steps.index("rename .cuedeck-new-*/show bottle")
    assert steps[renamed + 1] == "fsync ."
    before = calls[: calls.index(next(call for call in calls if call.more == str(tmp_path / "bottle")))]
    written = {call.path for call in before if call.name == "rename"}
    assert len(written) == len(list((tmp_path / "bottle").rglob("*.*"))) > 1
    assert unsynced(before, tmp_path) == [str(tmp_path)], "the folder in which it then gets its name"


def require_kept(calls: Sequence[Call], folder: Path) -> None:
    """Require that something was written to the log, and nothing of it that the disk need not have."""
    log = [call for call in calls if not call.path.endswith("-shm")]  # memory that readers share, made again each time
    assert "write takes.sqlite-wal" in steps_in(folder, log)
    assert not unsynced(log, folder)


def test_the_log_has_each_part_of_a_take_on_the_disk_when_that_is_said(folder: Path) -> None:
    """SQLite syncs its write-ahead log with every commit. [sqlite.org, PRAGMA synchronous: FULL]"""
    calls = calls_of("roll_a_take", folder)
    for word in ("begun", "block 0", "block 1", "ended"):
        before = before_it_prints(word, calls)
        require_kept(before, folder)
        calls = calls[len(before) :]


def test_the_second_file_of_a_take_waits_for_no_disk(folder: Path) -> None:
    calls = calls_of("record_a_take", folder)
    rolling = before_it_prints("recorded", calls)[len(before_it_prints("rolling", calls)) :]
    steps = steps_in(folder / "second", rolling)
    last = max(at for at, step in enumerate(steps) if step.startswith("fsync"))
    assert steps[last] == "fsync ."  # of the folder, when the file was made; no block stands in it yet
    assert set(steps[last + 1 :]) == {"write *.packets-wal"}
    assert len(steps[last + 1 :]) > 2 * 8  # a frame at least for each block of a quarter of a second
    require_kept([call for call in rolling if Path(call.path).name.startswith("takes")], folder)


def test_a_rescued_log_is_on_the_disk_when_it_gets_the_name_of_the_damaged_one(folder: Path) -> None:
    calls = calls_of("rescue_a_log", folder)
    rescued = before_it_prints("rescued", calls)[len(before_it_prints("damaged", calls)) :]
    steps = steps_in(folder, rescued)
    last = ["rename takes.sqlite takes-damaged-1.sqlite", "rename rescued.sqlite takes.sqlite", "fsync ."]
    assert steps[-3:] == last
    assert "fsync rescued.sqlite" in steps
    assert not unsynced([call for call in rescued if not call.path.endswith("-shm")], folder)


def test_each_reading_of_a_calibration_is_on_the_disk_before_the_next_level_is_asked_for(folder: Path) -> None:
    steps = steps_in(folder, before_it_prints("kept", calls_of("keep_a_reading", folder)))
    place = ".calibration"
    assert steps == [*made_durably(place), *written_beside(place), *put_in_place(place, "left.yaml")]


def test_a_blackout_is_on_the_disk_before_the_answer_says_so_and_its_release_too(folder: Path) -> None:
    calls = calls_of("black_out_with_a_player", folder)
    dark = steps_in(folder, before_it_prints("dark", calls))
    place = ".player"
    assert dark == [*made_durably(place), *written_beside(place), *put_in_place(place, "blackout")]
    released = steps_in(folder, before_it_prints("released", calls))[len(dark) :]
    assert released == ["unlink .player/blackout", "fsync .player"]


def test_a_blackout_where_no_player_runs_is_on_the_disk_before_the_command_says_so(folder: Path) -> None:
    calls = system_calls("-m", "cuedeck", "player", folder, "blackout")
    assert steps_in(folder, before_it_prints("dark", calls))[-4:] == [
        *written_beside(".player"),
        *put_in_place(".player", "blackout"),
    ]


def test_the_last_look_waits_for_no_disk_until_it_is_told_to(folder: Path) -> None:
    calls = calls_of("keep_a_look", folder)
    lit = before_it_prints("lit", calls)
    assert [step.split()[0] for step in steps_in(folder, lit)] == ["write", "rename"]
    synced = before_it_prints("synced", calls)[len(lit) :]
    assert [(call.name, call.more.rpartition(", ")[2]) for call in synced if call.name in ("msync", "fsync")] == [
        ("msync", "MS_SYNC"),
        ("fsync", ""),
    ]
