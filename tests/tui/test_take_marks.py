"""Circling and rejecting takes and writing notes to them on the screen, with a real file of takes."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from fractions import Fraction
from pathlib import Path

from textual.pilot import Pilot

from cuedeck.clock import ManualClock
from cuedeck.player.channel.events import Ended, Snapshot
from cuedeck.takes.reading import TAKES_FILE
from cuedeck.takes.store import TakeStore
from cuedeck.tui.app import CuedeckApp
from cuedeck.tui.player_line import PlayerNews
from tests.output.ports import FULL
from tests.tui.shows import opened

SMALL = (80, 24)


def shoot(folder: Path, *shots: str) -> None:
    with TakeStore(folder, create=True) as store:
        for shot in shots:
            store.begin(shot, FULL, Fraction(44), 10, ["simulator"])


def marks(folder: Path) -> list[tuple[str, str, str]]:
    with TakeStore(folder) as store:
        return [(take.slate, take.mark.value, take.note) for take in store.takes()]


@asynccontextmanager
async def screen(folder: Path, *, is_watching: bool = False) -> AsyncIterator[tuple[CuedeckApp, Pilot[None]]]:
    app = CuedeckApp(
        "small",
        opened(),
        ManualClock(),
        is_watching=is_watching,
        open_takes=lambda: TakeStore(folder, create=(folder / TAKES_FILE).exists()),
    )
    async with app.run_test(size=SMALL) as pilot:
        yield app, pilot


async def test_o_circles_the_last_take_of_the_shot_on_the_screen_and_takes_the_circle_off(tmp_path: Path) -> None:
    shoot(tmp_path, "1", "1", "2")
    async with screen(tmp_path) as (app, pilot):
        await pilot.press("o")
        assert app.said.text == "take 1-B is circled"
        assert marks(tmp_path) == [("1-A", "", ""), ("1-B", "circled", ""), ("2-A", "", "")]
        await pilot.press("o")
        assert app.said.text == "take 1-B is neither circled nor rejected"
        await pilot.press("o", "x", "2", "o")
        assert marks(tmp_path) == [("1-A", "", ""), ("1-B", "rejected", ""), ("2-A", "circled", "")]


async def test_a_note_is_typed_and_begins_with_the_one_that_is_there(tmp_path: Path) -> None:
    shoot(tmp_path, "1")
    async with screen(tmp_path) as (app, pilot):
        await pilot.press("y", *"soft", "enter")
        assert app.said.text == "note of take 1-A: soft"
        await pilot.press("y", "end", *" end", "enter")
        assert marks(tmp_path) == [("1-A", "", "soft end")]
        await pilot.press("y", *"away", "escape")
        assert marks(tmp_path) == [("1-A", "", "soft end")]


async def test_a_note_goes_to_the_take_that_was_asked_about_though_another_began_meanwhile(tmp_path: Path) -> None:
    shoot(tmp_path, "1")
    async with screen(tmp_path) as (_, pilot):
        await pilot.press("y", *"first")
        shoot(tmp_path, "1")
        await pilot.press("enter")
        assert marks(tmp_path) == [("1-A", "", "first"), ("1-B", "", "")]


async def test_a_note_that_is_refused_stays_to_be_mended(tmp_path: Path) -> None:
    shoot(tmp_path, "1")
    async with screen(tmp_path) as (app, pilot):
        await pilot.press("y")
        app.prompt.query_one("Input").value = "x" * 501  # type: ignore[attr-defined]
        await pilot.press("enter")
        assert app.prompt.is_asking
        await pilot.press("backspace", "enter")
        assert marks(tmp_path) == [("1-A", "", "x" * 500)]


async def test_a_shot_without_a_take_has_none_to_mark_and_no_file_is_made(tmp_path: Path) -> None:
    async with screen(tmp_path) as (app, pilot):
        for key in ("o", "x", "y"):
            await pilot.press(key)
            assert app.said.text == "shot 1 has no take yet: t takes one"
    assert list(tmp_path.iterdir()) == []


async def test_a_window_that_looks_on_marks_nothing(tmp_path: Path) -> None:
    shoot(tmp_path, "1")
    async with screen(tmp_path, is_watching=True) as (app, pilot):
        for action in ("circle", "reject", "note"):
            assert app.check_action(action, ()) is None
        await pilot.press("o", "x", "y", *"no", "enter")
        assert marks(tmp_path) == [("1-A", "", "")]


async def test_the_banner_follows_every_word_of_the_player_and_gives_its_lines_back(tmp_path: Path) -> None:
    clock = ManualClock()
    app = CuedeckApp("small", opened(), clock, folder=tmp_path)
    async with app.run_test(size=SMALL) as pilot:

        async def said(*news: Snapshot | Ended) -> str:
            for one in news:
                app.post_message(PlayerNews(one))
                await pilot.pause()
            return "" if app.banner.said is None else app.banner.said.text

        whole = app.query_one("#below").size.height
        counting = Snapshot(state="counting", shot="1", slate="1-A", counting_s=2.9)
        assert await said(counting) == "3"
        assert await said(counting.changed(counting_s=1.2)) == "2"
        rolling = Snapshot(state="rolling", shot="1", slate="1-A", packet=4, time_s=0.1)
        assert await said(rolling) == "ROLLING 1-A"
        assert app.query_one("#below").size.height < whole
        assert await said(rolling.changed(is_blacked_out=True)) == "BLACKOUT"
        holding = Snapshot(state="holding")
        assert await said(Ended(take=1, slate="1-A"), holding) == "DONE 1-A"
        clock.wait_until_ns(6_000_000_000)
        assert await said(holding) == ""
        assert app.query_one("#below").size.height == whole - 1, "the line about the player stays"
