"""A player that is killed at any instant, with its log locked, full, damaged or replaced, loses half a second at most.

CUEDECK_KILLS=200 .venv/bin/pytest tests/player/take/test_log_kills.py
"""

from __future__ import annotations

import os
import random

import pytest

from tests.conftest import KILLS
from tests.player.take.log_kills import FAULTS, killed, outlived
from tests.tools import leave_out_disk

SLACK_MS = 1000
"""On top of half a second, as this machine may be busy. `python -m tests.player.take.log_kills` measures."""


@pytest.mark.skipif(os.name == "nt", reason="SIGKILL is not on Windows")
@pytest.mark.parametrize("number", range(KILLS))
def test_a_kill_costs_half_a_second_at_most_whatever_is_wrong_with_the_log(number: int) -> None:
    fault = list(FAULTS)[number % len(FAULTS)]
    result = killed(fault, random.Random())  # noqa: S311
    if result is None:
        leave_out_disk()
    lost_ms, _ = result
    assert lost_ms < 500 + SLACK_MS


@pytest.mark.skipif(os.name == "nt", reason="a file that is open cannot be moved on Windows")
@pytest.mark.parametrize("ends_in_it", [False, True], ids=["rolls through", "ends in"])
@pytest.mark.parametrize(
    "fault", [pytest.param(fault, marks=[pytest.mark.ordinary_user] * (fault == "protected")) for fault in FAULTS]
)
def test_a_take_that_meets_a_fault_of_its_log_keeps_every_packet(fault: str, ends_in_it: bool) -> None:
    result = outlived(fault, 1.5, ends_in_it=ends_in_it)
    if result is None:
        leave_out_disk()
    sent, kept = result
    assert kept == sent > 44
