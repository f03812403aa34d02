"""Pictures of the screen in fixed sizes."""

from __future__ import annotations

from typing import Any

import pytest
from textual.pilot import Pilot

from cuedeck.clock import ManualClock
from cuedeck.tui.app import CuedeckApp
from cuedeck.tui.look import LIGHT
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
