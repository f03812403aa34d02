"""A player without light, for tests with real processes: `python -m tests.player.small_player FOLDER [--resume]`.

It carries out what it is asked by saying so. SMALL_PLAYER_SAYS makes it say that and fail instead.
"""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

from cuedeck.player.channel.events import Notice, Snapshot
from cuedeck.player.channel.requests import AnyRequest, Quit
from cuedeck.player.channel.server import ControlServer
from cuedeck.player.instance_lock import ALREADY_RUNS_EXIT, InstanceLock, PlayerRuns


class Small:
    def __init__(self, instance: InstanceLock) -> None:
        self.server = ControlServer(instance, self)
        self.is_over = threading.Event()

    def came(self, client: int) -> None:
        self.server.publish(Notice(text=f"{client} came; {' '.join(sys.argv[2:])}"))

    def left(self, client: int, on_purpose: bool) -> None:
        self.server.publish(Notice(text=f"{client} {'went' if on_purpose else 'was lost'}"))

    def answer(self, client: int, request: AnyRequest) -> None:
        self.server.publish(Notice(text=f"{client} asked {request.ask}"))
        if isinstance(request, Quit):
            self.is_over.set()


def main() -> int:
    if "SMALL_PLAYER_SAYS" in os.environ:
        print("something before\n" + os.environ["SMALL_PLAYER_SAYS"] + "\n", file=sys.stderr)
        return 1
    instance = InstanceLock.of(Path(sys.argv[1]))
    try:
        instance.claim()
    except PlayerRuns as refusal:
        print(refusal, file=sys.stderr)
        return ALREADY_RUNS_EXIT
    small = Small(instance)
    small.server.start()
    small.server.publish(Snapshot(state="idle"))
    small.is_over.wait(600)  # nobody looks for it any more
    small.server.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
