"""A player without light, for tests with real processes: `python -m tests.player.small_player FOLDER [--resume]`.

It carries out what it is asked by saying so. SMALL_PLAYER_SAYS makes it say that and fail instead.
"""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

from cuedeck.player.messages import AnyRequest, Quit, Snapshot, Told
from cuedeck.player.server import ControlServer
from cuedeck.player.whereabouts import ALREADY_RUNS_EXIT, PlayerRuns, Whereabouts


class Small:
    def __init__(self, where: Whereabouts) -> None:
        self.server = ControlServer(where, self)
        self.is_over = threading.Event()

    def came(self, client: int) -> None:
        self.server.publish(Told(text=f"{client} came; {' '.join(sys.argv[2:])}"))

    def left(self, client: int, on_purpose: bool) -> None:
        self.server.publish(Told(text=f"{client} {'went' if on_purpose else 'was lost'}"))

    def answer(self, client: int, request: AnyRequest) -> None:
        self.server.publish(Told(text=f"{client} asked {request.ask}"))
        if isinstance(request, Quit):
            self.is_over.set()


def main() -> int:
    if "SMALL_PLAYER_SAYS" in os.environ:
        print("something before\n" + os.environ["SMALL_PLAYER_SAYS"] + "\n", file=sys.stderr)
        return 1
    where = Whereabouts.of(Path(sys.argv[1]))
    try:
        where.claim()
    except PlayerRuns as refusal:
        print(refusal, file=sys.stderr)
        return ALREADY_RUNS_EXIT
    small = Small(where)
    small.server.start()
    small.server.publish(Snapshot(state="idle"))
    small.is_over.wait(600)  # nobody looks for it any more
    small.server.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
