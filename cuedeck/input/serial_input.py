"""An input on a serial port, polled in a thread. A port that is lost is reported once and tried again every second."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from typing import Any, ClassVar

from cuedeck.clock import Clock
from cuedeck.input.base import InputUnusable, ThreadedInput
from cuedeck.ports import failures, reason

RETRY_NS = 1_000_000_000
"""How long to leave a lost port alone before it is tried again."""
POLL_S = 0.001
_POLL_LOST_S = 0.05


class SerialInput(ThreadedInput):
    """One serial port, or any URL that pyserial opens. The take goes on while the port is lost."""

    lost_message: ClassVar[str]
    """With `{port}` in it."""
    back_message: ClassVar[str]

    def __init__(self, port: str, clock: Clock, tell: Callable[[str], None]) -> None:
        super().__init__()
        self.port = port
        """The port, or a URL that pyserial opens."""
        self._clock = clock
        self._tell = tell
        self._serial: Any = None
        self._lost_ns = 0

    def poll(self) -> None:
        """Read the port once, or try to open it again where it is lost and a second has passed."""
        if self._serial is None:
            self._reopen()
            return
        try:
            self._poll()
        except failures() as error:
            self._release()
            self._lost_ns = self._clock.now_ns()
            lost = self.lost_message.format(port=self.port)
            self._tell(f"{lost}: {reason(error)}; it is tried again every second")

    @abstractmethod
    def _poll(self) -> None:
        """Read the open port once. Raises what a port raises."""

    def _listen(self) -> None:
        while not self._stop.is_set():
            self.poll()
            self._stop.wait(POLL_S if self._serial is not None else _POLL_LOST_S)

    def _reopen(self) -> None:
        now_ns = self._clock.now_ns()
        if now_ns - self._lost_ns < RETRY_NS:
            return
        self._lost_ns = now_ns
        try:
            self.open()
        except InputUnusable:
            return
        self._tell(self.back_message.format(port=self.port))

    def _release(self) -> None:
        port, self._serial = self._serial, None
        if port is not None:
            port.close()
