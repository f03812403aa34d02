"""OSC 1.0 over UDP: messages from the floor to a take.

    /cuedeck/start              start a take that is armed
    /cuedeck/cue N              fire cue N of the operator's
    /cuedeck/axis NAME VALUE    where an axis is, in mm or deg
    /cuedeck/hold               hold the shot where it is, and again to let it go on; with 1 or 0, hold or go on

Nothing that arrives can raise an exception. What is malformed, unknown, out of place or from a sender that is not
allowed is counted and ignored.
"""

from __future__ import annotations

import socket
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping
from enum import StrEnum

from cuedeck.input.axis import AxisFollower
from cuedeck.input.base import InputUnusable, RunningTake, ThreadedInput
from cuedeck.input.osc_messages import Argument, Malformed, OscMessage, read_datagram
from cuedeck.show.floor import OscListening
from cuedeck.show.spelling import as_one

LARGEST_DATAGRAM = 65_535
LISTEN_S = 0.1


class Outcome(StrEnum):
    """What became of a datagram or of a message in it."""

    TAKEN = "taken"
    NOT_ALLOWED = "from senders that are not allowed"
    MALFORMED = "malformed"
    UNKNOWN = "to an address that is not known"
    OUT_OF_PLACE = "out of place: no start was waited for, no such cue or axis, or no take was rolling"


class OscServer(ThreadedInput):
    """Receives OSC messages for one take."""

    thread_name = "osc"

    def __init__(
        self,
        listening: OscListening,
        take: RunningTake,
        cues: Collection[str],
        *,
        waits_for_start: bool,
        follower: AxisFollower | None = None,
    ) -> None:
        super().__init__()
        self.counts: Counter[Outcome] = Counter()
        """What became of what arrived."""
        self._listening = listening
        self._take = take
        self._cues = frozenset(cues)
        self._waits_for_start = waits_for_start
        self._follower = follower
        self._socket: socket.socket | None = None
        self._handlers: Mapping[str, Callable[[tuple[Argument, ...]], Outcome]] = {
            "/cuedeck/start": self._start,
            "/cuedeck/cue": self._cue,
            "/cuedeck/axis": self._axis,
            "/cuedeck/hold": self._hold,
        }

    def __str__(self) -> str:
        return "; ".join(f"{self.counts[one]} {one}" for one in Outcome if one is Outcome.TAKEN or self.counts[one])

    @property
    def address(self) -> tuple[str, int]:
        """Where it listens."""
        if self._socket is None:
            return self._listening.bind, self._listening.port
        host, port = self._socket.getsockname()
        return host, port

    def open(self) -> None:
        """Bind the port. Raises InputUnusable."""
        try:
            import pythonosc.osc_message  # noqa: F401 - a missing one is reported now
        except ImportError as error:
            raise InputUnusable("OSC needs the extra 'osc': pip install 'cuedeck[osc]'") from error
        where = f"{self._listening.bind}:{self._listening.port}"
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.settimeout(LISTEN_S)
        try:
            self._socket.bind((self._listening.bind, self._listening.port))
        except OSError as error:
            self._release()
            why = (error.strerror or "it will not open").lower()
            cure = "write a free port, or an address of this computer, under 'osc:'"
            raise InputUnusable(f"OSC cannot be listened for on {where}: {why}\n    {cure}") from error

    def handle(self, datagram: bytes, sender: str) -> None:
        """Do what a datagram asks for, and count what became of it. Never raises."""
        self.counts.update(self._outcomes(datagram, sender))

    def _release(self) -> None:
        bound, self._socket = self._socket, None
        if bound is not None:
            bound.close()

    def _listen(self) -> None:
        while self._socket is not None and not self._stop.is_set():
            try:
                datagram, (sender, _) = self._socket.recvfrom(LARGEST_DATAGRAM)
            except TimeoutError:
                continue
            except OSError:  # what a network reports about others is no reason to stop listening
                self._stop.wait(LISTEN_S)
                continue
            self.handle(datagram, sender)

    def _outcomes(self, datagram: bytes, sender: str) -> Iterator[Outcome]:
        if sender not in self._listening.allow:
            yield Outcome.NOT_ALLOWED
            return
        try:
            messages = read_datagram(datagram)
        except Malformed:
            yield Outcome.MALFORMED
            return
        for message in messages:
            yield self._outcome(message)

    def _outcome(self, message: OscMessage) -> Outcome:
        handler = self._handlers.get(message.address)
        return Outcome.UNKNOWN if handler is None else handler(message.arguments)

    def _start(self, arguments: tuple[Argument, ...]) -> Outcome:
        if arguments:
            return Outcome.MALFORMED
        if not self._waits_for_start or self._take.is_started:
            return Outcome.OUT_OF_PLACE
        self._take.start()
        return Outcome.TAKEN

    def _cue(self, arguments: tuple[Argument, ...]) -> Outcome:
        if len(arguments) != 1:
            return Outcome.MALFORMED
        name = f"{arguments[0]:g}" if isinstance(arguments[0], float) else as_one(str(arguments[0]))
        if name not in self._cues or not self._take.is_rolling:
            return Outcome.OUT_OF_PLACE
        self._take.fire(name)
        return Outcome.TAKEN

    def _hold(self, arguments: tuple[Argument, ...]) -> Outcome:
        if arguments not in ((), (0,), (1,)):
            return Outcome.MALFORMED
        if not self._take.is_rolling:
            return Outcome.OUT_OF_PLACE
        self._take.hold(bool(arguments[0]) if arguments else None)
        return Outcome.TAKEN

    def _axis(self, arguments: tuple[Argument, ...]) -> Outcome:
        match arguments:
            case (str() as axis, int() | float() as position):
                pass
            case _:
                return Outcome.MALFORMED
        if self._follower is None:
            return Outcome.OUT_OF_PLACE
        try:
            return Outcome.TAKEN if self._follower.moved(as_one(axis), float(position)) else Outcome.OUT_OF_PLACE
        except ValueError:
            return Outcome.MALFORMED
