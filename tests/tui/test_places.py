"""Pictures of every screen, in three sizes, and in three themes."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any

import pytest
from textual.pilot import Pilot

from cuedeck.clock import ManualClock
from cuedeck.tui.app import CuedeckApp
from cuedeck.tui.look import themes
from tests.tui.shows import RIG, opened
from tests.tui.test_cues import SHOT_OF_TIMES

Way = Callable[[CuedeckApp, "Pilot[None]"], Awaitable[None]]
SIZES = {"80x24": (80, 24), "120x40": (120, 40), "200x50": (200, 50)}
GROUPS = "groups:\n  pair: [left, right]\n"


async def cues(app: CuedeckApp, pilot: Pilot[None]) -> None:
    app.choose_cue("3")
    await pilot.press("down")


async def lights(app: CuedeckApp, pilot: Pilot[None]) -> None:
    app.go_to(app.rehearsal.playhead.length_s * 3 / 10 if app.rehearsal else app.base_speed)
    app.choose_light("right")
    await pilot.press("m", "left", "left")


async def prompt(app: CuedeckApp, pilot: Pilot[None]) -> None:
    app.choose_cue("2")
    await pilot.press("enter", "ctrl+u", *"noon", "enter")


async def rig(_: CuedeckApp, pilot: Pilot[None]) -> None:
    await pilot.press("p", "down", "enter", "ctrl+u", *"3")


async def problems(_: CuedeckApp, pilot: Pilot[None]) -> None:
    await pilot.press("exclamation_mark")


async def steps(app: CuedeckApp, pilot: Pilot[None]) -> None:
    app.choose_cue("2")
    await pilot.press("right", "down", "plus", "d", "ctrl+z", "u")


async def keys(_: CuedeckApp, pilot: Pilot[None]) -> None:
    await pilot.press("tab", "question_mark")


WAYS: dict[str, Way] = {
    "cues": cues,
    "lights": lights,
    "prompt": prompt,
    "rig": rig,
    "problems": problems,
    "steps": steps,
    "keys": keys,
}


def screen() -> CuedeckApp:
    shots = SHOT_OF_TIMES.replace("look: edges, fade: 1 s", "look: edges, fade: 3 s").replace(
        "look: dusk", "look: edges"
    )
    return CuedeckApp("small", opened(shots, RIG + GROUPS), ManualClock(), lambda shot: f"{shot}-C")


def going(way: Way, theme: str = "dark") -> Callable[[Pilot[None]], Awaitable[None]]:
    async def go(pilot: Pilot[None]) -> None:
        app = pilot.app
        assert isinstance(app, CuedeckApp)
        app.theme = themes()[theme][0].name
        await way(app, pilot)
        await pilot.pause()
        await app.workers.wait_for_complete()
        await pilot.pause()
        for line in app.screen.query("Input"):
            line.cursor_blink = False  # type: ignore[attr-defined]

    return go


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES.keys())
@pytest.mark.parametrize("name", WAYS)
def test_a_place(snap_compare: Any, name: str, size: tuple[int, int]) -> None:
    assert snap_compare(screen(), run_before=going(WAYS[name]), terminal_size=size)


@pytest.mark.parametrize("theme", ["light", "night"])
@pytest.mark.parametrize("name", WAYS)
def test_a_place_in_another_theme(snap_compare: Any, name: str, theme: str) -> None:
    assert snap_compare(screen(), run_before=going(WAYS[name], theme), terminal_size=(120, 40))
