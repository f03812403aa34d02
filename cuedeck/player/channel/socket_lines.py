"""Lines over a socket, for a thread that waits for them."""

from __future__ import annotations

import math
import socket
import time
from collections.abc import Callable
from contextlib import suppress

from cuedeck.player.channel.handshake import CLIENT_WAITS_S
from cuedeck.player.channel.message import LONGEST_EVENT

_AT_ONCE = 64 * 1024
LOOKS_AGAIN_S = 0.15
"""How often whoever waits looks up: longer than a beat of the player, as each look costs, and twice in SILENT_S."""
AWAKE_S = 0.17
"""A wait that took longer counts as that: nobody was awake."""


def send_at_once(connected: socket.socket) -> None:
    """Have TCP send each line when it is written; it would wait for the other side's word, for some 40 ms."""
    if connected.family == socket.AF_INET:
        with suppress(OSError):  # the other side is gone already
            connected.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


class Lines:
    """Lines over a socket that is connected. One thread may read while others write, one at a time."""

    def __init__(self, connected: socket.socket) -> None:
        self._socket = connected
        self._socket.settimeout(LOOKS_AGAIN_S)
        send_at_once(connected)
        self._read = bytearray()

    def read(
        self, longest: int = LONGEST_EVENT, *, wait_s: float = math.inf, on_wait: Callable[[float], None] | None = None
    ) -> bytes:
        """Return the next line with its end; `on_wait` is called with each while that was waited for it in vain.

        Raises EOFError, OSError, and TimeoutError after `wait_s`. Only time counts in which this thread was awake.
        """
        waited_s, searched = 0.0, 0
        while (end := self._read.find(b"\n", searched)) < 0:
            searched = len(self._read)
            if searched > longest:
                raise EOFError("a line without an end")
            passed_s = self._receive()
            waited_s += passed_s
            if waited_s > wait_s:
                raise TimeoutError("nothing was said")
            if on_wait is not None and len(self._read) == searched:
                on_wait(passed_s)
        line = bytes(self._read[: end + 1])
        del self._read[: end + 1]
        return line

    def write(self, line: bytes) -> None:
        """Send one line. Raises OSError; where the other side takes nothing for a while, TimeoutError."""
        until_s, left = time.monotonic() + CLIENT_WAITS_S, memoryview(line)
        while left:
            try:
                left = left[self._socket.send(left) :]
                until_s = time.monotonic() + CLIENT_WAITS_S
            except TimeoutError:
                if time.monotonic() > until_s:
                    raise

    def end(self) -> None:
        """End the connection; a thread that reads gets EOFError."""
        with suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        """Let go of the socket; safe to call twice."""
        self._socket.close()

    def _receive(self) -> float:
        """Take what has come, and return how long that was waited for."""
        began_s = time.monotonic()
        try:
            received = self._socket.recv(_AT_ONCE)
            if not received:
                raise EOFError("the other side ended the connection")
            self._read += received
        except TimeoutError:
            pass
        return min(time.monotonic() - began_s, AWAKE_S)
