"""Waiting for a state: never for a time, and never without an end."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TypeVar

from textual.pilot import Pilot

LONGEST_WAIT_S = 60
"""When something that never comes is given up. It is long: some machines are busy with much else."""
LOOK_S = 0.01
T = TypeVar("T")


def wait_until(is_so: Callable[[], T], what: str = "what was waited for", longest_s: float = LONGEST_WAIT_S) -> T:
    """Return what a condition gives as soon as that is true."""
    end_s = time.monotonic() + longest_s
    while not (found := is_so()):
        assert time.monotonic() < end_s, f"{what} never came"
        time.sleep(LOOK_S)
    return found


async def wait_on_screen(pilot: Pilot[None], is_so: Callable[[], T], what: str = "what was waited for") -> T:
    """Return what a condition gives as soon as that is true, and the screen has shown it."""
    end_s = time.monotonic() + LONGEST_WAIT_S
    while not (found := is_so()):
        assert time.monotonic() < end_s, f"{what} never came; the screen shows {pilot.app.screen}"
        await pilot.pause(LOOK_S)
    await pilot.pause()
    return found
