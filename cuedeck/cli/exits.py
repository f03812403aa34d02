"""How commands end: what their exit codes mean, and in what order they are stopped."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

TYPE_CHECKING = False  # that of `typing`, which takes half as long to load as the interpreter
if TYPE_CHECKING:
    import threading
    from typing import Any

DONE = 0
WRONG = 1
"""The show has errors, or not every packet went out."""
USAGE = 2
"""The command was not understood."""
INTERNAL = 70
"""cuedeck itself failed."""
STOPPED = 130
"""Stopped with Ctrl-C."""
_STOP_SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP")


@contextmanager
def interruptible() -> Iterator[None]:
    """Let a request to terminate and a closed terminal stop as Ctrl-C does. Only the first counts, so clean-up runs."""

    import signal

    def stop(*_: object) -> None:
        for name in _STOP_SIGNALS:
            if number := getattr(signal, name, None):
                signal.signal(number, signal.SIG_IGN)
        raise KeyboardInterrupt

    with _handled(stop):
        yield


@contextmanager
def stop_on_signals() -> Iterator[threading.Event]:
    """Let Ctrl-C, a request to terminate and a closed terminal set the event, not end the program."""
    import threading

    stop = threading.Event()
    with _handled(lambda *_: stop.set()):
        yield stop


@contextmanager
def _handled(handler: Callable[[int, Any], None]) -> Iterator[None]:
    import signal

    numbers = [getattr(signal, name) for name in _STOP_SIGNALS if hasattr(signal, name)]
    before = {number: signal.signal(number, handler) for number in numbers}
    try:
        yield
    finally:
        for number, earlier in before.items():
            signal.signal(number, earlier)
