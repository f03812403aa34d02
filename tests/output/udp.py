"""The far end of a network without a network: a UDP socket on 127.0.0.1."""

from __future__ import annotations

import socket
from types import TracebackType
from typing import Self


class UdpPort:
    """A socket that keeps what came, until it is asked."""

    def __init__(self) -> None:
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.bind(("127.0.0.1", 0))
        self._socket.settimeout(10)
        self.number: int = self._socket.getsockname()[1]

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self._socket.close()

    def read(self, count: int) -> list[bytes]:
        """Return so many datagrams that came."""
        return [self._socket.recv(2048) for _ in range(count)]

    def is_empty(self) -> bool:
        """Return whether nothing is left to read: on this machine what was sent has arrived."""
        self._socket.setblocking(False)
        try:
            self._socket.recv(1, socket.MSG_PEEK)
        except BlockingIOError:
            return True
        else:
            return False
        finally:
            self._socket.settimeout(10)
