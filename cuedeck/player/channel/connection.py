"""One client, as the server has it: what it asks is handed on, what it is to hear waits until it listens.

Everything here happens in the thread of the server's loop, but for the slow requests. They have a thread for each
client, and none that anything waits for: a request that hangs keeps up neither the other clients, nor a blackout of
the same client, nor the end of the process.
"""

from __future__ import annotations

import asyncio
import queue
import sys
import threading
import traceback
from collections.abc import Callable
from contextlib import suppress

from cuedeck.errors import Refusal
from cuedeck.player.channel.events import AnyEvent, Done, Refused, Snapshot
from cuedeck.player.channel.message import BadMessage
from cuedeck.player.channel.outbox import Outbox
from cuedeck.player.channel.requests import AnyRequest, Leave, longest_of, request_in
from cuedeck.player.channel.silence import BEAT

MOST_WAITING = 1_000
"""Events that may wait for a client, besides a snapshot. One that is slower than that is dropped."""
MOST_SLOW = 16
"""Slow requests of one client that may wait."""
MOST_NONSENSE = 100
"""Messages that were none, after which a client is dropped."""


OnRequest = Callable[[int, AnyRequest], None]
"""Carries out what a client asks, named by its number. Raises Refusal."""


class Connection:
    """A client that has proved who it is."""

    def __init__(
        self, number: int, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, on_request: OnRequest
    ) -> None:
        self.number = number
        self.left_on_purpose = False
        self._reader = reader
        self._writer = writer
        self._on_request = on_request
        self._loop = asyncio.get_running_loop()
        self._outbox: Outbox[AnyEvent] = Outbox(MOST_WAITING)
        self._wake = asyncio.Event()
        self._slow = RequestThread(f"control client {number}")
        self._unanswered = 0
        self._is_writing = False
        # Nothing lies about in the process: what is not in the hands of the system can still be replaced.
        writer.transport.set_write_buffer_limits(0)

    @property
    def is_quiet(self) -> bool:
        """Whether it has its answers and has been told everything."""
        return not (self._unanswered or self._outbox or self._is_writing)

    def send(self, event: AnyEvent) -> None:
        """Have the client told something. One that has too much waiting is dropped."""
        if self._outbox.put(event):
            self._wake.set()
        else:
            self.drop()

    def beat(self) -> None:
        """Let the client know that the player is well, unless it is being told something anyway."""
        if not (self._outbox or self._is_writing or self._writer.transport.get_write_buffer_size()):
            self._writer.write(BEAT)

    def drop(self) -> None:
        self._writer.transport.abort()

    async def serve(self) -> None:
        """Hear and tell until the client leaves, is lost or is dropped."""
        writing = asyncio.create_task(self._write_events())
        writing.add_done_callback(self._writing_ended)
        try:
            with suppress(ConnectionError, asyncio.IncompleteReadError):
                await self._hear()
            if self.left_on_purpose:
                await self._see_off()
        finally:
            self._slow.close()
            writing.cancel()
            await asyncio.wait([writing])

    async def _hear(self) -> None:
        nonsense = 0
        while nonsense < MOST_NONSENSE and not self.left_on_purpose:
            try:
                self._take_up(request_in(await self._line()))
            except BadMessage as error:
                nonsense += 1
                self.send(Refused(id=0, what=str(error)))
            await asyncio.sleep(0)  # one that asks without end keeps nobody else waiting

    async def _line(self) -> bytes:
        """Return the next line. The buffer is a short one, since strangers may fill it: a long line comes in parts."""
        line = bytearray()
        while len(line) <= longest_of(line):
            try:
                return bytes(line + await self._reader.readuntil(b"\n"))
            except asyncio.LimitOverrunError as overrun:
                line += await self._reader.readexactly(overrun.consumed)
        raise ConnectionError("a line without an end")

    def _take_up(self, request: AnyRequest) -> None:
        self._unanswered += 1
        if isinstance(request, Leave):
            self.left_on_purpose = True
            self._answered(Done(id=request.id))
        elif request.is_immediate:
            # Later, not now: what was published on the way is said before the answer.
            self._loop.call_soon(self._answered, self._answer(request))
        elif not self._slow.put(lambda: self._answer_slowly(request)):
            self._answered(Refused(id=request.id, what="too much waits already; wait for the answers"))

    def _answer(self, request: AnyRequest) -> Done | Refused:
        try:
            self._on_request(self.number, request)
        except Refusal as refusal:
            return Refused(id=request.id, what=str(refusal))
        except BaseException as error:  # whatever it is, the others are still to be served
            traceback.print_exc(file=sys.stderr)  # the player's log
            return Refused(id=request.id, what=f"cuedeck itself failed at this: {type(error).__name__}: {error}")
        return Done(id=request.id)

    def _answer_slowly(self, request: AnyRequest) -> None:
        answer = self._answer(request)
        with suppress(RuntimeError):  # the server was closed meanwhile
            self._loop.call_soon_threadsafe(self._answered, answer)

    def _answered(self, answer: Done | Refused) -> None:
        self._unanswered -= 1
        self.send(answer)

    def _writing_ended(self, writing: asyncio.Task[None]) -> None:
        if not writing.cancelled():
            self.drop()

    async def _write_events(self) -> None:
        while True:
            await self._wake.wait()
            self._wake.clear()
            self._is_writing = True
            while (event := self._outbox.take()) is not None:
                self._writer.write(self._own(event).to_line())
                await self._writer.drain()
            self._is_writing = False

    def _own(self, event: AnyEvent) -> AnyEvent:
        if isinstance(event, Snapshot):
            return event.changed(has_control=event.controller == self.number)
        return event

    async def _see_off(self) -> None:
        with suppress(TimeoutError):
            async with asyncio.timeout(1):
                while not self.is_quiet and not self._writer.transport.is_closing():
                    await asyncio.sleep(0.005)


class RequestThread:
    """Runs what it is given in order. Its thread begins with the first."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._jobs: queue.Queue[Callable[[], None]] = queue.Queue(MOST_SLOW)
        self._thread: threading.Thread | None = None
        self._is_closed = False

    def put(self, job: Callable[[], None]) -> bool:
        """Have something done, and return whether there was room for it. It must not raise."""
        try:
            self._jobs.put_nowait(job)
        except queue.Full:
            return False
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name=self._name, daemon=True)
            self._thread.start()
        return True

    def close(self) -> None:
        """Finish what is being done, and do nothing that still waits. Does not wait; safe to call twice."""
        self._is_closed = True
        if self._thread is not None:
            self.put(lambda: None)  # wakes the thread; where there is no room, it is awake

    def _run(self) -> None:
        while True:
            job = self._jobs.get()
            if self._is_closed:
                return
            job()
