"""What priority is asked for, in processes of their own: a test must not change that of the others."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

PROGRAM = """
import os
from cuedeck.player.priority import give_way, go_first, send_first, starting_senders
def said():
    return os.sched_getscheduler(0) == os.SCHED_FIFO, os.sched_getparam(0).sched_priority
print(go_first()); first = said()
with starting_senders():
    starting = said()
after = said(); send_first(); sending = said(); give_way()
print(first, starting, after, sending, said(), sep="; ")
"""

needs_scheduler = pytest.mark.skipif(
    not hasattr(os, "sched_setscheduler"), reason="this system has no real-time priority that a test could look at"
)


def asked(**more: str) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM],
        env={**os.environ, **more},
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    return done.stdout.splitlines()


@needs_scheduler
def test_the_threads_that_send_go_before_the_others_and_whoever_loads_gives_way() -> None:
    granted, priorities = asked()
    if granted == "ordinary":
        assert priorities == "; ".join(["(False, 0)"] * 5)
    else:
        assert granted == "real-time"
        assert priorities == "(True, 10); (True, 20); (True, 10); (True, 20); (False, 0)"


@needs_scheduler
def test_no_priority_is_asked_for_where_the_environment_says_ordinary() -> None:
    assert asked(CUEDECK_PRIORITY="ordinary") == ["ordinary", "; ".join(["(False, 0)"] * 5)]
