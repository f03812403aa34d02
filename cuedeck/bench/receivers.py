"""Receivers at the far end of a line: a UDP socket, and a pseudo-terminal that can be unplugged. Both keep times."""

from __future__ import annotations

import os
import select
import socket
import struct
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple, Self

_STAMPS = 35
"""SO_TIMESTAMPNS of Linux: the kernel notes when a datagram arrived, however late it is read."""
_TIMESPEC = struct.Struct("@ll")
_BUFFER_BYTES = 1 << 22
_LISTEN_S = 0.05
_LONGEST_END_S = 5.0
LARGEST = 2048


class Datagram(NamedTuple):
    """A datagram and when it arrived, in nanoseconds since 1970."""

    at_ns: int
    content: bytes


class UdpReceiver:
    """A port on 127.0.0.1 that keeps what arrives, or passes it to a function. Used with `with`."""

    def __init__(self, on_datagram: Callable[[Datagram], None] | None = None) -> None:
        self.arrived: list[Datagram] = []
        self._on_datagram = on_datagram or self.arrived.append
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, _BUFFER_BYTES)
        if sys.platform == "linux":
            self._socket.setsockopt(socket.SOL_SOCKET, _STAMPS, 1)
        self._socket.bind(("127.0.0.1", 0))
        self._socket.settimeout(_LISTEN_S)
        self._is_over = threading.Event()
        self._thread = threading.Thread(target=self._listen, name="udp receiver", daemon=True)
        self.port: int = self._socket.getsockname()[1]

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._is_over.set()
        self._thread.join(_LONGEST_END_S)
        self._socket.close()

    @property
    def target(self) -> str:
        """What is written after --to to send there."""
        return f"sacn:127.0.0.1,port={self.port}"

    def _listen(self) -> None:
        while not self._is_over.is_set():
            with suppress(TimeoutError):
                self._on_datagram(self._next())

    def _next(self) -> Datagram:
        if sys.platform != "linux":
            return Datagram(time.time_ns(), self._socket.recv(LARGEST))
        content, notes, _, _ = self._socket.recvmsg(LARGEST, socket.CMSG_SPACE(_TIMESPEC.size))
        for _, kind, note in notes:
            if kind == _STAMPS:
                seconds, nanoseconds = _TIMESPEC.unpack(note)
                return Datagram(seconds * 1_000_000_000 + nanoseconds, content)
        return Datagram(time.time_ns(), content)


class PtyReceiver:
    """A pseudo-terminal under a name that stays. It can be unplugged and plugged in again. POSIX only."""

    def __init__(self, name: Path) -> None:
        self.name = name
        self.chunks_ns: list[int] = []
        """When something was read, in nanoseconds since 1970."""
        self._ends: tuple[int, int] | None = None
        self._lock = threading.Lock()
        self._is_over = threading.Event()
        self._thread = threading.Thread(target=self._listen, name="pty receiver", daemon=True)
        self.plug()

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._is_over.set()
        self._thread.join(_LONGEST_END_S)
        self.unplug()

    @property
    def target(self) -> str:
        """What is written after --to to send there."""
        return f"serial:{self.name}"

    def plug(self) -> None:
        """Put a new pseudo-terminal behind the name."""
        import tty

        far, near = os.openpty()
        tty.setraw(near)
        beside = self.name.with_suffix(".new")
        beside.symlink_to(os.ttyname(near))
        beside.replace(self.name)
        with self._lock:
            self._ends = far, near

    def unplug(self) -> None:
        """Close the pseudo-terminal, so that the sender sees it gone; safe to call twice."""
        with self._lock:
            ends, self._ends = self._ends, None
            for end in ends or ():
                os.close(end)
        self.name.unlink(missing_ok=True)

    def _listen(self) -> None:
        while not self._is_over.is_set():
            with self._lock:
                # A copy, since `unplug` may close the end while it is read, and its number may then be another file's.
                far = None if self._ends is None else os.dup(self._ends[0])
            if far is None:
                self._is_over.wait(0.01)
                continue
            try:
                self._read(far)
            finally:
                os.close(far)

    def _read(self, far: int) -> None:
        if select.select([far], [], [], 0.005)[0]:
            with suppress(OSError):
                os.read(far, 65_536)
                self.chunks_ns.append(time.time_ns())
