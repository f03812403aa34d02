"""Players that fork from a process which has loaded all that a player needs: a start costs a tenth of the time.

Each is the real player in a process of its own, with its own session, folder, environment and log, and ends as one.
What differs is that Python and its modules are there already. So players that resume a look, which is about the order
of loading, are started as ever, as are those of commands that tests start as processes. CUEDECK_START_PLAYERS=1
starts all of them so.

`python -m tests.player.fork_server DESCRIPTOR` is that process. It ends when the other end of its socket is closed.
"""

from __future__ import annotations

import gc
import json
import os
import select
import signal
import socket
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from tests.waiting import LONGEST_WAIT_S

ROOT = Path(__file__).parents[2]
MOST_BYTES = 100_000
NUMBER_BYTES = 8


class ForkServer:
    """Gives processes in the place of `subprocess.Popen`; begins at the first."""

    def __init__(self) -> None:
        self._near: socket.socket | None = None
        self._process: subprocess.Popen[bytes] | None = None
        self._one_at_a_time = threading.Lock()

    def instead_of_subprocess(self) -> SimpleNamespace:
        """Return what stands for the module `subprocess` where players are started."""
        return SimpleNamespace(**{**vars(subprocess), "Popen": self._started})

    def close(self) -> None:
        """End it; players that it gave go on."""
        if self._near is not None and self._process is not None:
            self._near.close()
            self._process.wait(LONGEST_WAIT_S)

    def _started(self, command: list[str], **options: Any) -> Any:
        if command[1:3] != ["-m", "cuedeck.player"] or "--resume" in command:
            return subprocess.Popen(command, **options)
        asked = {"arguments": command[3:], "environment": dict(os.environ), "folder": os.getcwd()}  # noqa: PTH109
        reading, writing = os.pipe()
        with self._one_at_a_time:
            near = self._near or self._begin()
            socket.send_fds(near, [json.dumps(asked).encode() + b"\n"], [options["stdout"], options["stderr"], writing])
            os.close(writing)
            return ForkedProcess(reading)

    def _begin(self) -> socket.socket:
        self._near, far = socket.socketpair()
        with far:
            command = [sys.executable, "-m", "tests.player.fork_server", str(far.fileno())]
            self._process = subprocess.Popen(command, pass_fds=[far.fileno()], cwd=ROOT, stdin=subprocess.DEVNULL)
        return self._near


class ForkedProcess:
    """What is needed of a `Popen`, for a process that is another's child."""

    def __init__(self, numbers: int) -> None:
        self._numbers = numbers
        self._code: int | None = None
        self.pid = self._read()

    def _read(self) -> int:
        return int.from_bytes(os.read(self._numbers, NUMBER_BYTES), "little", signed=True)

    def poll(self) -> int | None:
        """Return how it ended, None while it runs."""
        if self._code is None and select.select([self._numbers], [], [], 0)[0]:
            self._code = self._read()
        return self._code

    def wait(self) -> int | None:
        """Wait for its end."""
        if self._code is None:
            select.select([self._numbers], [], [])
        return self.poll()

    def terminate(self) -> None:
        """End it."""
        os.kill(self.pid, signal.SIGTERM)

    def __del__(self) -> None:
        os.close(self._numbers)


def _serve(near: socket.socket) -> list[str]:
    """Fork players until there is nobody to ask for one; in a player, return its arguments."""
    while True:
        asked, descriptors, _, _ = socket.recv_fds(near, MOST_BYTES, 3)
        if not asked:
            os._exit(0)
        while not asked.endswith(b"\n"):
            asked += near.recv(MOST_BYTES)
        if not os.fork():
            near.close()
            _watch(descriptors[2])
            return _become(json.loads(asked), descriptors)
        for descriptor in descriptors:
            os.close(descriptor)
        with suppress(ChildProcessError):
            while os.waitpid(-1, os.WNOHANG)[0]:
                pass


def _watch(numbers: int) -> None:
    """Fork once more: the child goes on, its parent says which process it is, and how it ended."""
    player = os.fork()
    if not player:
        return
    os.setsid()
    os.closerange(0, numbers)
    os.write(numbers, player.to_bytes(NUMBER_BYTES, "little", signed=True))
    _, status = os.waitpid(player, 0)
    os.write(numbers, os.waitstatus_to_exitcode(status).to_bytes(NUMBER_BYTES, "little", signed=True))
    os._exit(0)


def _become(asked: dict[str, Any], descriptors: list[int]) -> list[str]:
    """Take the place of a process that was started."""
    os.setsid()
    os.chdir(asked["folder"])
    os.environ.clear()
    os.environ.update(asked["environment"])
    out, err, numbers = descriptors
    os.dup2(out, 1)
    os.dup2(err, 2)
    for descriptor in (out, err, numbers):
        os.close(descriptor)
    arguments: list[str] = asked["arguments"]
    return arguments


if __name__ == "__main__":
    import cuedeck.player.channel.server
    import cuedeck.player.service
    import cuedeck.player.session
    import cuedeck.player.show_keeper
    import cuedeck.player.snapshots  # noqa: F401 - loaded once, for all that are forked
    from cuedeck.player.__main__ import main

    gc.freeze()
    sys.argv[1:] = _serve(socket.socket(fileno=int(sys.argv[1])))
    sys.exit(main())
