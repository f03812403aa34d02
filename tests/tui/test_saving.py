"""Edits of the screen in the files of a real folder: journal, save, another program's changes, a crash."""

from __future__ import annotations

import difflib
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from cuedeck.clock import ManualClock
from cuedeck.draft.nudges import Nudges
from cuedeck.folder.draft_files import DraftFiles
from cuedeck.folder.journal import FOLDER
from cuedeck.tui.app import CuedeckApp
from tests.tui.shows import RIG, SHOTS
from tests.tui.test_app import SMALL, lines_of
from tests.waiting import wait_on_screen

TEXT = "# Mine.\n" + RIG + SHOTS


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "show.yaml").write_text(TEXT, encoding="utf-8")
    return tmp_path


def screen_on(folder: Path) -> CuedeckApp:
    files = DraftFiles(folder)
    saved = files.open()
    recovery = files.recover()
    app = CuedeckApp("small", saved, ManualClock(), files=files)
    if recovery is not None:
        app.recovered(recovery.names, files.open(), Nudges.of_plain(recovery.nudges))
    return app


def changed_lines(folder: Path) -> list[str]:
    now = (folder / "show.yaml").read_text(encoding="utf-8").splitlines()
    diff = difflib.unified_diff(TEXT.splitlines(), now, lineterm="", n=0)
    return [line for line in diff if line[:3] not in ("---", "+++") and line[:2] != "@@"]


async def test_save_writes_only_what_was_edited(folder: Path) -> None:
    """Comments and blanks stay; the mark of what is not saved goes."""
    app = screen_on(folder)
    async with app.run_test(size=SMALL) as pilot:
        app.choose_cue("2")
        await pilot.press("down", "plus")
        assert lines_of(app)[0].startswith(" * small")
        assert changed_lines(folder) == []
        await pilot.press("ctrl+s")
        await wait_on_screen(pilot, lambda: app.said.text == "saved: show.yaml")
        assert changed_lines(folder) == [
            "-      - {cue: 2, at: slide 0 mm, look: edges, fade: 1 s, title: the edges}",
            "+      - {cue: 2, at: slide 0 mm, look: edges, fade: 1.1 s, title: the edges}",
        ]
        await wait_on_screen(pilot, lambda: lines_of(app)[0].startswith(" small"))
        await pilot.press("ctrl+z", "ctrl+s")
        await wait_on_screen(pilot, lambda: changed_lines(folder) == [])
    assert app.end_draft() == []


async def test_what_another_program_saved_is_taken_in_beside_what_was_edited(folder: Path) -> None:
    """Neither is lost, and undo takes back one and then the other."""
    app = screen_on(folder)
    async with app.run_test(size=SMALL) as pilot:
        app.choose_cue("2")
        await pilot.press("down", "plus")
        theirs = TEXT.replace("right: 50 %", "right: 55 %")
        (folder / "show.yaml").write_text(theirs, encoding="utf-8")
        await wait_on_screen(pilot, lambda: str(app.draft.opened.show.looks["edges"].fixtures["right"].level) == "55 %")
        assert str(app.draft.opened.show.shots["1"].cues[1].fade) == "1.1 s"
        await pilot.press("ctrl+s")
        await wait_on_screen(pilot, lambda: "fade: 1.1 s" in (folder / "show.yaml").read_text(encoding="utf-8"))
        assert "right: 55 %" in (folder / "show.yaml").read_text(encoding="utf-8")
    app.end_draft()


async def test_the_same_value_changed_twice_is_refused_until_it_is_said_who_is_right(folder: Path) -> None:
    """The file of the other program is never written over."""
    app = screen_on(folder)
    async with app.run_test(size=SMALL) as pilot:
        app.choose_cue("2")
        await pilot.press("down", "plus")
        theirs = TEXT.replace("look: edges, fade: 1 s", "look: edges, fade: 4 s")
        (folder / "show.yaml").write_text(theirs, encoding="utf-8")
        await wait_on_screen(pilot, lambda: app.is_contested)
        assert "shot 1, cue 2, fade" in app.said.text
        await pilot.press("ctrl+s")
        await wait_on_screen(pilot, lambda: "say who is right" in app.said.text)
        assert (folder / "show.yaml").read_text(encoding="utf-8") == theirs
        assert "use mine" in [command.title for command in app.get_system_commands(app.screen)]
        app.action_use("ours")
        await wait_on_screen(pilot, lambda: not app.is_contested)
        await pilot.press("ctrl+s")
        await wait_on_screen(pilot, lambda: "fade: 1.1 s" in (folder / "show.yaml").read_text(encoding="utf-8"))
    app.end_draft()


async def test_what_was_not_saved_is_there_again_with_its_nudges(folder: Path) -> None:
    """Leaving says so; the next window has it as one step that can be undone."""
    app = screen_on(folder)
    async with app.run_test(size=SMALL) as pilot:
        app.choose_cue("2")
        await pilot.press("down", "plus")
        app.action_to_end()
        app.choose_light("right")
        await pilot.press("right")
    assert app.end_draft() == ["edits not saved yet: the next 'cuedeck open' has them again"]
    again = screen_on(folder)
    async with again.run_test(size=SMALL) as pilot:
        assert str(again.draft.opened.show.shots["1"].cues[1].fade) == "1.1 s"
        assert again.draft.nudges.text_of("edges", "right") == "51 %"
        assert changed_lines(folder) == []
        await pilot.press("ctrl+z")
        assert str(again.draft.opened.show.shots["1"].cues[1].fade) == "1 s"
    again.end_draft()


async def test_a_file_on_the_disk_that_is_broken_is_said_in_the_top_line_and_in_the_list(folder: Path) -> None:
    """Until it is mended; what is seen, edited and undone is the show before it."""
    app = screen_on(folder)
    async with app.run_test(size=SMALL) as pilot:
        app.choose_cue("2")
        await pilot.press("down", "plus", "ctrl+z")
        (folder / "show.yaml").write_text(TEXT + "looks: {\n", encoding="utf-8")
        await wait_on_screen(pilot, lambda: "file on disk broken" in lines_of(app)[0])
        await pilot.press("ctrl+y")
        assert str(app.draft.opened.show.shots["1"].cues[1].fade) == "1.1 s", "undone before, done again after"
        assert app.files is not None
        app.files.settle()
        await pilot.press("exclamation_mark")
        await wait_on_screen(pilot, lambda: any("on the disk · show.yaml:" in line for line in lines_of(app)))
        await pilot.press("escape")
        assert "file on disk broken" in lines_of(app)[0], "an edit that was checked does not mend the file"
        (folder / "show.yaml").write_text(TEXT, encoding="utf-8")
        await wait_on_screen(pilot, lambda: "broken" not in lines_of(app)[0])
        await pilot.press("exclamation_mark")
        await wait_on_screen(pilot, lambda: any("operator cues" in line for line in lines_of(app)))
        assert not any("on the disk" in line for line in lines_of(app))
    app.end_draft()


async def test_a_file_that_is_gone_or_no_text_is_said_too_and_edits_go_on(folder: Path) -> None:
    """The thread that writes edits down outlives both."""
    app = screen_on(folder)
    async with app.run_test(size=SMALL) as pilot:
        (folder / "show.yaml").write_bytes(b"\xff\xfe\x00")
        await wait_on_screen(pilot, lambda: "file on disk broken" in lines_of(app)[0])
        (folder / "show.yaml").unlink()
        await wait_on_screen(pilot, lambda: "cannot be read" in app.said.text)
        app.choose_cue("2")
        await pilot.press("down", "plus")
        assert app.files is not None
        app.files.settle()
        assert len(list((folder / FOLDER).glob("*.journal"))) == 1
    app.end_draft()


async def test_what_another_program_changed_is_shown_also_where_a_light_is_nudged_just_then(folder: Path) -> None:
    """A nudge changes no text, so nothing else would have the text read again."""
    app = screen_on(folder)
    async with app.run_test(size=SMALL) as pilot:
        app.action_to_end()
        app.choose_light("right")
        (folder / "show.yaml").write_text(TEXT.replace("left: full", "left: 70 %"), encoding="utf-8")
        app._waits_to_take_in = True
        app._take_in_when_free()
        await pilot.press("right")
        assert app.draft.nudges
        await wait_on_screen(pilot, lambda: str(app.draft.opened.show.looks["edges"].fixtures["left"].level) == "70 %")
    app.end_draft()


KILLED = """
import asyncio, os, signal, sys
from pathlib import Path
from tests.tui.test_saving import screen_on

async def main():
    app = screen_on(Path(sys.argv[1]))
    async with app.run_test(size=(80, 24)) as pilot:
        app.choose_cue("2")
        await pilot.press("down", *["plus"] * 7)
        app.files.settle()
        print("edited", flush=True)
        await asyncio.sleep(60)

asyncio.run(main())
"""


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is of POSIX")
def test_a_window_that_is_killed_loses_nothing(folder: Path) -> None:
    """SIGKILL in the middle of editing: the journal has every step."""
    with subprocess.Popen([sys.executable, "-c", KILLED, str(folder)], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"edited\n"
        process.send_signal(signal.SIGKILL)
    assert len(list((folder / FOLDER).glob("*.journal"))) == 1
    files = DraftFiles(folder)
    files.open()
    recovery = files.recover()
    assert recovery is not None
    assert recovery.names[-1] == "fade of cue 2: 1.7 s"
    assert str(files.open().show.shots["1"].cues[1].fade) == "1.7 s"
    files.end()


async def test_two_windows_do_not_take_each_others_edits(folder: Path) -> None:
    """A journal that is being written belongs to its window."""
    one = screen_on(folder)
    async with one.run_test(size=SMALL) as pilot:
        one.choose_cue("2")
        await pilot.press("down", "plus")
        assert one.files is not None
        one.files.settle()
        other = DraftFiles(folder)
        other.open()
        assert other.recover() is None
        other.end()
    one.end_draft()


async def test_an_edit_that_the_file_does_not_allow_is_taken_back_and_said(folder: Path) -> None:
    """Here a value that two places share."""
    shared = TEXT.replace("edges: {left: full, right: 50 %}", "edges: &pair {left: full, right: 50 %}\n  more: *pair")
    (folder / "show.yaml").write_text(shared, encoding="utf-8")
    app = screen_on(folder)
    async with app.run_test(size=SMALL) as pilot:
        app.action_to_end()
        app.choose_light("right")
        await pilot.press("right", "k")
        await wait_on_screen(pilot, lambda: "is shared" in app.said.text)
        await wait_on_screen(pilot, lambda: str(app.draft.opened.show.looks["edges"].fixtures["right"].level) == "50 %")
    app.end_draft()


async def test_edits_that_are_there_again_count_as_not_saved(folder: Path) -> None:
    """The mark at the top says so, and a save writes them."""
    app = screen_on(folder)
    async with app.run_test(size=SMALL) as pilot:
        app.choose_cue("2")
        await pilot.press("down", "plus")
    app.end_draft()
    again = screen_on(folder)
    async with again.run_test(size=SMALL) as pilot:
        assert again.files is not None
        again.files.settle()
        await pilot.pause()
        assert lines_of(again)[0].startswith(" * small")
        assert not again.draft.is_saved
        await pilot.press("ctrl+s")
        await wait_on_screen(pilot, lambda: "fade: 1.1 s" in (folder / "show.yaml").read_text(encoding="utf-8"))
        await wait_on_screen(pilot, lambda: again.draft.is_saved)
    assert again.end_draft() == []
    assert not (folder / FOLDER).exists()
