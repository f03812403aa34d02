"""How commands end: what their exit codes mean, and in what order they are stopped."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

DONE = 0
WRONG = 1
"""The show has errors, or not every packet went out."""
USAGE = 2
"""The command was not understood."""
INTERNAL = 70
"""cuedeck itself failed."""
STOPPED = 130
"""Stopped with Ctrl-C."""


@contextmanager
def interruptible() -> Iterator[None]:
    """Let a request to terminate and a closed terminal stop as Ctrl-C does, once: letting go is not cut short."""
    import signal

    numbers = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {number: signal.getsignal(number) for number in numbers}

    def stop(*_: object) -> None:
        for number in numbers:
            signal.signal(number, signal.SIG_IGN)
        raise KeyboardInterrupt

    for number in numbers:
        signal.signal(number, stop)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
