"""The player's side of the channel: clients come, ask, are told, and go.

The invariant owned here: nothing that a client does or leaves undone keeps the player or another client
waiting, and nobody is heard who has not proved that he can read what the player announced.
"""

from __future__ import annotations

import asyncio
import secrets
import socket
import sys
import threading
import traceback
from collections.abc import Callable
from contextlib import suppress
from typing import Protocol

from cuedeck.errors import Refusal
from cuedeck.player.channel.connection import Connection
from cuedeck.player.channel.events import AnyEvent, Refused, Snapshot, Welcome
from cuedeck.player.channel.handshake import ANSWER_LENGTH, PLAYER_WAITS_S, PlayerProof, Stranger
from cuedeck.player.channel.requests import AnyRequest
from cuedeck.player.channel.socket_lines import send_at_once
from cuedeck.player.instance_lock import VERSION, InstanceLock

MOST_NOT_ACCEPTED = 64
LOOKS_AGAIN_S = 1.0
MOST_CLIENTS = 16
MOST_UNPROVEN = 16
"""Connections that have not proved yet who they are; the oldest makes room, so that strangers lock nobody out."""
LAST_WORDS_S = 1.0
"""How long the server sees to it at its end that everything is said."""


class ChannelFailed(Refusal):
    """The channel could not be opened."""


class Handler(Protocol):
    """What stands behind the channel. All but those that take time are handed over in the thread "control"."""

    def came(self, client: int) -> None:
        """A client is there, and was welcomed. It has been sent the snapshot that was published last."""

    def left(self, client: int, on_purpose: bool) -> None:
        """A client is gone: it said `leave`, or was lost. Not called for those that are there at `close`.

        A slow request of a client that is lost is finished all the same; those behind it are forgotten.
        """

    def answer(self, client: int, request: AnyRequest) -> None:
        """Carry out a request; `leave` never comes here.

        Immediate requests come in the thread "control" and must not wait; slow ones come in a thread of their
        client's, one after the other. Raises Refusal, whose words the client gets.
        """


class ControlServer:
    """Serves the clients of one player, in a thread of its own."""

    def __init__(self, instance: InstanceLock, handler: Handler, *, beats: bool = False) -> None:
        """Whether clients may rely on it that something is published every BEAT_S."""
        self._instance = instance
        self._beats = beats
        self._handler = handler
        self._secret = secrets.token_hex(32)
        self._thread: threading.Thread | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._ending = asyncio.Event()
        self._failed: Exception | None = None
        self._latest: Snapshot | None = None
        self._connections: set[asyncio.Task[None]] = set()
        self._unproven: dict[asyncio.Task[None], None] = {}
        """In the order in which they came."""
        self._clients: dict[int, Connection] = {}
        self._client_count = 0

    def start(self) -> None:
        """Open the channel and announce it. The folder has to be claimed before. Raises ChannelFailed."""
        is_open = threading.Event()
        self._thread = threading.Thread(target=self._run, args=(is_open,), name="control", daemon=True)
        self._thread.start()
        is_open.wait()
        if self._failed is not None:
            self.close()
            raise ChannelFailed(f"the channel for clients cannot be opened: {self._failed}") from self._failed

    def publish(self, event: AnyEvent, to: int | None = None) -> None:
        """Say something to all clients, or to one. Never waits, never raises; from any thread.

        A snapshot for all is also what a client gets that comes later.
        """
        if isinstance(event, Snapshot) and to is None:
            self._latest = event
        self._in_loop(self._send, event, to)

    def beat(self) -> None:
        """Let all clients know that the player is well. Never waits, never raises; from any thread."""
        self._in_loop(self._beat)

    def close(self) -> None:
        """Say what is still to be said, for a second at most, then end the connections.

        What was announced is withdrawn. Safe to call twice, and before `start`.
        """
        self._instance.withdraw()  # first: nobody is to come to what is just ending
        self._in_loop(self._ending.set)
        if self._thread is not None and self._loop is not None and threading.current_thread() is not self._thread:
            self._thread.join(3 * LAST_WORDS_S)

    def _in_loop(self, what: Callable[..., object], *arguments: object) -> None:
        loop = self._loop
        if loop is not None:
            with suppress(RuntimeError):  # it is closed
                loop.call_soon_threadsafe(what, *arguments)

    def _run(self, is_open: threading.Event) -> None:
        try:
            # A selector loop on every system, that of Windows too: the listener adds its socket to it.
            with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
                runner.run(self._serve(is_open))
        except Exception as error:  # what it was is raised in `start`
            self._failed = error
        finally:
            is_open.set()

    async def _serve(self, is_open: threading.Event) -> None:
        self._loop = asyncio.get_running_loop()
        listener = Listener(self._instance, self._let_in)
        try:
            self._instance.announce(listener.address, self._secret)
            is_open.set()
            await self._ending.wait()
        finally:
            listener.close()
            await self._end()

    async def _end(self) -> None:
        with suppress(TimeoutError):
            async with asyncio.timeout(LAST_WORDS_S):
                while not all(client.is_quiet for client in self._clients.values()):
                    await asyncio.sleep(0.005)
        for task in self._connections:
            task.cancel()
        if self._connections:
            await asyncio.wait(self._connections)
        await asyncio.sleep(0)  # the loop closes what was let go of

    def _let_in(self, connected: socket.socket) -> None:
        if len(self._unproven) >= MOST_UNPROVEN:
            oldest = next(iter(self._unproven))
            del self._unproven[oldest]
            oldest.cancel()
        task = asyncio.get_running_loop().create_task(self._serve_socket(connected))
        self._connections.add(task)
        self._unproven[task] = None
        task.add_done_callback(lambda task: self._forget(task, connected))

    def _forget(self, task: asyncio.Task[None], connected: socket.socket) -> None:
        self._connections.discard(task)
        self._unproven.pop(task, None)
        connected.close()
        if not task.cancelled() and (error := task.exception()) is not None:
            traceback.print_exception(error, file=sys.stderr)  # the player's log

    async def _serve_socket(self, connected: socket.socket) -> None:
        reader, writer = await asyncio.open_connection(sock=connected)
        try:
            with suppress(OSError, Stranger, asyncio.IncompleteReadError):  # among them the timeout
                await self._check_identity(reader, writer)
                if (task := asyncio.current_task()) is not None:
                    self._unproven.pop(task, None)
                await self._serve_client(reader, writer)
        finally:
            await _let_go(writer)

    async def _check_identity(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Have the client prove who it is. Raises Stranger, TimeoutError, IncompleteReadError, OSError."""
        side = PlayerProof(self._secret)
        writer.write(side.greeting)
        async with asyncio.timeout(PLAYER_WAITS_S):
            writer.write(side.answer_to(await reader.readexactly(ANSWER_LENGTH)))

    async def _serve_client(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if len(self._clients) >= MOST_CLIENTS:
            writer.write(Refused(id=0, what=f"{MOST_CLIENTS} clients are there already; close one").to_line())
            return
        self._client_count += 1
        client = Connection(self._client_count, reader, writer, self._handler.answer)
        client.send(Welcome(client=client.number, version=VERSION, beats=self._beats))
        if self._latest is not None:
            client.send(self._latest)
        self._clients[client.number] = client
        try:
            self._handler.came(client.number)
            await client.serve()
        finally:
            del self._clients[client.number]
            if not self._ending.is_set():
                self._handler.left(client.number, client.left_on_purpose)

    def _beat(self) -> None:
        for client in self._clients.values():
            client.beat()

    def _send(self, event: AnyEvent, to: int | None) -> None:
        for client in list(self._clients.values()):
            if to is None or to == client.number:
                client.send(event)


async def _let_go(writer: asyncio.StreamWriter) -> None:
    """Close a connection; whoever does not take what is still on its way does not keep it open."""
    writer.close()
    try:
        async with asyncio.timeout(LAST_WORDS_S):
            await writer.wait_closed()
    except (OSError, asyncio.CancelledError):  # among them the timeout
        writer.transport.abort()


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
