"""Edits that are not saved, on a real disk: journals, and the text that follows the steps."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from cuedeck.draft.cues import lengthen_fade
from cuedeck.draft.draft import Draft, files_of
from cuedeck.draft.splices import Splice
from cuedeck.folder.draft_files import DraftFiles
from cuedeck.folder.draft_news import DraftNews, NotSaved, Saved, ShowChecked, StepRefused
from cuedeck.folder.folder import ShowFolder
from cuedeck.folder.journal import FOLDER, Journal, Record, left_behind
from tests.tui.shows import RIG, SHOTS

TEXT = "# Mine.\n" + RIG + SHOTS


def test_a_journal_that_nobody_writes_is_read_with_every_step(tmp_path: Path) -> None:
    journal = Journal(tmp_path, {"show.yaml": "fade: 1 s"})
    journal.add(Record("longer", (Splice("show.yaml", 6, "1", "2"),), []))
    journal.add(Record("longer still", (Splice("show.yaml", 6, "2", "3\u2028"),), [["a", "b", {"level": "out"}]]))
    assert list(left_behind(tmp_path)) == []
    journal.close()
    (left,) = left_behind(tmp_path)
    assert left.texts == {"show.yaml": "fade: 3\u2028 s"}
    assert left.base == {"show.yaml": "fade: 1 s"}
    assert list(left.names) == ["longer", "longer still"]
    assert left.nudges == [["a", "b", {"level": "out"}]]


def test_a_line_that_was_not_written_to_its_end_is_left_out(tmp_path: Path) -> None:
    """The machine went out: what stands before it counts."""
    journal = Journal(tmp_path, {"show.yaml": "fade: 1 s"})
    journal.add(Record("longer", (Splice("show.yaml", 6, "1", "2"),), None))
    journal.close()
    with journal.path.open("a", encoding="utf-8") as file:
        file.write('{"step": "half a')
    (left,) = left_behind(tmp_path)
    assert left.texts == {"show.yaml": "fade: 2 s"}


def test_a_file_that_is_no_journal_stays_where_it_is(tmp_path: Path) -> None:
    (tmp_path / FOLDER).mkdir()
    (tmp_path / FOLDER / "odd.journal").write_text("[]", encoding="utf-8")
    assert list(left_behind(tmp_path)) == []
    assert (tmp_path / FOLDER / "odd.journal").exists()


def test_a_discarded_journal_leaves_nothing_behind(tmp_path: Path) -> None:
    Journal(tmp_path, {}).discard()
    assert not (tmp_path / FOLDER).exists()


class Heard:
    """What the files said."""

    def __init__(self) -> None:
        self.news: list[DraftNews] = []
        self._came = threading.Condition()

    def __call__(self, news: DraftNews) -> None:
        with self._came:
            self.news.append(news)
            self._came.notify_all()

    def wait_for(self, is_it: Callable[[DraftNews], bool]) -> DraftNews:
        with self._came:
            assert self._came.wait_for(lambda: any(map(is_it, self.news)), 20), self.news
            return next(one for one in self.news if is_it(one))


@pytest.fixture
def heard() -> Heard:
    return Heard()


@pytest.fixture
def files(tmp_path: Path, heard: Heard) -> Iterator[DraftFiles]:
    (tmp_path / "show.yaml").write_text(TEXT, encoding="utf-8", newline="")
    one = DraftFiles(tmp_path)
    one.open()
    one.begin(heard)
    yield one
    one.end()


def stretch(files: DraftFiles, draft: Draft) -> None:
    edit = lengthen_fade(draft.opened, "1", "2", Fraction(1, 10))
    where = files_of(draft.opened, edit.changes)
    step = draft.make(edit)
    files.make(step.number, step.name, where, [])


def test_steps_are_undone_and_made_again_in_the_text(tmp_path: Path, files: DraftFiles, heard: Heard) -> None:
    """The text after undo is byte for byte the one before."""
    draft = Draft(files.open())
    stretch(files, draft)
    files.undo(1, "fade", [])
    files.settle()
    checked = [one for one in heard.news if isinstance(one, ShowChecked)][-1]
    assert checked.opened.source.files["show.yaml"] == TEXT.encode()
    assert checked.is_saved
    files.redo(1, "fade", [])
    files.settle()
    checked = [one for one in heard.news if isinstance(one, ShowChecked)][-1]
    assert b"fade: 1.1 s" in checked.opened.source.files["show.yaml"]
    assert not checked.is_saved
    assert (tmp_path / "show.yaml").read_text(encoding="utf-8") == TEXT


def test_a_save_where_the_file_was_changed_outside_is_refused(tmp_path: Path, files: DraftFiles, heard: Heard) -> None:
    draft = Draft(files.open())
    stretch(files, draft)
    files.settle()
    (tmp_path / "show.yaml").write_text(TEXT + "# theirs\n", encoding="utf-8")
    files.save()
    heard.wait_for(lambda news: isinstance(news, NotSaved))
    assert (tmp_path / "show.yaml").read_text(encoding="utf-8") == TEXT + "# theirs\n"
    files.take_in(2)
    files.save()
    heard.wait_for(lambda news: isinstance(news, Saved))
    text = (tmp_path / "show.yaml").read_text(encoding="utf-8")
    assert text.endswith("# theirs\n")
    assert "fade: 1.1 s" in text


def test_a_show_that_cannot_run_is_not_taken_in(tmp_path: Path, files: DraftFiles, heard: Heard) -> None:
    (tmp_path / "show.yaml").write_text(TEXT.replace("type: wash", "type: wish"), encoding="utf-8")
    files.take_in(1)
    refused = heard.wait_for(lambda news: isinstance(news, StepRefused))
    assert isinstance(refused, StepRefused)
    assert "wish" in refused.what


def test_a_show_of_which_one_shot_cannot_run_is_taken_in(tmp_path: Path, files: DraftFiles, heard: Heard) -> None:
    (tmp_path / "show.yaml").write_text(TEXT.replace("look: dusk", "look: dask", 1), encoding="utf-8")
    files.take_in(1)
    taken = heard.wait_for(lambda news: isinstance(news, ShowChecked) and bool(news.opened.errors))
    assert isinstance(taken, ShowChecked)
    assert taken.opened.shots_with_errors == ("1",)


def test_a_player_is_given_the_texts_that_are_not_on_the_disk(tmp_path: Path, files: DraftFiles) -> None:
    """Also where it was another program that has changed the disk. Nothing is written for that."""
    draft = Draft(files.open())
    given: list[dict[str, str]] = []
    files.unsaved([], given.append)
    stretch(files, draft)
    files.unsaved([], given.append)
    files.undo(1, "fade", [])
    files.settle()
    before = sorted(tmp_path.rglob("*"))
    (tmp_path / "show.yaml").write_text(TEXT + "# Theirs.\n", encoding="utf-8")
    files.unsaved([], given.append)
    files.settle()
    assert given[0] == {}
    shown = ShowFolder(tmp_path, {name: text.encode() for name, text in given[1].items()}).open().show
    assert str(shown.shots["1"].cues[1].fade) == "1.1 s"
    assert given[2] == {"show.yaml": TEXT}
    assert sorted(tmp_path.rglob("*")) == before
