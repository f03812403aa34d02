"""`cuedeck takes` marks takes, writes notes to them, and lists both."""

from __future__ import annotations

import json
import sqlite3
from fractions import Fraction
from pathlib import Path

import pytest

from cuedeck.cli.main import main
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Status
from tests.output.ports import FULL
from tests.takes.rolled import finish


@pytest.fixture
def show(tmp_path: Path) -> str:
    """A show of which two takes were shot."""
    (tmp_path / "show.yaml").write_text("cuedeck: 1\n", encoding="utf-8")
    with TakeStore(tmp_path, create=True) as store:
        for _ in range(2):
            take = store.begin("1", FULL, Fraction(44), 10, ["simulator"])
            finish(store, take.id, Status.COMPLETE, 10, 10, [], None)
    return str(tmp_path)


def test_takes_are_marked_by_their_slates_and_listed_so(show: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["takes", show, "circle", "1-b"]) == 0
    assert main(["takes", show, "reject", "1-A"]) == 0
    assert main(["takes", show, "note", "1-A", "soft", "at the end"]) == 0
    assert capsys.readouterr().out == (
        "take 1-B is circled\ntake 1-A is rejected\nnote of take 1-A: soft at the end\n"
    )  # fmt: skip
    assert main(["takes", show]) == 0
    heading, first, second = capsys.readouterr().out.splitlines()
    column = slice(heading.index("mark"), heading.index("mark") + 8)
    assert (first[column], second[column]) == ("rejected", "circled ")
    assert first.endswith("  “soft at the end”")
    assert main(["takes", show, "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert [(row["slate"], row["mark"], row["note"]) for row in rows] == [
        ("1-A", "rejected", "soft at the end"), ("1-B", "circled", ""),
    ]  # fmt: skip


def test_a_mark_and_a_note_are_taken_back(show: str, capsys: pytest.CaptureFixture[str]) -> None:
    for words in (["circle", "1-A"], ["note", "1-A", "x"], ["unmark", "1-A"], ["note", "1-A"], ["unnote", "1-A"],
                  ["note", "1-A"]):  # fmt: skip
        assert main(["takes", show, *words]) == 0
    assert capsys.readouterr().out.splitlines()[2:] == [
        "take 1-A is neither circled nor rejected", "note of take 1-A: x", "take 1-A has no note",
        "take 1-A has no note",
    ]  # fmt: skip


@pytest.mark.parametrize("show_file", [None, "cuedeck: [broken"])
def test_takes_are_listed_and_marked_without_a_show_or_beside_one_that_is_broken(
    show: str, show_file: str | None, capsys: pytest.CaptureFixture[str]
) -> None:
    Path(show, "show.yaml").unlink()
    if show_file is not None:
        Path(show, "show.yaml").write_text(show_file, encoding="utf-8")
    for words in ([], ["circle", "1-A"], ["note", "1-A", "x"], ["check"]):
        assert main(["takes", show, *words]) == 0
    assert main(["takes", f"{show}/takes.sqlite"]) == 0
    assert "  “x”" in capsys.readouterr().out


def test_a_note_that_a_locked_file_does_not_take_is_refused(show: str, capsys: pytest.CaptureFixture[str]) -> None:
    locker = sqlite3.connect(Path(show, "takes.sqlite"), isolation_level=None)
    locker.execute("begin exclusive")
    try:
        assert main(["takes", show, "note", "1-A", "x"]) == 1
    finally:
        locker.close()
    assert "is locked by another program" in capsys.readouterr().err


def test_takes_are_marked_in_the_folder_of_the_show(
    show: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(show)
    assert main(["takes", "circle", "1-A"]) == 0
    assert main(["takes", "note", "1-A", "good"]) == 0
    assert capsys.readouterr().out == "take 1-A is circled\nnote of take 1-A: good\n"


def test_a_take_that_is_not_there_is_not_marked(show: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["takes", show, "circle", "1-C"]) == 1
    assert capsys.readouterr().err == "cuedeck: there is no take '1-C': the last ones are 1-A, 1-B\n"


def test_marking_where_nothing_was_shot_leaves_no_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "show.yaml").write_text("cuedeck: 1\n", encoding="utf-8")
    assert main(["takes", str(tmp_path), "reject", "1-A"]) == 1
    assert capsys.readouterr().err == "cuedeck: there is no take '1-A': none has been shot yet\n"
    assert [path.name for path in tmp_path.iterdir()] == ["show.yaml"]


def test_a_note_is_refused_in_words(show: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["takes", show, "note", "1-A", "x" * 501]) == 1
    assert capsys.readouterr().err == "cuedeck: the note has 501 characters: write it in 500 or fewer\n"
