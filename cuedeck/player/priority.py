"""Asking the system to let the player go first. It is never required: what was granted is told in a word.

Threads inherit it from the one that starts them, so that no thread of the player waits for one that is
kept waiting by another program. The thread that sends goes before all others, those of other players too.

A system gives real-time priority for a share of each second only, and once it is used up, to nobody: whoever works
hard for a second, as in loading a show, gives way.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

REAL_TIME = "real-time"
ORDINARY = "ordinary"
ASKED = "CUEDECK_PRIORITY"
"""The environment variable that says `ordinary` where the player is not to ask."""
_PRIORITY = 10
"""Of 1 to 99: over every ordinary program, under what the system itself needs."""
_PRIORITY_TO_SEND = 20
"""The highest that is asked for, and so what has to be granted (see hardware-notes.md)."""


def go_first() -> str:
    """Ask for real-time priority for this thread and those it starts; return what was granted."""
    if os.environ.get(ASKED) == ORDINARY:
        return ORDINARY
    if hasattr(os, "sched_setscheduler"):
        return _on_posix(_PRIORITY)
    return _on_windows() if sys.platform == "win32" else ORDINARY


def send_first() -> None:
    """Ask for the priority of the thread that sends, for this thread; those that it starts from now on have it too."""
    if hasattr(os, "sched_setscheduler") and os.environ.get(ASKED) != ORDINARY:
        _on_posix(_PRIORITY_TO_SEND)


@contextmanager
def starting_senders() -> Iterator[None]:
    """Give the threads that are started meanwhile the priority of the one that sends, where this one has any."""
    if not hasattr(os, "sched_setscheduler") or os.sched_getscheduler(0) != os.SCHED_FIFO:
        yield
        return
    before = os.sched_getparam(0).sched_priority
    _on_posix(_PRIORITY_TO_SEND)
    try:
        yield
    finally:
        _on_posix(before)


def give_way() -> None:
    """Go back to ordinary priority, for this thread and those it starts."""
    if hasattr(os, "sched_setscheduler"):
        os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))


def _on_posix(priority: int) -> str:
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(priority))
    except OSError:
        return ORDINARY
    return REAL_TIME


def _on_windows() -> str:
    if sys.platform != "win32":
        return ORDINARY
    import ctypes

    high_priority_class = 0x80
    ctypes.windll.winmm.timeBeginPeriod(1)
    kernel = ctypes.windll.kernel32
    return "high" if kernel.SetPriorityClass(kernel.GetCurrentProcess(), high_priority_class) else ORDINARY
