"""An output that cannot keep the others waiting, and that comes back by itself when it was lost.

Whoever hands packets over is never kept waiting and never sees an error. Each outlet has a thread. It takes
the newest packet to an output that may be slow; while one is under way there is room for one more. A prompt
output is called in place instead, by whoever has its turn, and the thread sleeps until it is lost: starting
one only then would keep the packets of all the others waiting until it runs.

Every packet leaves, waits as the only one, or is missed. They are numbered as they are handed over, so whoever
takes the newest knows how many it has replaced, and nothing else needs counting on the side that hands over.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from enum import StrEnum
from itertools import chain, repeat
from typing import NamedTuple

from cuedeck.clock import Clock
from cuedeck.output.base import Line, Output, OutputLost, Packet, Shared
from cuedeck.output.tally import FASTEST_HZ, INCIDENTS_KEPT, Tally, keep_time, rate_hz
from cuedeck.output.words import cannot_open, is_back, is_tried_again, was_lost
from cuedeck.ports import NO_MORE_THREADS
from cuedeck.show.units import FULL_UNIVERSE

RETRY_S = (0.25, 0.5, 1.0, 2.0)
"""Pauses before a lost output is tried again; the last one is repeated."""
PROMPT_RETRY_S = (0.1,)
"""The same for a prompt output, which costs next to nothing to try: a receiver of streaming ACN gives a source up
after 2.5 s (E131_NETWORK_DATA_LOSS_TIMEOUT, ANSI E1.31-2018, appendix A)."""
PATIENCE_S = 2.0
"""How long an output is waited for that does not answer."""


class OutletState(StrEnum):
    """What an outlet makes of its output."""

    CLOSED = "closed"
    """Packets are missed."""
    OPENING = "opening"
    """It is being opened, for the first time or again. The newest packet waits."""
    OPEN = "open"
    """Packets leave, also while it changes over to another line."""
    LOST = "lost"
    """It failed, and is tried again. Packets are missed."""


class OutletEvent(StrEnum):
    """What may happen to an output."""

    TRIED = "it is tried"
    OPENED = "it is open on a line, and the newest packet has left"
    REFUSED = "it did not open, and nobody wants it then"
    FAILED = "it raised"
    ENDED = "it was let go of for good"


_S, _E = OutletState, OutletEvent
TRANSITIONS: Mapping[tuple[OutletState, OutletEvent], OutletState] = {
    (_S.CLOSED, _E.TRIED): _S.OPENING,
    (_S.CLOSED, _E.ENDED): _S.CLOSED,
    (_S.OPENING, _E.OPENED): _S.OPEN,
    (_S.OPENING, _E.REFUSED): _S.CLOSED,
    (_S.OPENING, _E.FAILED): _S.LOST,
    (_S.OPEN, _E.OPENED): _S.OPEN,
    (_S.OPEN, _E.FAILED): _S.LOST,
    (_S.OPEN, _E.ENDED): _S.CLOSED,
    (_S.LOST, _E.TRIED): _S.OPENING,
    (_S.LOST, _E.ENDED): _S.CLOSED,
}
TAKES_PACKETS = (OutletState.OPENING, OutletState.OPEN)


class Handed(NamedTuple):
    """The newest packet that was handed over."""

    number: int
    """Counted from 1 for the first packet of the outlet."""
    packet: Packet | None
    line: Line | None
    """What the packet is meant for: the line that was asked for when it came."""

    def fits(self, line: Line | None) -> bool:
        """Return whether a line can carry it."""
        if self.packet is None or self.line is None or line is None:
            return False
        # Whoever changes the line may be another thread than the one that sends: the shape tells.
        is_whole = self.packet.slots.shape == (len(line.universes), FULL_UNIVERSE)
        return is_whole and self.line.universes == line.universes


class Outlet:
    """One output of the player. One thread hands packets over; the rest may be called from any.

    What `tell` is given is said on the outlet's thread, once for each loss and once for each return.
    """

    def __init__(
        self, output: Output, clock: Clock, tell: Callable[[str], None], *, retry_s: Sequence[float] | None = None
    ) -> None:
        self.output = output
        self.name = output.name
        self.line: Line | None = None
        """The line that it is open on, or is to be."""
        self._clock = clock
        self._tell = tell
        self._is_prompt = output.is_prompt
        self._retry_s = retry_s or (PROMPT_RETRY_S if self._is_prompt else RETRY_S)
        self._thread: threading.Thread | None = None
        self._is_closing = False
        self._must_open = True
        self._refusal: OutputLost | None = None

        # Replaced as a whole by the one thread that hands over, which so waits for nothing, not even for the lock.
        self._handed = Handed(0, None, None)

        # The turn is held while the output is at work, which may take long; it never runs twice at a time. The lock
        # is held for a few steps of arithmetic and never while the output is at work. Only who has the turn writes
        # what stands under the lock, so he may read it without.
        self._turn = threading.Lock()
        self._lock = threading.Lock()
        self._changed = threading.Condition(self._lock)
        self._watchers = 0
        self._state = OutletState.CLOSED
        self._line_open: Line | None = None
        """The line that the output is open on; the last one while it is lost."""
        self._lost = ""
        """Why it was lost, until the newest packet has left again: one that opens and cannot send is not back."""
        self._taken = self._sent = self._times_lost = 0
        self._is_under_way = False
        self._incidents: deque[str] = deque(maxlen=INCIDENTS_KEPT)
        self._left_ns: deque[int] = deque(maxlen=FASTEST_HZ)

        # Held while the thread has nothing to do: a release wakes it sooner than an event would.
        self._wake = threading.Lock()
        self._wake.acquire()

    def __repr__(self) -> str:
        return f"<Outlet {self.name}, {self._state}>"

    def open(self, line: Line, *, must: bool = True, waits: bool = True) -> None:
        """Open the output, or change it over to another line; waits for that, for at most `PATIENCE_S`.

        Without `waits`, packets for the new line wait for the change instead, where they may.

        Raises OutputLost where it `must` open and does not at first, and once it is closed. Otherwise an output
        that does not open, and one that does not change over, is lost: told, and tried again.
        """
        if self._is_closing:
            raise OutputLost(f"{self.name} was closed")
        self._must_open, self._refusal = must, None
        self.line = line
        if self._thread is None:
            self._thread = self._started()
        if self._is_prompt and not self._lost:
            self._work()
        else:
            self._rouse()
        if not waits:
            return
        has_answered = self._wait_for(
            lambda: self._line_open is line or self._refusal is not None or bool(self._lost), PATIENCE_S
        )
        if self._refusal is not None:
            raise self._refusal
        if must and self._line_open is None and not has_answered:
            raise OutputLost(cannot_open(self.name, f"it has not answered for {PATIENCE_S:g} s"))

    @property
    def has_spare(self) -> bool:
        """Whether another computer has the lamps once this output ends."""
        return isinstance(self.output, Shared) and self.output.has_spare

    def send(self, packet: Packet) -> None:
        """Hand a packet over. Never raises and never waits; what becomes of it is in the tally."""
        self._handed = Handed(self._handed.number + 1, packet, self.line)
        if self._is_prompt:
            self._work()
        elif not self._lost:  # else the thread pauses between two tries, and no packet is to cut that short
            self._rouse()

    def settle(self, timeout_s: float) -> bool:
        """Wait until what was handed over has left or was given up; return whether that is so."""
        return self._wait_for(lambda: self._pending_of(self._handed.number) == 0, timeout_s)

    @property
    def tally(self) -> Tally:
        """What became of the packets so far."""
        with self._lock:
            handed = self._handed.number  # looked at once: another may be handed over at any time
            missed = handed - self._sent - self._pending_of(handed)
            numbers = (self._sent, missed, self._times_lost, self._lost)
            left_ns, incidents = tuple(self._left_ns), tuple(self._incidents)
        return Tally(self.name, *numbers, rate_hz(left_ns, self._clock.now_ns()), incidents)

    def close(self) -> None:
        """Let the packet that waits leave, and let go of the output for good; safe to call twice.

        One that does not answer for `PATIENCE_S` is left to itself.
        """
        if self._is_closing:
            return
        self._is_closing = True
        self._rouse()
        thread = self._thread
        if thread is not None and thread is not threading.current_thread():
            thread.join(PATIENCE_S)
        if thread is None or not thread.is_alive():
            self._let_go()

    # Threads: who works, and when.

    def _started(self) -> threading.Thread:
        thread = threading.Thread(target=self._run, name=self.name, daemon=True)
        try:
            thread.start()
        except RuntimeError as error:
            self.line = None
            why = NO_MORE_THREADS
            raise OutputLost(cannot_open(self.name, why)) from error
        return thread

    def _rouse(self) -> None:
        if self._wake.locked():
            with suppress(RuntimeError):  # somebody else has just released it
                self._wake.release()

    def _run(self) -> None:
        while not self._is_closing:
            self._wake.acquire()
            self._work()
            while self._lost and not self._is_closing:
                self._come_back()
                self._work()  # what was handed over during the last try has woken nobody
        self._let_go()

    @property
    def _has_work(self) -> bool:
        has_waiting = self._state in TAKES_PACKETS and self._handed.number != self._taken
        return not self._lost and (has_waiting or self.line is not self._line_open)

    def _work(self) -> None:
        """Work if nobody does; whoever does looks again afterwards, so that nothing handed over is forgotten."""
        while self._has_work and not self._is_closing and self._turn.acquire(blocking=False):
            try:
                self._send_and_change()
            finally:
                self._turn.release()
            if self._lost:
                self._rouse()

    def _come_back(self) -> None:
        """Say that the output is lost, and try until it is back or the outlet is closed."""
        self._wake.acquire(blocking=False)  # what woke it before the loss is no reason to hurry
        self._say(self._incidents[-1])
        for pause_s in chain(self._retry_s, repeat(self._retry_s[-1])):
            if not self._is_closing:
                self._wake.acquire(timeout=pause_s)  # a change of line, and the end, do not wait for the next try
            if self._is_closing or self._is_back():
                return

    def _is_back(self) -> bool:
        with self._turn:
            self._close_output()
            self._open_output()
            if not self._lost:
                self._say(is_back(self.name))
            return not self._lost

    def _say(self, words: str) -> None:
        with suppress(Exception):  # whoever is told must not end the thread
            self._tell(words)

    # The output: whoever calls these has the turn. Whatever it raises, be it a bug, makes it lost.

    def _send_and_change(self) -> None:
        """Send what waits, change over to the line that is wanted, and send what has waited for that."""
        self._send_waiting()
        if self.line is self._line_open:
            return
        self._send_waiting()  # what came while the one before was under way was still meant for the old line
        if not self._lost:
            self._open_output()
            self._send_waiting()

    def _send_waiting(self) -> None:
        packet = self._take()
        if packet is None:
            return
        try:
            self.output.send(packet)
        except Exception as error:
            self._fail(error)
        else:
            with self._lock:
                self._is_under_way = False
                self._sent += 1
                keep_time(self._left_ns, self._clock.now_ns())
                self._notify()

    def _take(self) -> Packet | None:
        """Return the packet that is to leave now, if any; one that is meant for the line to come waits for it."""
        with self._lock:
            handed = self._handed
            if self._state is not OutletState.OPEN or handed.number == self._taken:
                return None
            fits = handed.fits(self._line_open)
            if not fits and handed.fits(self.line):
                return None
            self._taken, self._is_under_way = handed.number, fits
            if not fits:
                self._notify()
            return handed.packet if fits else None

    def _open_output(self) -> None:
        """Open the line that is wanted; one that was not open counts as open once the newest packet has left on it."""
        line, is_change = self.line, self._state is OutletState.OPEN
        if line is None:
            return
        if not is_change:
            with self._lock:
                self._happened(OutletEvent.TRIED)
                self._taken = self._handed.number  # what was missed while it was lost stays missed
        try:
            self.output.open(line)
            if not is_change:
                self._show_newest(line)
        except Exception as error:
            self._fail(error)
        else:
            with self._lock:
                self._line_open, self._lost = line, ""
                self._happened(OutletEvent.OPENED)

    def _show_newest(self, line: Line) -> None:
        """Send what was handed over last, even where it has left before: a look that stands still comes only once."""
        with self._lock:
            handed = self._handed
            self._taken = handed.number  # it counts as missed all the same; the next one waits
        if handed.packet is not None and handed.fits(line):
            self.output.send(handed.packet)
            with self._lock:
                keep_time(self._left_ns, self._clock.now_ns())

    def _fail(self, error: Exception) -> None:
        """Refuse an output that had to open at first; else it is lost, or still is."""
        why = str(error) or type(error).__name__
        lost = error if isinstance(error, OutputLost) else OutputLost(was_lost(self.name, why))
        if self._line_open is None and self._must_open and not self._lost:
            self._close_output()
            with self._lock:
                self.line = None
                self._refusal = lost
                self._happened(OutletEvent.REFUSED)
            return
        with self._lock:
            if not self._lost:  # a try that fails is no second loss
                self._lost = str(lost)
                self._times_lost += 1
                self._incidents.append(is_tried_again(str(lost)))
            self._happened(OutletEvent.FAILED)

    def _let_go(self) -> None:
        """Close the output for good, after the packet that waits."""
        with self._turn:
            self._send_waiting()
            self._close_output()
            with self._lock:
                self.line = self._line_open = None
                self._happened(OutletEvent.ENDED)

    def _close_output(self) -> None:
        with suppress(Exception):  # it is let go of, whatever it says about that
            self.output.close()

    # The numbers, under the lock.

    def _happened(self, event: OutletEvent) -> None:
        self._state = TRANSITIONS[self._state, event]
        self._is_under_way = False  # what was under way when it failed is missed
        self._notify()

    def _pending_of(self, handed: int) -> int:
        """Return how many packets may still leave: one that is under way, one that waits."""
        return self._is_under_way + (self._state in TAKES_PACKETS and handed != self._taken)

    def _wait_for(self, is_so: Callable[[], bool], timeout_s: float) -> bool:
        with self._lock:
            self._watchers += 1
            try:
                return self._changed.wait_for(is_so, timeout_s)
            finally:
                self._watchers -= 1

    def _notify(self) -> None:
        if self._watchers:  # hardly ever: looking is quicker than notifying nobody
            self._changed.notify_all()
