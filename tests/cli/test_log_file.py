"""A log that cannot be written is told before the countdown, with the cure that fits, and another can be chosen."""

from __future__ import annotations

import contextlib
import io
import os
import sqlite3
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from cuedeck.cli.log_file import log_if_any, log_to_use
from cuedeck.cli.main import main
from cuedeck.errors import Refusal
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Status
from tests.cli.command import finished, read_until, started
from tests.tools import write_protected

ROOT = Path(__file__).parent.parent.parent
LONGEST_WAIT_S = 60
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


@pytest.fixture
def show(tmp_path: Path) -> Path:
    folder = tmp_path / "small"
    folder.mkdir()
    (folder / "show.yaml").write_text(SHOW, encoding="utf-8")
    return folder


@contextlib.contextmanager
def locked(log: Path) -> Iterator[None]:
    TakeStore(log.parent, create=True).close()
    with contextlib.closing(sqlite3.connect(log, isolation_level=None)) as locker:
        locker.execute("begin exclusive")
        yield


@contextlib.contextmanager
def rubbish(log: Path) -> Iterator[None]:
    log.write_bytes(b"no database at all" * 1000)
    yield


@contextlib.contextmanager
def folder_there(log: Path) -> Iterator[None]:
    log.mkdir()
    yield


@contextlib.contextmanager
def newer(log: Path) -> Iterator[None]:
    TakeStore(log.parent, create=True).close()
    with contextlib.closing(sqlite3.connect(log)) as database:
        database.execute("pragma user_version = 99")
    yield


@contextlib.contextmanager
def odd(log: Path) -> Iterator[None]:
    with contextlib.closing(sqlite3.connect(log)) as database:
        database.execute("create table stock (name text)")
    yield


TROUBLES = [
    (locked, "is locked by another program", "close what has it open"),
    (rubbish, "is no file of takes, or its beginning is damaged", "rescue' writes what is readable into a new file"),
    (folder_there, "is a folder", "move it away, and a new file is made"),
    (newer, "was written by a newer cuedeck", "install that version"),
    (odd, "holds something other than takes", "move it away, and a new one is made"),
]


@pytest.mark.parametrize(("spoil", "what", "cure"), TROUBLES)
def test_a_take_whose_log_cannot_be_written_is_refused_before_it_with_the_cure(
    show: Path,
    spoil: Callable[[Path], contextlib.AbstractContextManager[None]],
    what: str,
    cure: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    with spoil(show / "takes.sqlite"):
        assert main(["shoot", str(show), "1"]) == 1
        said = capsys.readouterr().err
        assert what in said
        assert cure in said
        assert "or log elsewhere: 'shoot' and 'open' take --log FILE" in said
        assert "take 1-A" not in said
        assert main(["shoot", str(show), "1", "--no-countdown", "--log", str(show / "other.sqlite")]) == 0
    assert main(["takes", str(show / "other.sqlite")]) == 0
    assert "1-A" in capsys.readouterr().out


@pytest.mark.ordinary_user
@pytest.mark.skipif(os.name == "nt", reason="folders are protected in another way on Windows")
def test_a_folder_that_is_write_protected_is_named_so(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with write_protected(show):
        assert main(["shoot", str(show), "1"]) == 1
    assert "is write-protected, or its folder or disk is" in capsys.readouterr().err


def test_looking_at_the_log_leaves_none_where_none_was(show: Path) -> None:
    assert log_to_use(show, None) is None
    assert log_to_use(show, show / "other.sqlite") == str(show / "other.sqlite")
    assert [path.name for path in show.iterdir()] == ["show.yaml"]


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(("answer", "is_taken"), [("y\n", True), ("n\n", False), ("\n", False), ("", False)])
def test_at_a_terminal_it_is_asked_whether_to_log_elsewhere(
    show: Path, answer: str, is_taken: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = Terminal()
    monkeypatch.setattr(sys, "stdin", Terminal(answer))
    monkeypatch.setattr(sys, "stderr", said)
    with rubbish(show / "takes.sqlite"):
        if is_taken:
            assert log_to_use(show, None) == str((show / "takes-elsewhere.sqlite").resolve())
        else:
            with pytest.raises(Refusal, match="is no file of takes"):
                log_to_use(show, None)
    assert f"log to {show / 'takes-elsewhere.sqlite'} instead? y or n: " in said.getvalue()


def test_the_screen_opens_without_a_log_and_says_so(show: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with rubbish(show / "takes.sqlite"):
        assert log_if_any(show, None) is None
    assert "rehearsals and looks run without it; takes are refused until it is mended" in capsys.readouterr().err


def test_shoot_says_while_a_take_rolls_that_its_log_waits_and_the_take_keeps_why(show: Path) -> None:
    (show / "show.yaml").write_text(SHOW.replace("0.5 s", "3 s"), encoding="utf-8")
    with started("shoot", show, "1", "--no-countdown") as shot:
        read_until(shot.stderr, "rolling")
        with locked(show / "takes.sqlite"):
            read_until(shot.stderr, "log: takes.sqlite is locked by another program; ")
            read_until(shot.stderr, "packets kept in memory")
        code, out, _ = finished(shot)
    assert code == 0, out
    assert "had to wait: takes.sqlite is locked by another program" in out
    with TakeStore(show) as store:
        (take,) = store.takes()
        assert (take.status, take.packets_sent) == (Status.COMPLETE, 61)
        assert sum(len(numbers) for numbers, _ in store.blocks(take)) == 61
    assert "had to wait" in take.log
