"""Pictures of the screen in fixed sizes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.theme import Theme

from cuedeck.clock import ManualClock
from cuedeck.player.channel.events import LastTake, OutputState, Snapshot, packed
from cuedeck.report.lanes import LaneScale
from cuedeck.tui.app import CuedeckApp
from cuedeck.tui.look import LIGHT, NIGHT, PLAIN
from cuedeck.tui.player_line import PlayerNews
from cuedeck.tui.player_link import News, Reached
from cuedeck.tui.shot_view import ShotView
from tests.tui.shows import opened

SMALL, LARGE = (80, 24), (120, 40)


def screen() -> CuedeckApp:
    return CuedeckApp("small", opened(), ManualClock(), lambda shot: f"{shot}-C")


@pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])
def test_the_middle_of_a_shot(snap_compare: Any, size: tuple[int, int]) -> None:
    """One light full, one at half, the rider right of the product, the next cue named."""
    keys = ["home", *["shift+right"] * 7, *["right"] * 6]
    assert snap_compare(screen(), press=keys, terminal_size=size)


def test_a_shot_that_waits_for_its_operator(snap_compare: Any) -> None:
    """It has no move, and runs."""
    assert snap_compare(screen(), press=["2", "space"], terminal_size=SMALL)


def test_the_list_of_keys(snap_compare: Any) -> None:
    """Over the screen."""
    assert snap_compare(screen(), press=["question_mark"], terminal_size=SMALL)


def test_the_light_theme(snap_compare: Any) -> None:
    """Ink on paper."""

    async def lighten(pilot: Pilot[None]) -> None:
        pilot.app.theme = LIGHT.name
        await pilot.press("end")

    assert snap_compare(screen(), run_before=lighten, terminal_size=SMALL)


@pytest.mark.parametrize("theme", [NIGHT, PLAIN], ids=["night", "plain"])
def test_the_themes_for_a_dark_set_and_for_16_colours(snap_compare: Any, theme: Theme) -> None:
    """Embers, and the terminal's own colours."""

    async def change(pilot: Pilot[None]) -> None:
        pilot.app.theme = theme.name
        await pilot.press("end")

    assert snap_compare(screen(), run_before=change, terminal_size=SMALL)


@pytest.mark.parametrize("scale", [LaneScale.STOPS, LaneScale.LIGHT], ids=["stops", "light"])
@pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])
def test_lanes_of_light(snap_compare: Any, size: tuple[int, int], scale: LaneScale) -> None:
    """The scale is said where the time is."""

    async def change(pilot: Pilot[None]) -> None:
        await pilot.press("end")
        pilot.app.query_one(ShotView).scale = scale

    assert snap_compare(screen(), run_before=change, terminal_size=size)


OUTPUTS = (
    OutputState(name="serial:/dev/line", is_lost=True, why="it was pulled"),
    OutputState(name="sacn", refresh_hz=40.0),
)
ROLLING = Snapshot(
    state="rolling",
    shot="1",
    slate="1-C",
    packet=84,
    packet_count=161,
    time_s=2.1,
    controller=1,
    has_control=True,
    late_ms=2.34,
    outputs=OUTPUTS,
    universes=(1,),
    slots=packed(opened().plan("1").timeline().slots([84]).tobytes()),
)


@pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])
def test_a_take_that_rolls(snap_compare: Any, tmp_path: Path, size: tuple[int, int]) -> None:
    """With an output that is lost."""
    assert snap_compare(followed(tmp_path), run_before=saying(ROLLING), terminal_size=size)


def test_a_blackout_and_a_take_that_was_missed(snap_compare: Any, tmp_path: Path) -> None:
    """Black on the line, and a notice that stays."""
    missed = LastTake(slate="1-B", status="complete", was_watched=False)
    holding = Snapshot(state="holding", is_blacked_out=True, last_take=missed, outputs=OUTPUTS[1:])
    said = (Reached(1, follows_gone=False), holding)
    assert snap_compare(followed(tmp_path), run_before=saying(*said), terminal_size=SMALL)


def followed(folder: Path) -> CuedeckApp:
    """Return a screen with the player of a folder, which does not run."""
    return CuedeckApp("small", opened(), ManualClock(), lambda shot: f"{shot}-D", folder=folder)


def saying(*news: News) -> Any:
    """Return what lets a screen hear something of its player."""

    async def say(pilot: Pilot[None]) -> None:
        for one in news:
            pilot.app.post_message(PlayerNews(one))
        await pilot.pause()

    return say
