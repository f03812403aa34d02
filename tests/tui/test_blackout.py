"""Black is at hand on every screen there is, whatever lies over it, and a refusal of it is never silent."""

from __future__ import annotations

import asyncio
import importlib
import os
import pkgutil
import subprocess
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual.command import CommandPalette
from textual.screen import Screen as AnyScreen
from textual.widgets import Input

import cuedeck.tui
from cuedeck.player.channel.client import start_player
from cuedeck.player.channel.requests import Begin, ShowLook
from cuedeck.player.line.blackout_client import blackout_of
from cuedeck.tui.key_screen import KeyScreen
from cuedeck.tui.lists import ListScreen
from cuedeck.tui.rig_screen import RigScreen
from tests.tui.test_player import UP, Screen, command, opened, show
from tests.tui.test_watching import watching

__all__ = ["show"]  # the fixture

pytestmark = pytest.mark.skipif(os.name != "posix", reason="ends players by signals")

ANYWHERE = "ctrl+g"
DARK = b"\x00\x00"
WAYS_IN: dict[type[AnyScreen[object]], tuple[str, ...]] = {
    KeyScreen: ("question_mark",),
    ListScreen: ("n", "ctrl+z", "u"),
    RigScreen: ("p",),
    CommandPalette: ("ctrl+p",),
}
"""How each screen that can lie over the shot is opened."""
OVER_OTHERS = {"keys on the rig": ("p", "question_mark"), "the palette on the rig": ("p", "ctrl+p")}
WHERE_LETTERS_ARE_TYPED = {
    "the prompt": ("g",),
    "the prompt of a new cue": ("N",),
    "the prompt on the rig": ("p", "enter"),
    "the palette": ("ctrl+p",),
}


def screens_of_cuedeck() -> set[type[AnyScreen[object]]]:
    """Return every kind of screen that the terminal UI defines."""
    for module in pkgutil.walk_packages(cuedeck.tui.__path__, "cuedeck.tui."):
        importlib.import_module(module.name)
    waiting, found = [AnyScreen], set[type[AnyScreen[object]]]()
    while waiting:
        kinds = waiting.pop().__subclasses__()
        waiting += kinds
        found |= {kind for kind in kinds if kind.__module__.startswith("cuedeck.")}
    return found


def test_every_screen_is_tried() -> None:
    assert screens_of_cuedeck() | {CommandPalette} == set(WAYS_IN)


@asynccontextmanager
async def lit(folder: Path) -> AsyncIterator[Screen]:
    """The screen, with a look of its own on the line."""
    async with opened(folder, "simulator") as screen:
        await screen.until(lambda: screen.player.snapshot is not None)
        await screen.pilot.press("end")
        await screen.until_line_holds(UP)
        yield screen


async def press_and_see_dark(screen: Screen, key: str) -> None:
    await screen.pilot.press(key)
    await screen.until(lambda: screen.player.slots[:2] == DARK)
    assert screen.player.snapshot is not None
    assert screen.player.snapshot.is_blacked_out
    if len(screen.app.screen_stack) > 1:
        await screen.until(lambda: any(text.startswith("BLACKOUT") for text in screen.told))


@pytest.mark.parametrize("key", ["b", ANYWHERE])
@pytest.mark.parametrize("kind", [kind for kind in WAYS_IN if kind is not CommandPalette])
async def test_both_keys_black_out_from_every_screen(show: Path, kind: type[AnyScreen[object]], key: str) -> None:
    async with lit(show) as screen:
        await screen.pilot.press(*WAYS_IN[kind])
        await screen.until(lambda: isinstance(screen.app.screen, kind))
        await press_and_see_dark(screen, key)
        assert isinstance(screen.app.screen, kind)


@pytest.mark.parametrize("keys", OVER_OTHERS.values(), ids=OVER_OTHERS)
async def test_one_key_blacks_out_from_screens_over_screens(show: Path, keys: tuple[str, ...]) -> None:
    async with lit(show) as screen:
        await screen.pilot.press(*keys)
        await screen.until(lambda: len(screen.app.screen_stack) == 3)
        await press_and_see_dark(screen, ANYWHERE)


@pytest.mark.parametrize("keys", WHERE_LETTERS_ARE_TYPED.values(), ids=WHERE_LETTERS_ARE_TYPED)
async def test_where_letters_are_typed_b_is_one_and_the_other_key_is_named_and_blacks_out(
    show: Path, keys: tuple[str, ...]
) -> None:
    async with lit(show) as screen:
        await screen.pilot.press(*keys)
        await screen.until(lambda: isinstance(screen.app.focused, Input))
        field = screen.app.focused
        assert isinstance(field, Input)
        await screen.until(lambda: "ctrl g black" in screen.text)
        field.value = ""
        await screen.pilot.press("b")
        assert field.value == "b"
        assert screen.player.slots[:2] == UP
        await press_and_see_dark(screen, ANYWHERE)
        assert screen.app.focused is field
        assert field.value == "b"


async def test_in_a_show_without_shots_black_is_at_hand_and_can_be_undone(show: Path) -> None:
    with start_player(show) as other:
        other.ask(ShowLook(to=("simulator",), universes=(1,), slots=UP + bytes(510)))
        text = (show / "show.yaml").read_text(encoding="utf-8")
        (show / "show.yaml").write_text(text.partition("shots:")[0], encoding="utf-8")
        async with opened(show) as screen:
            await screen.until(lambda: screen.player.slots[:2] == UP)
            await press_and_see_dark(screen, "b")
            await screen.pilot.press("r")
            await screen.until_line_holds(UP)


@pytest.mark.parametrize("open_screen", [opened, watching], ids=["a window that takes", "a window that looks on"])
async def test_a_blackout_over_another_windows_take_is_given_and_undone_without_control(
    show: Path, open_screen: Callable[[Path], object]
) -> None:
    with start_player(show) as other:
        other.ask(Begin(shot="2", to=("simulator",)))
        async with open_screen(show) as screen:  # type: ignore[attr-defined]
            await screen.until_rolling("2-A")
            await screen.until_line_holds(UP)
            await press_and_see_dark(screen, "b")
            await screen.until(lambda: "r ends blackout" in screen.text and "r lets the light back" in screen.text)
            assert "s stop" not in screen.text, "that needs control"
            await screen.pilot.press("b")
            await screen.until(lambda: any("blacked out already" in text for text in screen.told))
            await screen.pilot.press("r")
            await screen.until_line_holds(UP)
            assert screen.player.is_taking
            assert screen.player.snapshot is not None
            assert not screen.player.snapshot.has_control
            # There is no blackout any more, and the rest needs control.
            await screen.until(lambda: screen.app.check_action("release", ()) is None)
            await screen.pilot.press("r")
            assert screen.player.is_taking


@pytest.mark.parametrize("open_screen", [opened, watching], ids=["a window that takes", "a window that looks on"])
async def test_without_a_player_the_next_one_begins_dark_and_the_next_window_says_so(
    show: Path, open_screen: Callable[[Path], object]
) -> None:
    async with open_screen(show) as screen:  # type: ignore[attr-defined]
        await screen.pilot.press("b")
        await screen.until(lambda: any(text.startswith("no player runs: what goes") for text in screen.told))
    async with opened(show) as screen:
        await screen.until(lambda: "BLACKOUT: what goes to the line begins dark" in screen.text)
    async with opened(show, "simulator") as screen:
        await screen.until(lambda: screen.player.snapshot is not None and screen.player.snapshot.is_blacked_out)
        await screen.until(lambda: "what goes to the line begins dark" not in screen.text)
        await screen.pilot.press("r")
        await screen.until(lambda: screen.player.snapshot is not None and not screen.player.snapshot.is_blacked_out)
    assert blackout_of(show) == (False, "")


async def test_a_blackout_waits_behind_nothing_else_that_was_asked(show: Path) -> None:
    """A take that is being prepared, with an output that takes its time to open, keeps no blackout waiting."""
    async with lit(show) as screen:
        screen.player.run(screen.rehearsal)
        screen.player.ask("stop_take")
        await press_and_see_dark(screen, "b")
        done = await asyncio.to_thread(subprocess.run, command("player", show), capture_output=True, check=True)
        assert b"BLACKOUT" in done.stdout
