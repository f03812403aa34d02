"""Where clients come in: a socket in the private directory, or a port of this computer.

The invariant owned here: whoever was let in is handed on, and once it is closed nobody is half in.
"""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Callable
from contextlib import suppress

from cuedeck.player.channel.socket_lines import send_at_once
from cuedeck.player.instance_lock import InstanceLock

MOST_NOT_ACCEPTED = 64
LOOKS_AGAIN_S = 1.0


class Listener:
    """Lets connections in, in the thread of a selector loop. Raises OSError where there can be none."""

    def __init__(self, instance: InstanceLock, let_in: Callable[[socket.socket], None]) -> None:
        self._let_in = let_in
        self._loop = asyncio.get_running_loop()
        self._listener, self.address = _listener(instance)
        """The address is for the announcement."""
        self._listener.setblocking(False)
        self._attend()

    def close(self) -> None:
        """Let nobody in any more; safe to call twice."""
        if self._listener.fileno() >= 0:
            self._loop.remove_reader(self._listener)
            self._listener.close()

    def _attend(self) -> None:
        if self._listener.fileno() >= 0:
            self._loop.add_reader(self._listener, self._open)

    def _open(self) -> None:
        try:
            connected, _ = self._listener.accept()
        except (BlockingIOError, InterruptedError, ConnectionAbortedError):
            return
        except OSError:
            # The process has no room for another. Asking again and again would take time from the light.
            self._loop.remove_reader(self._listener)
            self._loop.call_later(LOOKS_AGAIN_S, self._attend)
            return
        send_at_once(connected)
        self._let_in(connected)


def _listener(instance: InstanceLock) -> tuple[socket.socket, str]:
    path = instance.socket_path
    if path is not None:
        listener = socket.socket(socket.AF_UNIX)
        with suppress(OSError):  # a file system without sockets
            path.unlink(missing_ok=True)  # of a player that was killed
            listener.bind(str(path))
            listener.listen(MOST_NOT_ACCEPTED)
            return listener, f"unix:{path}"
        listener.close()
    listener = socket.create_server(("127.0.0.1", 0), backlog=MOST_NOT_ACCEPTED)
    return listener, f"tcp:{listener.getsockname()[1]}"
