"""The way from the screen to the player: nothing here makes the screen wait, and nothing of the player is missed.

Whatever waits (finding a player, starting one, asking it) has a thread of its own. What comes of it is handed to
one callback, from any of them.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from cuedeck.errors import Refusal
from cuedeck.player.channel.client import Heard, PlayerClient, PlayerGone, PlayerSilent, find_player, start_player
from cuedeck.player.channel.events import Notice, Snapshot
from cuedeck.player.channel.requests import AnyRequest, Begin, Release, ShowLook, StartBlackout, Stop
from cuedeck.player.instance_lock import InstanceLock
from cuedeck.player.line.blackout_client import NoAnswer, black_out, blackout_of
from cuedeck.tui.lane import Lane

LOOKS_AGAIN_S = 0.5
"""From one look for a player to the next, while there is none."""
ANSWERS_IN_S = 5.0
STOPS_IN_S = 3.0


@dataclass(frozen=True)
class Reached:
    """There is a player now."""

    pid: int
    """Its process."""
    follows_gone: bool
    """Whether it came after another that is gone with its light."""


@dataclass(frozen=True)
class Gone:
    """The player is gone."""

    what: str
    has_light: bool
    """Whether it left light on the line, so that another is started to hold that."""
    is_only_watched: bool = False
    """Whether this window only looks on, and starts none."""


@dataclass(frozen=True)
class NotDone:
    """Something that was asked for was not done, or no player could be reached."""

    what: str
    request: AnyRequest | None = None


@dataclass(frozen=True)
class BlackoutWaits:
    """A blackout is written down for a player that does not answer."""


News = Heard | Reached | Gone | NotDone | BlackoutWaits
Hear = Callable[[News], object]


class PlayerLink:
    """A connection to the player of a folder, whenever there is one. One that only watches starts nothing, and asks
    for nothing but a blackout and its end."""

    def __init__(self, folder: Path, *, is_watching: bool = False) -> None:
        self._folder = folder
        self._is_watching = is_watching
        self._hear: Hear | None = None
        self._connecting = threading.Lock()
        self._client: PlayerClient | None = None
        self._has_said = threading.Event()
        self._is_over = threading.Event()
        self._last_problem = ""
        self._light_was_left = False
        self._slow = Lane("asking, slow", self._ask)
        self._quick = Lane("asking", self._ask)
        self._black = Lane("asking for a blackout", self._black_out)

    @property
    def is_busy(self) -> bool:
        """Whether a take or a look that was asked for is not there yet."""
        return self._slow.is_busy

    @property
    def is_silent(self) -> bool:
        """Whether there is a player that does not answer."""
        client = self._client
        return client is not None and client.is_silent

    def begin(self, hear: Hear, *, starts: bool) -> None:
        """Look for a player until the end; `starts` starts one where none runs. Returns at once."""
        self._hear = hear
        threading.Thread(
            target=self._look, args=(starts and not self._is_watching,), name="looking for the player", daemon=True
        ).start()

    def ask(self, request: AnyRequest) -> None:
        """Ask for something; returns at once. A player is started for a take or a look."""
        if self.is_silent:
            self._tell(NotDone("the player does not answer: nothing was asked of it", request))
        elif not self._is_watching or isinstance(request, Release):
            (self._quick if request.is_immediate else self._slow).put(request)

    @property
    def is_black_kept(self) -> bool:
        """Whether a blackout is kept for whatever goes to the line next."""
        return blackout_of(self._folder)[0]

    def black_out(self) -> None:
        """Ask for a blackout, behind nothing else that is asked; returns at once."""
        self._black.put(StartBlackout())

    def leave(self, *, lets_go: bool) -> None:
        """End the connection; `lets_go` stops a rehearsal and lets go of the light first. May wait some seconds."""
        self._is_over.set()
        self._slow.end()
        self._quick.end()
        self._black.end()
        client = self._client
        if client is None:
            return
        if lets_go:
            with suppress(Refusal):  # another has control now, or the player is gone
                self._let_go(client)
        client.close()

    def _let_go(self, client: PlayerClient) -> None:
        until = time.monotonic() + STOPS_IN_S
        if client.snapshot is not None and client.snapshot.shot:
            client.ask(Stop(), ANSWERS_IN_S)
        while client.snapshot is not None and client.snapshot.shot and time.monotonic() < until:
            self._has_said.wait(LOOKS_AGAIN_S)
            self._has_said.clear()
        client.ask(Release(keeps_blackout=True), ANSWERS_IN_S)

    def _tell(self, news: News) -> None:
        if self._hear is not None and not self._is_over.is_set():
            with suppress(RuntimeError):  # a screen that is being closed hears nothing any more
                self._hear(news)

    def _say(self, said: Heard) -> None:
        self._has_said.set()
        self._tell(said)

    def _look(self, starts: bool) -> None:
        self._reached(starts=starts)
        while not self._is_over.wait(LOOKS_AGAIN_S):
            self._reached()

    def _reached(self, *, starts: bool = False, resumes: bool = False) -> PlayerClient | None:
        """Return a connection that stands, a new one where there is none; None where that cannot be."""
        with self._connecting:
            if self._client is not None and self._client.gone is None:
                return self._client
            self._forget_gone()
            try:
                client = self._connected(starts=starts, resumes=resumes)
            except (Refusal, OSError) as error:
                if starts or str(error) != self._last_problem:
                    self._last_problem = str(error)
                    self._tell(NotDone(str(error)))
                return None
            if client is not None:
                self._client = client
                self._tell(Reached(client.pid, self._light_was_left))
                self._light_was_left = False
            return client

    def _forget_gone(self) -> None:
        client, self._client = self._client, None
        if client is not None:
            client.close(leave=False)

    def _connected(self, *, starts: bool, resumes: bool) -> PlayerClient | None:
        if starts:
            return start_player(self._folder, resume=resumes, on_event=self._say, on_gone=self._gone)
        return find_player(self._folder, on_event=self._say, on_gone=self._gone)

    def _gone(self, gone: PlayerGone) -> None:
        """Say so at once, and start another where there is light to hold."""
        client = self._client
        before = None if client is None else client.snapshot
        has_light = before is not None and bool(before.slots) and InstanceLock.of(self._folder).last_look.exists()
        self._light_was_left = has_light
        self._tell(Gone(str(gone), has_light, self._is_watching))
        if has_light and not self._is_watching and not self._is_over.is_set():
            again = partial(self._reached, starts=True, resumes=True)
            threading.Thread(target=again, name="starting a player", daemon=True).start()

    def _ask(self, request: AnyRequest) -> None:
        is_for_light = isinstance(request, Begin | ShowLook)
        client = self._reached(starts=is_for_light, resumes=self._light_was_left)
        if client is None:
            self._tell(NotDone("" if is_for_light else "no player runs", request))
            return
        try:
            client.ask(request)
        except PlayerSilent as silent:
            self._tell(NotDone(str(silent), request))
        except PlayerGone:
            self._tell(NotDone("", request))  # that it is gone is told apart
        except Refusal as refused:
            self._tell(NotDone(str(refused), request))

    def _black_out(self, request: AnyRequest) -> None:
        client = self._client
        try:
            if client is not None and client.gone is None:
                is_taken_up = client.black_out()
            else:
                is_taken_up = True
                if not black_out(self._folder).has_player:
                    self._tell(Notice(text="no player runs: what goes to the line next begins dark"))
            if not is_taken_up:
                self._tell(BlackoutWaits())
        except NoAnswer:
            self._tell(BlackoutWaits())
        except Refusal as refused:
            self._tell(NotDone(f"NOT BLACKED OUT: {refused}", request))


def is_snapshot(news: News) -> bool:
    """Whether it only says how everything stands, so that a newer one takes its place."""
    return isinstance(news, Snapshot)
