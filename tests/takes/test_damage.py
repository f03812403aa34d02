"""Files of takes with bits flipped and odd rows: every command ends in words, and what is readable is saved.

CUEDECK_DAMAGES=500 .venv/bin/pytest -n 0 tests/takes/test_damage.py
"""

from __future__ import annotations

import contextlib
import random
import sqlite3
import subprocess
import sys
import tracemalloc
import zlib
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from cuedeck.cli.main import main
from cuedeck.takes.blocks import Block, packets_in
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Lateness, Status
from tests.conftest import DAMAGES
from tests.output.ports import FULL, packet
from tests.takes.rolled import add_packets, finish

BIG = 2**62
SHOW = """\
cuedeck: 2
slots: 24
refresh: 20 Hz
rig:
  key: {type: dimmer, address: 1.1}
looks:
  up: {key: full}
shots:
  "1":
    length: 0.5 s
    cues:
      - {cue: 1, at: 0 s, look: up}
"""
COMMANDS = (
    [],
    ["--json"],
    ["check"],
    ["export", "1-B", "--out", "{folder}/out.npz"],
    ["note", "1-A", "seen"],
    ["circle", "1-C"],
    ["rescue", "--out", "{folder}/new.sqlite"],
)


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Three takes of 200 packets."""
    folder = tmp_path_factory.mktemp("sound")
    with TakeStore(folder, create=True) as store:
        for _ in range(3):
            take = store.begin("1", FULL, Fraction(44), 200, ["simulator"])
            for first in range(0, 200, 10):
                numbers = list(range(first, first + 10))
                slots = np.stack([packet(one).slots for one in numbers])
                add_packets(store, take.id, numbers, [20_000_000 * one for one in numbers], numbers, slots)
            finish(store, take.id, Status.COMPLETE, 200, 200, [], Lateness(0.0, 0.0, 0.0))
    return (folder / "takes.sqlite").read_bytes()


def spoiled(content: bytes, chance: random.Random) -> bytes:
    """Flip some bits, or lose a page, a part or the end."""
    damaged = bytearray(content)
    kind = chance.choice(["bits", "bits", "bits", "page", "end", "part"])
    if kind == "bits":
        for _ in range(chance.choice([1, 1, 3, 20, 200])):
            damaged[chance.randrange(len(damaged))] ^= 1 << chance.randrange(8)
    elif kind == "page":
        start = 4096 * chance.randrange(len(damaged) // 4096)
        damaged[start : start + 4096] = chance.randbytes(4096)
    elif kind == "end":
        del damaged[chance.randrange(len(damaged)) :]
    else:
        start, count = chance.randrange(len(damaged)), chance.randrange(1, 5000)
        damaged[start : start + count] = bytes(len(damaged[start : start + count]))
    return bytes(damaged)


def ran(folder: Path, words: list[str], capsys: pytest.CaptureFixture[str]) -> int:
    """Run a command on the takes of a folder, and see that it ends in words and a code that fits them."""
    code = main(["takes", str(folder), *(word.format(folder=folder) for word in words)])
    said = capsys.readouterr()
    assert code in (0, 1), said
    assert "Traceback" not in said.err
    assert "internal error" not in said.err
    assert said.out or said.err
    return code


@pytest.mark.parametrize("seed", range(DAMAGES))
def test_a_damaged_file_stops_no_command_and_what_is_rescued_of_it_is_sound(
    seed: int, sound: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("CUEDECK_DEBUG", raising=False)
    damaged = spoiled(sound, random.Random(seed))  # noqa: S311
    (tmp_path / "takes.sqlite").write_bytes(damaged)
    codes = {words[0] if words else "list": ran(tmp_path, words, capsys) for words in COMMANDS}
    if (tmp_path / "new.sqlite").exists():
        assert main(["takes", str(tmp_path / "new.sqlite"), "check"]) == 0
    else:
        assert codes["rescue"] == 1
    if codes["list"] == 1:
        assert codes["check"] == 1


@pytest.mark.parametrize("seed", range(1000, 1000 + DAMAGES // 6))
def test_a_take_into_a_damaged_file_is_taken_or_refused_in_words(seed: int, sound: bytes, tmp_path: Path) -> None:
    (tmp_path / "show.yaml").write_text(SHOW, encoding="utf-8")
    (tmp_path / "takes.sqlite").write_bytes(spoiled(sound, random.Random(seed)))  # noqa: S311
    done = subprocess.run(
        [sys.executable, "-m", "cuedeck", "shoot", str(tmp_path), "1", "--no-countdown"],
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        timeout=120,
        check=False,
    )
    assert "Traceback" not in done.stderr
    assert "internal error" not in done.stderr
    if done.returncode:
        assert done.returncode == 1
        assert "takes.sqlite" in done.stderr
    else:
        assert "(complete)" in done.stdout


@contextlib.contextmanager
def changed(folder: Path, content: bytes) -> Iterator[sqlite3.Connection]:
    (folder / "takes.sqlite").write_bytes(content)
    with contextlib.closing(sqlite3.connect(folder / "takes.sqlite")) as database:
        yield database
        database.commit()


ODD_ROWS = [
    ("shot", None), ("shot", b"1"), ("shot", "1\0"), ("shot", b"\xed\xa0\x80"), ("shot", "x" * 100_000),
    ("number", BIG), ("number", -1), ("number", "A"), ("number", 1.5), ("started_utc", "soon"), ("refresh", "0"),
    ("refresh", "1e999999999"), ("refresh", "44/0"), ("refresh", "9" * 5000), ("universes", "[]"),
    ("universes", "[0]"), ("universes", "[" * 100_000), ("universes", str([1] * 60_000)), ("universes", "{}"),
    ("packets_due", BIG), ("packets_sent", -5), ("packets_sent", "many"), ("outputs", "7"), ("outputs", "[[1]]"),
    ("fired", '[["2"]]'), ("fired", '[["2", 1e400]]'), ("fired", "null"), ("fired", '[["2", 99999999999999999999]]'),
    ("status", "fine"), ("status", 0), ("sha256", "no digest"), ("lateness_ms", "[1]"), ("lateness_ms", "[NaN,1,2]"),
    ("lateness_ms", '["a","b","c"]'), ("carried", "[[0,1,1000000000000]]"), ("carried", "[[0,9e9,5]]"),
    ("carried", "[[1,2]]"), ("speed", "-1"), ("speed", "1e9"), ("axes_live", "yes"), ("mark", "best"),
    ("note", b"\xff"),
    ("key", "0"), ("log", b"\xff"),
]  # fmt: skip


@pytest.mark.parametrize(("column", "value"), ODD_ROWS)
def test_a_take_with_an_odd_row_is_listed_as_damaged_and_the_others_work(
    column: str, value: object, sound: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with changed(tmp_path, sound) as database:
        database.execute("pragma writable_schema = on")
        database.execute("update sqlite_master set sql = replace(sql, ' not null', '') where name = 'take'")
        database.execute("pragma writable_schema = off")
        database.commit()
    with changed(tmp_path, (tmp_path / "takes.sqlite").read_bytes()) as database:
        database.execute(f"update take set {column} = ? where id = 2", (value,))  # noqa: S608
    assert main(["takes", str(tmp_path)]) == 1
    out = capsys.readouterr().out
    assert "DAMAGED: " in out
    assert [line[:3] for line in out.splitlines() if " 200/200 " in line] == ["1-A", "1-C"]
    assert main(["takes", str(tmp_path), "note", "1-A", "seen"]) == 0
    assert main(["takes", str(tmp_path), "check"]) == 1
    assert main(["takes", str(tmp_path), "export", "1-C", "--out", str(tmp_path / "c.npz")]) == 0
    assert main(["takes", str(tmp_path), "rescue"]) == 1
    capsys.readouterr()
    assert main(["takes", str(tmp_path), "check"]) == 0
    with TakeStore(tmp_path) as store:
        kept = [sum(len(numbers) for numbers, _ in store.blocks(take)) for take in store.takes()]
        assert kept == [200, 200, 200]
    assert (tmp_path / "takes-damaged-1.sqlite").exists()


BOMB = zlib.compress(bytes(50_000_000), 1)
ODD_BLOCKS = [
    ("slots", b""), ("slots", b"no zlib"), ("slots", BOMB), ("slots", zlib.compress(bytes(511))), ("slots", 5),
    ("numbers", bytes(80)), ("numbers", bytes(7)), ("numbers", b""), ("due_ns", bytes(8)), ("sent_ns", "text"),
    ("carried", bytes(8)), ("digest", bytes(32)),
]  # fmt: skip


@pytest.mark.parametrize(("column", "value"), ODD_BLOCKS)
def test_a_block_that_is_not_what_was_written_is_found_and_the_rest_of_the_take_is_rescued(
    column: str, value: object, sound: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with changed(tmp_path, sound) as database:
        database.execute(f"update packets set {column} = ? where take = 2 and first = 50", (value,))  # noqa: S608
        if column != "digest":
            database.execute("update packets set digest = null where take = 2 and first = 50")
    assert main(["takes", str(tmp_path), "check"]) == 1
    assert "take 1-B: " in capsys.readouterr().out
    assert main(["takes", str(tmp_path), "export", "1-B", "--out", str(tmp_path / "b.npz")]) == 1
    assert "packet 50" in capsys.readouterr().err
    assert main(["takes", str(tmp_path), "rescue"]) == 1
    assert "take 1-B: 190 packets of 200 that were sent could be read" in capsys.readouterr().out
    with TakeStore(tmp_path) as store:
        assert [(take.slate, take.status) for take in store.takes()] == [
            ("1-A", Status.COMPLETE), ("1-B", Status.INCOMPLETE), ("1-C", Status.COMPLETE),
        ]  # fmt: skip


def test_a_file_with_more_than_our_tables_is_not_believed(
    sound: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with changed(tmp_path, sound) as database:
        database.execute("create trigger t after update on take begin delete from packets; end")
    assert main(["takes", str(tmp_path), "circle", "1-A"]) == 1
    assert "holds something other than takes" in capsys.readouterr().err
    assert main(["takes", str(tmp_path), "rescue"]) == 0
    assert main(["takes", str(tmp_path), "circle", "1-A"]) == 0


def test_a_sound_file_needs_no_rescue(sound: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "takes.sqlite").write_bytes(sound)
    assert main(["takes", str(tmp_path), "check"]) == 0
    assert main(["takes", str(tmp_path), "rescue"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        f"{tmp_path}/takes.sqlite is sound: 3 takes, every packet as it was written",
        f"{tmp_path}/takes.sqlite is sound: there is nothing to rescue",
    ]
    assert [path.name for path in tmp_path.iterdir()] == ["takes.sqlite"]


def test_a_block_is_never_unpacked_to_more_than_its_packets_have() -> None:
    numbers = np.arange(10).tobytes()
    bomb = Block(0, numbers, None, numbers, BOMB, None, None)
    tracemalloc.start()
    try:
        with pytest.raises(ValueError, match="holds another number of slots than its packets have"):
            packets_in(bomb, 1)
        assert tracemalloc.get_traced_memory()[1] < 10_000_000
    finally:
        tracemalloc.stop()
