"""Packets as files: what is in them, and that they are whole or not there."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from cuedeck.arrays import Slots
from cuedeck.takes.arrays import CannotWrite, write_packets
from cuedeck.takes.times import PacketTimes
from tests.output.ports import packet

TIMES_S = np.array([0.0, 0.025, 0.1, 1 / 3])
SLOTS = np.stack([packet(number, universes=2).slots for number in range(4)])


def blocks(*sizes: int) -> Iterator[Slots]:
    start = 0
    for size in sizes:
        yield SLOTS[start : start + size]
        start += size


def written(path: Path, *sizes: int) -> bytes:
    write_packets(path, TIMES_S, [1, 7], lambda: blocks(*(sizes or (4,))))
    return path.read_bytes()


def test_an_npz_holds_times_slots_and_universes(tmp_path: Path) -> None:
    written(tmp_path / "a.npz", 1, 3)
    with np.load(tmp_path / "a.npz", allow_pickle=False) as arrays:
        assert sorted(arrays.files) == ["slots", "time_s", "universes"]
        assert arrays["time_s"].tolist() == TIMES_S.tolist()
        assert arrays["universes"].tolist() == ["1", "7"]
        assert arrays["slots"].dtype == np.uint8
        assert arrays["slots"].shape == (4, 2, 512)
        assert np.array_equal(arrays["slots"], SLOTS)


def test_an_npz_of_recorded_packets_holds_when_each_was_due_and_left_from_the_first_due_on(tmp_path: Path) -> None:
    times = PacketTimes(np.array([1000, 1025, 1050, 1075]), np.array([1003, 1025, 1059, 1076]))
    write_packets(tmp_path / "a.npz", TIMES_S, [1, 7], lambda: blocks(4), None, times)
    with np.load(tmp_path / "a.npz", allow_pickle=False) as arrays:
        assert arrays["due_ns"].tolist() == [0, 25, 50, 75]
        assert arrays["sent_ns"].tolist() == [3, 25, 59, 76]
        assert arrays["due_ns"].dtype == arrays["sent_ns"].dtype == np.int64


def test_a_csv_is_the_same_for_every_take(tmp_path: Path) -> None:
    times = PacketTimes(np.arange(4), np.arange(4))
    write_packets(tmp_path / "a.csv", TIMES_S, [1, 7], lambda: blocks(4), None, times)
    assert (tmp_path / "a.csv").read_bytes() == written(tmp_path / "b.csv")


@pytest.mark.parametrize("suffix", ["npz", "csv"])
def test_the_same_packets_are_the_same_bytes_however_they_are_cut(tmp_path: Path, suffix: str) -> None:
    once = written(tmp_path / f"a.{suffix}", 4)
    assert once == written(tmp_path / f"b.{suffix}", 1, 1, 2)
    os.utime(tmp_path / f"a.{suffix}", (0, 0))
    assert once == written(tmp_path / f"a.{suffix}", 2, 2)


def test_a_csv_has_a_line_a_packet_and_a_column_a_slot(tmp_path: Path) -> None:
    lines = written(tmp_path / "a.csv").decode().splitlines()
    assert len(lines) == 5
    header = lines[0].split(",")
    assert (header[:3], header[512:515], header[-1]) == (["time_s", "1.1", "1.2"], ["1.512", "7.1", "7.2"], "7.512")
    assert [line.split(",")[0] for line in lines[1:]] == ["0.0", "0.025", "0.1", "0.3333333333333333"]
    assert [int(cell) for cell in lines[3].split(",")[1:]] == SLOTS[2].reshape(-1).tolist()


def test_no_packets_are_an_empty_table_and_empty_arrays(tmp_path: Path) -> None:
    for suffix in ("csv", "npz"):
        write_packets(tmp_path / f"a.{suffix}", np.array([]), [1], lambda: iter(()))
    assert (tmp_path / "a.csv").read_text().count("\n") == 1
    with np.load(tmp_path / "a.npz") as arrays:
        assert arrays["slots"].shape == (0, 1, 512)


def test_the_ending_may_be_in_capitals(tmp_path: Path) -> None:
    assert written(tmp_path / "A.NPZ")[:2] == b"PK"


@pytest.mark.parametrize("name", ["a.txt", "a", "npz"])
def test_another_ending_is_refused_and_nothing_is_written(tmp_path: Path, name: str) -> None:
    with pytest.raises(CannotWrite) as caught:
        written(tmp_path / name)
    assert str(caught.value) == f"'{name}' is neither .npz nor .csv: name the file FILE.npz or FILE.csv"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("suffix", ["npz", "csv"])
def test_a_folder_that_is_not_there_is_refused_and_nothing_is_left_behind(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / "none" / f"a.{suffix}"
    with pytest.raises(CannotWrite) as caught:
        written(path)
    assert str(caught.value) == f"'{path}' cannot be written: no such file or directory"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("suffix", ["npz", "csv"])
def test_a_file_stays_as_it_was_when_writing_it_again_fails(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"a.{suffix}"
    before = written(path)

    def failing() -> Iterator[Slots]:
        yield SLOTS[:2]
        raise OSError(28, "No space left on device")

    with pytest.raises(CannotWrite, match="cannot be written: no space left on device"):
        write_packets(path, TIMES_S, [1, 7], failing)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]
