"""Lines over a socket, for a thread that waits for them."""

from __future__ import annotations

import socket
import time
from contextlib import suppress

from cuedeck.player.bounds import LONGEST_SAY
from cuedeck.player.handshake import CLIENT_WAITS_S

_AT_ONCE = 64 * 1024


def send_at_once(connected: socket.socket) -> None:
    """Have TCP send each line when it is written; it would wait for the other side's word, for some 40 ms."""
    if connected.family == socket.AF_INET:
        with suppress(OSError):  # the other side is gone already
            connected.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


class Lines:
    """Lines over a socket that is connected. One thread may read while others write, one at a time."""

    def __init__(self, connected: socket.socket) -> None:
        self._socket = connected
        self._socket.settimeout(CLIENT_WAITS_S)
        send_at_once(connected)
        self._read = bytearray()

    def read(self, longest: int = LONGEST_SAY, *, wait_s: float | None = None) -> bytes:
        """Return the next line with its end. Raises EOFError, OSError, and TimeoutError where a time is given."""
        until = None if wait_s is None else time.monotonic() + wait_s
        searched = 0
        while (end := self._read.find(b"\n", searched)) < 0:
            searched = len(self._read)
            if searched > longest:
                raise EOFError("a line without an end")
            self._receive()
            if until is not None and time.monotonic() > until:
                raise TimeoutError("nothing was said")
        line = bytes(self._read[: end + 1])
        del self._read[: end + 1]
        return line

    def write(self, line: bytes) -> None:
        """Send one line. Raises OSError; where the other side takes nothing for some seconds, TimeoutError."""
        self._socket.sendall(line)

    def end(self) -> None:
        """End the connection; a thread that reads gets EOFError."""
        with suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        """Let go of the socket; safe to call twice."""
        self._socket.close()

    def _receive(self) -> None:
        try:
            received = self._socket.recv(_AT_ONCE)
        except TimeoutError:
            return
        if not received:
            raise EOFError("the other side ended the connection")
        self._read += received
