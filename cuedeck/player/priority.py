"""Asking the system to let the player go first. It is never required: what was granted is told in a word.

Threads inherit it from the one that starts them, so that no thread of the player waits for one that is
kept waiting by another program.
"""

from __future__ import annotations

import os
import sys

REAL_TIME = "real-time"
ORDINARY = "ordinary"
_PRIORITY = 20
"""Of 1 to 99: over every ordinary program, under what the system itself needs."""


def go_first() -> str:
    """Ask for real-time priority for this thread and those it starts; return what was granted."""
    if hasattr(os, "sched_setscheduler"):
        return _on_posix()
    return _on_windows() if sys.platform == "win32" else ORDINARY


def _on_posix() -> str:
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(_PRIORITY))
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
