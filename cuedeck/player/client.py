"""A client's side of the channel: it finds the player, asks, and hears what it says.

The invariant owned here: whoever waits for the player is told at once when it is gone.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Self

from cuedeck.player.blackout_client import NoAnswer, black_out
from cuedeck.player.messages import AnyRequest, AnySay, BadMessage, Blackout, Done, Leave, Refused, Snapshot, say_in
from cuedeck.player.reaching import PlayerLost, PlayerRefused, PlayerSilent, reach
from cuedeck.player.socket_lines import Lines
from cuedeck.player.spawning import spawn
from cuedeck.player.waiting import Waiting
from cuedeck.player.whereabouts import Whereabouts

__all__ = ["PlayerClient", "PlayerLost", "PlayerRefused", "PlayerSilent", "find_player", "start_player"]

MOST_WAITING = 1_000
"""Events that wait for `next`. Where nobody asks for them, the oldest make room."""
FAREWELL_S = 2.0
TOLD_IN_S = 0.3
"""How long to wait for the snapshot that shows a blackout that was taken up."""
FINDS_OTHER_S = 6.0
"""How long to look for a player that runs and cannot be found: it may be beginning, or just ending."""
LOOKS_AGAIN_S = 0.02


OnSay = Callable[[AnySay], None]
OnLost = Callable[[PlayerLost], None]


class PlayerClient:
    """A connection to the player, made by `find_player` and `start_player`.

    Its methods may be called from any thread but that of the callbacks. Used with `with`, it ends with a farewell.
    """

    def __init__(
        self,
        where: Whereabouts,
        lines: Lines,
        pid: int,
        number: int,
        on_say: OnSay | None = None,
        on_lost: OnLost | None = None,
    ) -> None:
        self._where = where
        self.pid = pid
        """The process of the player."""
        self.number = number
        """The number of this client, as in `controller` of a snapshot."""
        self._lines = lines
        self._on_say = on_say
        self._on_lost = on_lost
        self._news = threading.Condition()
        self._writing = threading.Lock()
        self._waiting = Waiting(MOST_WAITING)
        self._answers: dict[int, Done | Refused | None] = {}
        self._asked = 0
        self._snapshot: Snapshot | None = None
        self._lost = ""
        self._is_closed = False
        self._reader = threading.Thread(target=self._read, name=f"player {pid}", daemon=True)
        self._reader.start()

    def __repr__(self) -> str:
        return f"<PlayerClient {self.number} of process {self.pid}>"

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def snapshot(self) -> Snapshot | None:
        """The latest that came, or None where none came yet."""
        return self._snapshot

    @property
    def lost(self) -> PlayerLost | None:
        """Why the connection ended, or None while it stands."""
        return PlayerLost(self._lost) if self._lost else None

    def ask(self, request: AnyRequest, timeout_s: float = 30) -> None:
        """Ask for something and wait until it is done.

        What was given up, be it by the timeout, is not done later. A blackout does not need the connection.
        Raises PlayerRefused, PlayerLost at once when the connection ends, PlayerSilent after the timeout.
        """
        if isinstance(request, Blackout) and self._where.blackout_page.exists():
            self._black_out()
            return
        with self._news:
            self._asked += 1
            number = self._asked
            self._answers[number] = None
        try:
            until_ms = time.monotonic_ns() // 1_000_000 + int(timeout_s * 1000)
            self._send(request.model_copy(update={"id": number, "until_ms": until_ms}))
            with self._news:
                self._news.wait_for(lambda: self._answers[number] or self._lost, timeout_s)
                answer = self._answers[number]
        finally:
            with self._news:
                del self._answers[number]
        if answer is None:
            raise self.lost or PlayerSilent(f"the player (process {self.pid}) did not answer within {timeout_s:g} s")
        if isinstance(answer, Refused):
            raise PlayerRefused(answer.what)

    def _black_out(self) -> None:
        """Make the line dark, whatever else the player does. Raises PlayerSilent within about a second."""
        try:
            black_out(self._where.folder)
        except NoAnswer as error:
            raise PlayerSilent(str(error)) from error
        with self._news:
            self._news.wait_for(
                lambda: self._lost or (self._snapshot is not None and self._snapshot.is_blacked_out), TOLD_IN_S
            )

    def next(self, timeout_s: float) -> AnySay | None:
        """Return what the player said next (a snapshot, `told`, `ended`), or None after the timeout.

        Of several snapshots only the newest waits. What was said before the end of the connection is still
        handed out; then PlayerLost is raised. Nothing waits here where `on_say` was given.
        """
        with self._news:
            self._news.wait_for(lambda: self._waiting or self._lost, timeout_s)
            say = self._waiting.take()
        if say is None and self._lost:
            raise PlayerLost(self._lost)
        return say

    def close(self, *, leave: bool = True) -> None:
        """End the connection, with a farewell or without; safe to call twice. `on_lost` is not called."""
        if self._is_closed:
            return
        self._is_closed = True
        if leave and not self._lost:
            with suppress(PlayerLost):
                self._send(Leave())
                self._reader.join(FAREWELL_S)  # the player ends the connection once it has heard it
        self._lines.end()
        self._reader.join(FAREWELL_S)
        self._lines.close()

    def _send(self, request: AnyRequest) -> None:
        if self._lost:
            raise PlayerLost(self._lost)
        try:
            with self._writing:
                self._lines.write(request.to_line())
        except OSError as error:
            self._lines.end()  # half a line may be on its way: nothing can follow it
            raise PlayerLost(self._gone()) from error

    def _gone(self) -> str:
        if self._is_closed:
            return f"this client has left the player (process {self.pid})"
        return f"the player (process {self.pid}) is gone: it ended, or closed the channel"

    def _read(self) -> None:
        with suppress(OSError, EOFError, BadMessage):
            while True:
                self._hear(say_in(self._lines.read()))
        with self._news:
            self._lost = self._gone()
            self._news.notify_all()
        if self._on_lost is not None and not self._is_closed:
            with suppress(Exception):  # a screen that is being closed hears nothing any more
                self._on_lost(PlayerLost(self._lost))

    def _hear(self, say: AnySay) -> None:
        with self._news:
            if isinstance(say, Done | Refused):
                if say.id in self._answers:
                    self._answers[say.id] = say
                    self._news.notify_all()
                return
            if isinstance(say, Snapshot):
                self._snapshot = say
                self._news.notify_all()
            if self._on_say is None:
                if not self._waiting.put(say):
                    self._waiting.take()
                    self._waiting.put(say)
                self._news.notify_all()
                return
        with suppress(Exception):  # a screen that is being closed hears nothing any more
            self._on_say(say)


def find_player(folder: Path, *, on_say: OnSay | None = None, on_lost: OnLost | None = None) -> PlayerClient | None:
    """Return a connection to the player of a folder, or None where none runs. Raises PlayerRefused, PlayerSilent.

    The callbacks are called in the reader's thread, the first ones maybe before this returns.
    """
    where = Whereabouts.used_by_player(folder)
    announcement = where.found()
    reached = None if announcement is None else reach(announcement)
    if announcement is None or reached is None:
        return None
    lines, number = reached
    return PlayerClient(where, lines, announcement.pid, number, on_say, on_lost)


def start_player(
    folder: Path,
    *,
    resume: bool = False,
    timeout_s: float = 30,
    on_say: OnSay | None = None,
    on_lost: OnLost | None = None,
    module: str = "cuedeck.player",
) -> PlayerClient:
    """Return a connection to the player of a folder, which is started where none runs.

    Where someone else starts one at the same time, that one is taken. Raises PlayerLost with the reason
    when the player ends or cannot be reached in time, and PlayerRefused.
    """
    where = Whereabouts.of(folder)
    client = find_player(folder, on_say=on_say, on_lost=on_lost)
    if client is not None:
        return client
    until = time.monotonic() + timeout_s
    spawned, spawned_s = spawn(where, module, resume=resume), time.monotonic()
    try:
        while time.monotonic() < until:
            has_failed, found_another = spawned.failed, spawned.found_another
            with suppress(PlayerSilent):
                client = find_player(folder, on_say=on_say, on_lost=on_lost)
            if client is not None:
                if client.pid != spawned.pid:
                    spawned.give_up()
                return client
            if found_another and time.monotonic() - spawned_s > FINDS_OTHER_S:
                raise PlayerLost(spawned.last_words)
            if found_another:
                spawned = spawn(where, module, resume=resume)
            if has_failed:
                raise PlayerLost(f"the player did not start: {spawned.last_words}")
            time.sleep(LOOKS_AGAIN_S)
    finally:
        spawned.leave_alone()
    raise PlayerLost(f"the player could not be reached within {timeout_s:g} s; look into {where.log}")
