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

from cuedeck.player.channel.connect import PlayerGone, PlayerRefused, PlayerSilent, connect
from cuedeck.player.channel.events import AnyEvent, Done, Refused, Snapshot, Welcome, event_in
from cuedeck.player.channel.message import BadMessage
from cuedeck.player.channel.outbox import Outbox
from cuedeck.player.channel.requests import AnyRequest, Leave, Request, StartBlackout
from cuedeck.player.channel.silence import BEAT, GIVEN_UP_S, SILENT_S, Silence, now_ms, silent_text
from cuedeck.player.channel.socket_lines import Lines
from cuedeck.player.instance_lock import ALREADY_RUNS_EXIT, InstanceLock
from cuedeck.player.line.blackout_client import NoAnswer, black_out

__all__ = ["PlayerClient", "PlayerGone", "PlayerRefused", "PlayerSilent", "Silence", "find_player", "start_player"]

MOST_WAITING = 1_000
"""Events that wait for `next`. Where nobody asks for them, the oldest make room."""
FAREWELL_S = 2.0
TOLD_IN_S = 0.3
"""How long to wait for the snapshot that shows a blackout that was taken up."""
NOT_DARK_YET = (
    "the player (process {pid}) does not answer: the line goes dark as soon as it goes on;"
    " if lamps must go out now, cut the power at the rig's own switch"
)
FINDS_OTHER_S = 6.0
"""How long to look for a player that runs and cannot be found: it may be beginning, or just ending."""
LOOKS_AGAIN_S = 0.02


Heard = AnyEvent | Silence
"""What a client is told."""
OnEvent = Callable[[Heard], None]
OnGone = Callable[[PlayerGone], None]


class PlayerClient:
    """A connection to the player, made by `find_player` and `start_player`.

    Its methods may be called from any thread but that of the callbacks. Used with `with`, it ends with a farewell.
    """

    def __init__(
        self,
        instance: InstanceLock,
        lines: Lines,
        pid: int,
        welcome: Welcome,
        on_event: OnEvent | None = None,
        on_gone: OnGone | None = None,
    ) -> None:
        self._instance = instance
        self.pid = pid
        """The process of the player."""
        self.number = welcome.client
        """The number of this client, as in `controller` of a snapshot."""
        self._lines = lines
        self._on_event = on_event
        self._on_gone = on_gone
        self._news = threading.Condition()
        self._writing = threading.Lock()
        self._outbox: Outbox[Heard] = Outbox(MOST_WAITING)
        self._answers: dict[int, Done | Refused | None] = {}
        self._asked = 0
        self.snapshot: Snapshot | None = None
        """The latest that came, or None where none came yet."""
        self._why_gone = ""
        self._beats = welcome.beats
        self._silent_s = 0.0
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
    def gone(self) -> PlayerGone | None:
        """Why the connection ended, or None while it stands."""
        return PlayerGone(self._why_gone) if self._why_gone else None

    @property
    def is_silent(self) -> bool:
        """Whether the player does not answer, while the connection stands."""
        return self._beats and self._silent_s >= SILENT_S and not self._why_gone

    @property
    def silent(self) -> PlayerSilent:
        """What is to be said of a player that does not answer."""
        outputs = () if self.snapshot is None else self.snapshot.outputs
        what = silent_text(self.pid, (output.name for output in outputs))
        return PlayerSilent(f"{what}. What was asked is given up, and not done later")

    def ask(self, request: AnyRequest, timeout_s: float = 30) -> None:
        """Ask for something and wait until it is done.

        What was given up, be it by the timeout, is not done later. A blackout does not need the connection.
        Raises PlayerRefused, PlayerGone at once when the connection ends, and PlayerSilent where the player does not
        answer, or not in time.
        """
        if isinstance(request, StartBlackout):
            if not self.black_out():
                raise PlayerSilent(NOT_DARK_YET.format(pid=self.pid))
        elif self._silent_s >= GIVEN_UP_S:
            raise self.silent  # a word now might reach a player that is just waking
        elif not self._answered(request, timeout_s, asked_ms=now_ms()):
            if self.is_silent:
                raise self.silent
            raise PlayerSilent(f"the player (process {self.pid}) did not answer within {timeout_s:g} s")

    def black_out(self) -> bool:
        """Make the line dark, whatever else the player does, or as soon as it goes on; return whether it is.

        Raises PlayerGone and PlayerRefused.
        """
        if not self._instance.blackout_page.exists():
            return self._answered(StartBlackout(), GIVEN_UP_S)
        try:
            black_out(self._instance.folder)
        except NoAnswer:
            return False
        with self._news:
            self._news.wait_for(
                lambda: self._why_gone or (self.snapshot is not None and self.snapshot.is_blacked_out), TOLD_IN_S
            )
        return True

    def _answered(self, request: Request, timeout_s: float, asked_ms: int | None = None) -> bool:
        """Ask for something, and return whether it was done in time. Raises PlayerGone and PlayerRefused."""
        with self._news:
            self._asked += 1
            number = self._asked
            self._answers[number] = None
        try:
            until_ms = None if asked_ms is None else asked_ms + int(timeout_s * 1000)
            self._send(request.changed(id=number, asked_ms=asked_ms, until_ms=until_ms))
            with self._news:
                self._news.wait_for(
                    lambda: self._answers[number] or self._why_gone or self._silent_s >= GIVEN_UP_S, timeout_s
                )
                answer = self._answers[number]
        finally:
            with self._news:
                del self._answers[number]
        if isinstance(answer, Refused):
            raise PlayerRefused(answer.what)
        if answer is None and self._why_gone:
            raise PlayerGone(self._why_gone)
        return answer is not None

    def next(self, timeout_s: float) -> Heard | None:
        """Return what the player said next (a snapshot, `told`, `ended`, a silence), or None after the timeout.

        Of several snapshots only the newest waits. What was said before the end of the connection is still
        handed out; then PlayerGone is raised. Nothing waits here where `on_event` was given.
        """
        with self._news:
            self._news.wait_for(lambda: self._outbox or self._why_gone, timeout_s)
            event = self._outbox.take()
        if event is None and self._why_gone:
            raise PlayerGone(self._why_gone)
        return event

    def close(self, *, leave: bool = True) -> None:
        """End the connection, with a farewell or without; safe to call twice. `on_gone` is not called."""
        if self._is_closed:
            return
        self._is_closed = True
        if leave and not self._why_gone and not self.is_silent:
            with suppress(PlayerGone):
                self._send(Leave())
                self._reader.join(FAREWELL_S)  # the player ends the connection once it has heard it
        self._lines.end()
        self._reader.join(FAREWELL_S)  # before the socket is closed: its number may be another file's at once
        self._lines.close()

    def _send(self, request: Request) -> None:
        if self._why_gone:
            raise PlayerGone(self._why_gone)
        try:
            with self._writing:
                self._lines.write(request.to_line())
        except OSError as error:
            self._lines.end()  # half a line may be on its way: nothing can follow it
            raise PlayerGone(self._gone()) from error

    def _gone(self) -> str:
        if self._is_closed:
            return f"this client has left the player (process {self.pid})"
        return f"the player (process {self.pid}) is gone: it ended, or closed the channel"

    def _read(self) -> None:
        with suppress(OSError, EOFError, BadMessage):
            while True:
                line = self._lines.read(on_wait=self._wait)
                self._end_silence()
                if line != BEAT:
                    self._hear(event_in(line))
        with self._news:
            self._why_gone = self._gone()
            self._news.notify_all()
        if self._on_gone is not None and not self._is_closed:
            with suppress(Exception):  # a screen that is being closed hears nothing any more
                self._on_gone(PlayerGone(self._why_gone))

    def _wait(self, waited_s: float) -> None:
        """Count for how long nothing came, and tell of it when it is too long, and then every second."""
        before_s, self._silent_s = self._silent_s, self._silent_s + waited_s
        if self.is_silent:
            with self._news:
                self._news.notify_all()  # whoever waits for an answer may give up
            if before_s < SILENT_S or int(before_s) < int(self._silent_s):
                self._hand_on(Silence(self._silent_s))

    def _end_silence(self) -> None:
        was_silent, lasted_s, self._silent_s = self.is_silent, self._silent_s, 0.0
        if was_silent:
            self._hand_on(Silence(lasted_s, is_over=True))

    def _hear(self, event: AnyEvent) -> None:
        with self._news:
            if isinstance(event, Done | Refused):
                if event.id in self._answers:
                    self._answers[event.id] = event
                    self._news.notify_all()
                return
            if isinstance(event, Snapshot):
                self.snapshot = event
                self._news.notify_all()
        self._hand_on(event)

    def _hand_on(self, heard: Heard) -> None:
        if self._on_event is not None:
            with suppress(Exception):  # a screen that is being closed hears nothing any more
                self._on_event(heard)
            return
        with self._news:
            if not self._outbox.put(heard):
                self._outbox.take()
                self._outbox.put(heard)
            self._news.notify_all()


def find_player(folder: Path, *, on_event: OnEvent | None = None, on_gone: OnGone | None = None) -> PlayerClient | None:
    """Return a connection to the player of a folder, or None where none runs. Raises PlayerRefused, PlayerSilent.

    The callbacks are called in the reader's thread, the first ones maybe before this returns.
    """
    instance = InstanceLock.used_by_player(folder)
    announcement = instance.found()
    reached = None if announcement is None else connect(announcement)
    if announcement is None or reached is None:
        return None
    lines, welcome = reached
    return PlayerClient(instance, lines, announcement.pid, welcome, on_event, on_gone)


def start_player(
    folder: Path,
    *,
    resume: bool = False,
    timeout_s: float = 30,
    on_event: OnEvent | None = None,
    on_gone: OnGone | None = None,
    module: str = "cuedeck.player",
) -> PlayerClient:
    """Return a connection to the player of a folder, which is started where none runs.

    Where someone else starts one at the same time, that one is taken. Raises PlayerGone with the reason
    when the player ends or cannot be reached in time, and PlayerRefused.
    """
    from cuedeck.player.channel.spawn import spawn  # what starts processes takes its time to load

    instance = InstanceLock.of(folder)
    client = find_player(folder, on_event=on_event, on_gone=on_gone)
    if client is not None:
        return client
    until = time.monotonic() + timeout_s
    spawned, spawned_s = spawn(instance, module, resume=resume), time.monotonic()
    try:
        while time.monotonic() < until:
            exit_code = spawned.exit_code  # before the player is looked for: it may end in between
            found_another = exit_code == ALREADY_RUNS_EXIT  # that one may have been about to end
            with suppress(PlayerSilent):
                client = find_player(folder, on_event=on_event, on_gone=on_gone)
            if client is not None:
                if client.pid != spawned.pid:
                    spawned.give_up()
                return client
            if found_another and time.monotonic() - spawned_s > FINDS_OTHER_S:
                raise PlayerGone(spawned.last_words)
            if found_another:
                spawned = spawn(instance, module, resume=resume)
            elif exit_code is not None:
                raise PlayerGone(f"the player did not start: {spawned.last_words}")
            time.sleep(LOOKS_AGAIN_S)
    finally:
        spawned.leave_alone()
    raise PlayerGone(f"the player could not be reached within {timeout_s:g} s; look into {instance.log}")
