"""A folder that came from elsewhere: what lies in it is neither believed, nor followed, nor waited for."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from cuedeck.draft.splices import Splice
from cuedeck.errors import Refusal
from cuedeck.folder.calibrations import CalibrationFile
from cuedeck.folder.draft_files import DraftFiles, DraftNotice
from cuedeck.folder.inside import Foreign, open_own, own_path
from cuedeck.folder.journal import FOLDER, Journal, LeftBehind, Record, left_behind
from cuedeck.folder.origin import Origin
from cuedeck.folder.saving import SaveRefused, save_files
from cuedeck.folder.versions import list_versions
from cuedeck.rig.calibration import FULL, Calibration
from cuedeck.takes.store import TakeStore
from cuedeck.takes.trouble import TakesUnreadable
from tests.folder.spoiled import ANSWERS, ENDLESS, HOSTILE, NAME, SHOW, SPOILED, Terminal, commanding, contents, whole
from tests.tui.shows import RIG, SHOTS

ROOT = Path(__file__).parents[2]
TEXT = "# Mine.\n" + RIG + SHOTS
EDITED = TEXT.replace("# Mine.", "# Theirs.")
IMPOSSIBLE = (
    "2026-13-45T99-99-99.000000Z.yaml",
    "0000-01-01T00-00-00.000000Z.yaml",
    "9999-12-31T23-59-59.999999Z.yaml",
    "2026-02-30T00-00-00.000000Z\x1b]52;c;aGk=\x07.yaml",
    "２０２６-11-25T12-00-00.000000Z.yaml",
)


@pytest.fixture
def show(tmp_path: Path) -> Path:
    folder = tmp_path / "show"
    folder.mkdir()
    (folder / "show.yaml").write_text(TEXT, encoding="utf-8")
    return folder


# Versions.


def save_edited(show: Path) -> None:
    save_files(show, {"show.yaml": EDITED.encode()}, {"show.yaml": TEXT.encode()})


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_a_version_with_an_impossible_date_does_not_break_a_save(show: Path, name: str) -> None:
    place = show / ".versions" / "show.yaml"
    place.mkdir(parents=True)
    (place / name).write_text("theirs", encoding="utf-8")
    save_edited(show)
    assert [path.read_text(encoding="utf-8") for path in list_versions(show, "show.yaml")] == [TEXT]
    assert (place / name).read_text(encoding="utf-8") == "theirs"


@pytest.mark.parametrize("make", [Path.mkdir, os.mkfifo, lambda path: path.symlink_to("/etc/hostname")])
def test_what_is_no_file_among_the_versions_does_not_break_a_save(show: Path, make: Callable[[Path], None]) -> None:
    place = show / ".versions" / "show.yaml"
    place.mkdir(parents=True)
    for day in range(10, 30):  # more than are kept, and newer than any
        make(place / f"2126-11-{day}T12-00-00.000000Z.yaml")
    save_edited(show)
    assert [path.read_text(encoding="utf-8") for path in list_versions(show, "show.yaml")] == [TEXT]
    assert len(list(place.iterdir())) == 21


@pytest.mark.parametrize("link", [".versions", ".versions/show.yaml"])
def test_versions_are_not_kept_through_a_link(show: Path, tmp_path: Path, link: str) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (show / link).parent.mkdir(exist_ok=True)
    (show / link).symlink_to(outside, target_is_directory=True)
    with pytest.raises(SaveRefused, match=r"show.yaml was not saved.*is a link, which is not followed: put the"):
        save_edited(show)
    assert contents(outside) == {}
    assert (show / "show.yaml").read_text(encoding="utf-8") == TEXT


def test_a_file_that_became_a_pipe_is_not_waited_for(show: Path) -> None:
    (show / "show.yaml").unlink()
    os.mkfifo(show / "show.yaml")
    with pytest.raises(SaveRefused, match="is a pipe or a device now"):
        save_edited(show)


# Journals.


def journal_of(show: Path) -> Path:
    """Leave a journal that changes the first line of the show."""
    journal = Journal(show, {"show.yaml": TEXT})
    journal.add(Record("theirs", (Splice("show.yaml", 2, "Mine", "Theirs"),), []))
    journal.close()
    return journal.path


def rewritten(journal: Path, change: Callable[[dict[str, Any]], object]) -> None:
    """Change the first line of a journal."""
    head, rest = journal.read_text(encoding="utf-8").split("\n", 1)
    data = json.loads(head)
    change(data)
    journal.write_text(json.dumps(data) + "\n" + rest, encoding="utf-8")


class Asked:
    """Somebody who is asked, and answers."""

    def __init__(self, answer: bool) -> None:
        self.answer = answer
        self.words: list[str] = []

    def __call__(self, left: LeftBehind) -> bool:
        self.words += left.words()
        return self.answer


def recovered(show: Path, asked: Asked) -> str:
    """Open a show as a window does, and return its text as it is edited then."""
    files = DraftFiles(show)
    files.open()
    files.recover(asked)
    opened = files.open()
    files.end()
    return opened.source.files["show.yaml"].decode()


def test_a_journal_of_ones_own_is_made_again_unasked(show: Path) -> None:
    journal_of(show)
    asked = Asked(answer=False)
    assert recovered(show, asked) == EDITED
    assert asked.words == []


def test_a_journal_of_ones_own_is_made_again_in_a_folder_that_was_renamed(show: Path) -> None:
    journal_of(show)
    asked = Asked(answer=False)
    assert recovered(show.rename(show.with_name("other name")), asked) == EDITED
    assert asked.words == []


def test_a_journal_that_came_with_a_copied_folder_is_not_made_unasked(show: Path) -> None:
    name = journal_of(show).name
    copied = Path(shutil.copytree(show, show.with_name("copied")))
    asked = Asked(answer=False)
    assert recovered(copied, asked) == TEXT
    assert (copied / FOLDER / name).exists()
    said = "\n".join(asked.words)
    assert f"{FOLDER}/{name} holds edits that are not saved, and were not made here: by " in said
    assert f"in {show.resolve()}, just now" in said
    assert "they change show.yaml:\n    - Mine\n    + Theirs" in said


def test_a_journal_that_came_with_a_copied_folder_is_made_where_that_is_wanted(show: Path) -> None:
    journal_of(show)
    copied = Path(shutil.copytree(show, show.with_name("copied")))
    assert recovered(copied, Asked(answer=True)) == EDITED


@pytest.mark.parametrize(
    "origin",
    [
        None,
        [],
        {"user": "\x1b]0;x\x07", "computer": "elsewhere", "folder": "/x", "inode": 1, "began_utc": "2026-11-01"},
        {"user": 1, "computer": 2, "folder": 3, "inode": True, "began_utc": None},
    ],
)
def test_a_journal_of_nobody_known_is_asked_for(show: Path, origin: Any) -> None:
    rewritten(journal_of(show), lambda head: head.update(origin=origin))
    asked = Asked(answer=False)
    assert recovered(show, asked) == TEXT
    assert asked.words
    assert all(line.isprintable() for line in asked.words)


def test_an_origin_is_ones_own_where_two_of_three_say_that_the_folder_is(tmp_path: Path) -> None:
    here = Origin.here(tmp_path)
    assert here.is_that_of(replace(here, computer="renamed"))
    assert here.is_that_of(replace(here, folder="/moved"))
    assert here.is_that_of(replace(here, inode=here.inode + 1))
    assert not here.is_that_of(replace(here, user=f"not {here.user}"))
    assert not here.is_that_of(replace(here, folder="/copied", inode=here.inode + 1))
    assert not here.is_that_of(replace(here, computer="other", inode=here.inode + 1))
    assert not here.is_that_of(replace(here, computer="other", folder="/other"))


def in_terminal(base: Path, words: list[str], answer: bytes) -> bytes:
    """Run a command in a terminal, answer what it asks, leave, and return what it drew."""
    terminal = Terminal(words, base)
    code = terminal.run([(b"y or n", answer), *ANSWERS[1:]], 60)
    terminal.end()
    assert code == 0
    assert commanding(terminal.drawn) == []
    return terminal.drawn


@pytest.mark.parametrize(("answer", "is_made"), [(b"n\n", False), (b"y\n", True)])
def test_open_asks_before_it_makes_the_edits_of_somebody_else(tmp_path: Path, answer: bytes, is_made: bool) -> None:
    whole(tmp_path / "first")
    journal = Journal(tmp_path / "first", {"show.yaml": SHOW})
    journal.add(Record(HOSTILE, (Splice("show.yaml", SHOW.index("reveal"), "reveal", "of theirs"),), []))
    journal.close()
    journal.path.rename(journal.path.with_name(f"{NAME}.journal"))
    shutil.copytree(tmp_path / "first", tmp_path / "copied")
    drawn = in_terminal(tmp_path, ["open", "copied"], answer).decode()
    assert "holds edits that are not saved, and were not made here: by " in drawn
    assert "they change show.yaml:\r\n    - reveal\r\n    + of theirs" in drawn
    assert ("1 of theirs" in drawn) == is_made
    (left,) = (tmp_path / "copied" / FOLDER).glob("*.journal")
    assert (left.name == f"{NAME}.journal") == (not is_made)
    assert (tmp_path / "copied" / "show.yaml").read_text(encoding="utf-8") == SHOW


def test_a_window_that_looks_on_neither_asks_nor_makes_them(tmp_path: Path) -> None:
    whole(tmp_path / "show")
    SPOILED["a journal of somebody else"](tmp_path / "show", tmp_path)
    before = contents(tmp_path / "show" / FOLDER)
    assert b"y or n" not in in_terminal(tmp_path, ["open", "show", "--watch"], b"y\n")
    assert contents(tmp_path / "show" / FOLDER) == before


def test_no_spoiled_folder_stops_or_misleads_a_command_or_is_left_by_it() -> None:
    """Every folder of `tests/folder/spoiled.py` with three commands; run as a program, it tries all of them."""
    command = [sys.executable, "-m", "tests.folder.spoiled", "check", "takes", "open"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT, timeout=1200)
    *wrong, total = done.stdout.splitlines()
    assert total.endswith(" wrong"), done.stderr
    assert wrong == []


DEEP = "[" * 100_000


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\0",
        DEEP,
        "[]",
        '{"cuedeck draft": 1, "base": []}',
        '{"cuedeck draft": 1, "base": {}}\n' + DEEP,
        '{"cuedeck draft": 1, "base": {}}\n{"step": "x", "splices": [[1, 2, 3, 4]], "nudges": null}',
        '{"cuedeck draft": 1, "base": {}}\n{"step": "x", "splices": [["a", 1.5, "", 7]], "nudges": null}',
        '{"cuedeck draft": 1, "base": {}}\n{"step": "x", "splices": {"a": 1}, "nudges": null}',
        '{"cuedeck draft": 1, "base": {"show.yaml": "\\ud800"}}',
        '{"cuedeck draft": 1, "base": {}}\n{"step": "\\ud800", "splices": [], "nudges": null}',
        '{"cuedeck draft": 1, "base": {}}\n[]',
        '{"cuedeck draft": 1, "base": {}}\n1',
        "1" * 5_000,
    ],
    ids=lambda text: text[:40].encode().hex(),
)
def test_a_journal_of_nonsense_changes_nothing(show: Path, text: str) -> None:
    (show / FOLDER).mkdir()
    path = show / FOLDER / "odd.journal"
    path.write_text(text, encoding="utf-8")
    assert recovered(show, Asked(answer=True)) == TEXT


def test_half_a_character_in_a_journal_ends_it_where_it_stands(show: Path) -> None:
    """No file can hold one, so the journal that takes its place could not be written."""
    path = journal_of(show)
    with path.open("a", encoding="utf-8") as file:
        file.write('{"step": "x", "splices": [], "nudges": [["edges", "\\ud800", {"level": "50 %"}]]}\n')
    assert recovered(show, Asked(answer=False)) == EDITED
    assert not path.exists()


def heard_of(show: Path) -> str:
    """Open a show as a window does, and return what is told."""
    told: list[str] = []
    files = DraftFiles(show)
    files.open()
    files.recover()
    files.begin(lambda news: told.append(news.what) if isinstance(news, DraftNotice) else None)
    files.settle()
    files.end()
    return "\n".join(told)


@pytest.mark.parametrize("make", [os.mkfifo, lambda path: path.symlink_to("/etc/hostname"), Path.mkdir])
def test_a_journal_that_is_no_file_is_neither_opened_nor_waited_for(show: Path, make: Callable[[Path], None]) -> None:
    (show / FOLDER).mkdir()
    make(show / FOLDER / "odd.journal")
    assert f"{FOLDER}/odd.journal in {show} is a" in heard_of(show)


def test_journals_are_neither_read_nor_written_through_a_link(show: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    journal_of(show)
    (show / FOLDER).rename(outside)
    (show / FOLDER).symlink_to(outside, target_is_directory=True)
    before = contents(outside)
    assert list(left_behind(show)) == []
    with pytest.raises(Foreign, match="link, which is not followed"):
        Journal(show, {})
    assert f"{FOLDER} in {show} is a link, which is not followed: put the" in heard_of(show)
    assert contents(outside) == before


# Takes and calibrations.


@pytest.mark.parametrize("name", ["takes.sqlite", "takes.sqlite-wal", "takes.sqlite-shm", "takes.sqlite-journal"])
@pytest.mark.parametrize("make", [os.mkfifo, lambda path: path.symlink_to("/etc/hostname"), Path.mkdir])
@pytest.mark.parametrize("create", [False, True])
def test_takes_that_are_no_file_are_refused(show: Path, name: str, make: Callable[[Path], None], create: bool) -> None:
    TakeStore(show, create=True).close()
    (show / name).unlink(missing_ok=True)
    make(show / name)
    with pytest.raises(TakesUnreadable, match=rf"{name} in .* is a .*: (put|move)"):
        TakeStore(show, create=create)


def test_takes_that_never_end_are_refused(show: Path) -> None:
    """A view in place of the table would be read for ever."""
    TakeStore(show, create=True).close()
    database = sqlite3.connect(show / "takes.sqlite")
    database.executescript(f"drop table packets; drop table take; {ENDLESS}")
    database.close()
    for create in (False, True):
        with pytest.raises(TakesUnreadable, match="holds something other than takes"):
            TakeStore(show, create=create)


def test_takes_are_not_written_where_a_link_leads_that_hangs(show: Path, tmp_path: Path) -> None:
    (show / "takes.sqlite").symlink_to(tmp_path / "made.sqlite")
    with pytest.raises(TakesUnreadable, match="a link, which is not followed"):
        TakeStore(show, create=True)
    assert not (tmp_path / "made.sqlite").exists()


@pytest.mark.parametrize("link", [".calibration", ".calibration/key.yaml"])
def test_readings_are_not_kept_through_a_link(show: Path, tmp_path: Path, link: str) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (show / link).parent.mkdir(exist_ok=True)
    (show / link).symlink_to(outside / ("key.yaml" if link.endswith("yaml") else ""))
    with pytest.raises(Refusal, match="a link, which is not followed"):
        CalibrationFile(show, "key").save(Calibration((FULL,)))
    assert contents(outside) == {}


def test_a_file_that_becomes_a_link_before_it_is_opened_is_not_followed(tmp_path: Path) -> None:
    """The system itself refuses it, whatever was there when it was looked at."""
    (tmp_path / "real").write_text("mine", encoding="utf-8")
    (tmp_path / "link").symlink_to("real")
    with pytest.raises((Foreign, OSError)):
        os.close(open_own(tmp_path, tmp_path / "link", os.O_RDWR | os.O_TRUNC))
    assert (tmp_path / "real").read_text(encoding="utf-8") == "mine"
    assert own_path(tmp_path, "real") == tmp_path / "real"
