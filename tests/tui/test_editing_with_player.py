"""Edits and nudges with a real player: what is seen stands on the line, runs there, and is what is taken."""

from __future__ import annotations

import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from cuedeck.clock import MonotonicClock
from cuedeck.folder.draft_files import DraftFiles
from cuedeck.tui.app import CuedeckApp
from tests.tui.test_player import SMALL, Screen, show, statuses

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and pseudo-terminals are those of POSIX")
__all__ = ["show"]


@asynccontextmanager
async def editing(folder: Path, *to: str) -> AsyncIterator[Screen]:
    files = DraftFiles(folder)
    app = CuedeckApp("small", files.open(), MonotonicClock(), None, folder=folder, to=to, files=files)
    async with app.run_test(size=SMALL) as pilot:
        yield Screen(app, pilot)
    app.leave_player("small", holds=False)
    app.end_draft()


@pytest.fixture
def folder(show: Path) -> Path:
    return show


async def test_a_nudge_stands_on_the_line_as_soon_as_it_is_made(folder: Path) -> None:
    """The slot of the key goes from 50 % (128) to 60 % (153): floor(255 x 0.6 + 1/2)."""
    async with editing(folder, "simulator") as screen:
        await screen.pilot.press("end")
        await screen.until_line_holds(b"\xff\xff")
        screen.app.go_to(screen.rehearsal.playhead.length_s * 0)
        await screen.until_line_holds(b"\x80\x00")
        screen.app.choose_light("key")
        await screen.pilot.press("shift+right")
        await screen.until_line_holds(b"\x99\x00")
        await screen.pilot.press("f")
        await screen.until_line_holds(b"\x80\x00")
        await screen.pilot.press("i", "f")
        await screen.until_line_holds(b"\x99\x00")


async def test_a_run_on_the_line_has_the_edits_and_nudges_that_are_not_saved(folder: Path) -> None:
    """The file is as it was meanwhile."""
    async with editing(folder, "simulator") as screen:
        before = (folder / "show.yaml").read_bytes()
        await screen.pilot.press("3")
        screen.app.choose_light("key")
        await screen.pilot.press("shift+left")
        await screen.pilot.press("escape", "space")
        await screen.until(lambda: "rehearsal rolls" in screen.text)
        await screen.until_line_holds(b"\xe6\xff")  # 90 % of 255 is 229.5, rounded up
        assert (folder / "show.yaml").read_bytes() == before
        await screen.pilot.press("space")


async def test_a_take_saves_first_what_was_edited(folder: Path) -> None:
    """So that it can be rendered again from the file."""
    async with editing(folder) as screen:
        await screen.pilot.press("3")
        screen.app.choose_cue("1")
        await screen.pilot.press("down", "plus", "t")
        await screen.until(lambda: b"fade: 0.1 s" in (folder / "show.yaml").read_bytes())
        await screen.until_rolling("3-A")
        assert screen.app.draft.is_saved
        assert screen.app.check_action("drag_cue", (1,)) in (None, False)
        await screen.pilot.press("s")
        await screen.until(lambda: statuses(folder) == [("3-A", "cut")])


async def test_a_shot_with_an_error_is_shown_and_never_lights_anything_and_the_others_run(folder: Path) -> None:
    """Shot 1 cannot run, shot 3 does: on the line, and as a take. Shot 2 cannot even be read, and edits go on."""
    text = (folder / "show.yaml").read_text(encoding="utf-8")
    text = text.replace("look: up, fade: 0.3 s", "look: upp, fade: 0.3 s").replace("length: 600 s", "lengthy: [600 s]")
    (folder / "show.yaml").write_text(text.replace('"4":', f'"{"4" * 90}":'), encoding="utf-8")
    async with editing(folder, "simulator") as screen:
        assert "problems, see !" in screen.text
        for keys in (("1", "space"), ("end",), ("t",)):
            await screen.pilot.press(*keys)
            await screen.until(lambda: "shot 1 has errors, so its light would be wrong: ! lists them" in screen.text)
        assert screen.rehearsal.playhead.is_running is False
        await screen.pilot.press("3")
        screen.app.choose_cue("1")
        await screen.pilot.press("down", "plus", "ctrl+s")
        await screen.until(lambda: b"fade: 0.1 s" in (folder / "show.yaml").read_bytes())
        await screen.pilot.press("escape", "space")
        await screen.until(lambda: "rehearsal rolls" in screen.text)
        await screen.pilot.press("space")
        await screen.until(lambda: screen.app.can_ask("take"))
        await screen.pilot.press("t")
        await screen.until_rolling("3-A")
        await screen.pilot.press("s")
        await screen.until(lambda: statuses(folder) == [("3-A", "cut")])
