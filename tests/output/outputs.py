"""Outputs that a test holds up, breaks and mends, and that notice when they are used wrongly."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable

from cuedeck.output.base import Line, OutputLost, Packet

WAIT_S = 20


class Driven:
    """An output that keeps what it is asked for. It is wrong to call it from two threads at a time."""

    def __init__(self, name: str = "driven", *, is_prompt: bool = False) -> None:
        self.name = name
        self.port = None
        self.is_prompt = is_prompt
        self.sent: list[int] = []
        self.sent_on: list[tuple[int, tuple[int, ...]]] = []
        self.lines: list[Line] = []
        self.threads: list[str] = []
        self.faults: list[str] = []
        self.closes = 0
        self.error: Exception | None = None
        """What sending raises."""
        self.opening_error: Exception | None = None
        self.gate = threading.Event()
        """While it is not set, sending and opening stand still."""
        self.gate.set()
        self.arrived: queue.SimpleQueue[int | Line] = queue.SimpleQueue()
        """The number of every packet and every line, as they reach it, before the gate."""
        self.fails_now: Callable[[], bool] = lambda: False
        self._line: Line | None = None
        self._is_used = threading.Lock()

    def open(self, line: Line) -> None:
        """Open, or fail as told."""
        self._enter(line)
        try:
            if self.opening_error is not None:
                raise self.opening_error
            if self.fails_now():
                raise OutputLost(f"{self.name} cannot be opened: luck")
            self._line = line
            self.lines.append(line)
        finally:
            self._is_used.release()

    def send(self, packet: Packet) -> None:
        """Take a packet, or fail as told."""
        self._enter(packet.number)
        try:
            if self._line is None:
                self.faults.append(f"{packet.number} came while it was not open")
            elif packet.slots.shape != (len(self._line.universes), 512):
                self.faults.append(f"{packet.number} does not fit the line")
            else:
                self.sent_on.append((packet.number, self._line.universes))
            if self.error is not None:
                raise self.error
            if self.fails_now():
                raise OutputLost(f"{self.name} was lost: luck")
            self.sent.append(packet.number)
        finally:
            self._is_used.release()

    def close(self) -> None:
        """Let go."""
        self.closes += 1
        self._line = None

    def wait_for(self, wanted: int | Line) -> None:
        """Wait until a packet or a line has reached it."""
        while self.arrived.get(timeout=WAIT_S) != wanted:
            pass

    def _enter(self, what: int | Line) -> None:
        if not self._is_used.acquire(blocking=False):
            self.faults.append(f"{what} came while it was at work")
            self._is_used.acquire()
        self.threads.append(threading.current_thread().name)
        self.arrived.put(what)
        if not self.gate.wait(WAIT_S):
            self.faults.append("nobody opened the gate")
