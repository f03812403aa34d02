"""An output that cannot keep the others waiting, and that comes back by itself when it was lost.

Whoever hands packets over is never kept waiting and never sees an error. Each outlet has a thread. It takes
the newest packet to an output that may be slow; while one is under way there is room for one more. A prompt
output is called in place instead, by whoever has its turn, and the thread sleeps until it is lost: starting
one only then would keep the packets of all the others waiting until it runs.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from itertools import chain, repeat

from cuedeck.clock import Clock
from cuedeck.output.base import Line, Output, OutputLost, Packet, Shared
from cuedeck.output.carrier import Carrier
from cuedeck.output.ledger import Ledger
from cuedeck.output.tally import Tally

RETRY_S = (0.25, 0.5, 1.0, 2.0)
"""Pauses before a lost output is tried again; the last one is repeated."""
PROMPT_RETRY_S = (0.1,)
"""The same for a prompt output, which costs next to nothing to try: a receiver of streaming ACN gives a source up
after 2.5 s (E131_NETWORK_DATA_LOSS_TIMEOUT, ANSI E1.31-2018, appendix A)."""
PATIENCE_S = 2.0
"""How long an output is waited for that does not answer."""


class Outlet:
    """One output of the player. One thread hands packets over; the rest may be called from any.

    What `tell` is given is said on the outlet's thread, once for each loss and once for each return.
    """

    def __init__(
        self, output: Output, clock: Clock, tell: Callable[[str], None], *, retry_s: Sequence[float] | None = None
    ) -> None:
        self.output = output
        self.name = output.name
        self._clock = clock
        self._tell = tell
        self._ledger = Ledger(output.name)
        self._carrier = Carrier(output, self._ledger, clock)
        self._universes: tuple[int, ...] = ()
        self._is_prompt = output.is_prompt
        self._retry_s = retry_s or (PROMPT_RETRY_S if self._is_prompt else RETRY_S)
        self._is_closing = False
        self._turn = threading.Lock()
        self._stir = threading.Event()
        self._thread: threading.Thread | None = None
        self._wake = threading.Lock()  # held while there is nothing to do: a release wakes sooner than an event
        self._wake.acquire()

    def open(self, line: Line, *, must: bool = True, waits: bool = True) -> None:
        """Open the output, or change it over to another line; waits for that, for at most `PATIENCE_S`.

        Without `waits`, packets for the new line wait for the change instead, where they may.

        Raises OutputLost where it `must` open and does not at first, and once it is closed. Otherwise an output
        that does not open, and one that does not change over, is lost: told, and tried again.
        """
        if self._is_closing:
            raise OutputLost(f"{self.name} was closed")
        carrier = self._carrier
        carrier.must_open, carrier.refusal = must, None
        self._universes = line.universes
        carrier.wanted = line
        if self._thread is None:
            self._thread = self._started()
        self._stir.set()
        self._nudge()
        if not waits:
            return
        has_answered = self._ledger.wait_for(lambda: carrier.has_answered(line), PATIENCE_S)
        if carrier.refusal is not None:
            raise carrier.refusal
        if must and carrier.line is None and not has_answered:
            raise OutputLost(f"{self.name} cannot be opened: it has not answered for {PATIENCE_S:g} s")

    @property
    def line(self) -> Line | None:
        """The line that it is, or is to be, open on."""
        return self._carrier.wanted

    @property
    def has_spare(self) -> bool:
        """Whether another computer has the lamps once this output ends."""
        return isinstance(self.output, Shared) and self.output.has_spare

    def send(self, packet: Packet) -> None:
        """Hand a packet over. Never raises and never waits; what becomes of it is in the tally."""
        self._ledger.hand_over(packet, self._universes)
        self._nudge()

    def settle(self, timeout_s: float) -> bool:
        """Wait until what was handed over has left or was given up; return whether that is so."""
        return self._ledger.settle(timeout_s)

    @property
    def tally(self) -> Tally:
        """What became of the packets so far."""
        return self._ledger.tally(self._clock.now_ns())

    def close(self) -> None:
        """Let the packet that waits leave, and let go of the output for good; safe to call twice.

        One that does not answer for `PATIENCE_S` is left to itself.
        """
        if self._is_closing:
            return
        self._is_closing = True
        self._stir.set()
        self._rouse()
        thread = self._thread
        if thread is not None and thread is not threading.current_thread():
            thread.join(PATIENCE_S)
        if thread is None or not thread.is_alive():
            self._let_go()

    def _started(self) -> threading.Thread:
        thread = threading.Thread(target=self._run, name=self.name, daemon=True)
        try:
            thread.start()
        except RuntimeError as error:
            self._carrier.wanted = None
            why = "the system lets no more threads begin: end other programs"
            raise OutputLost(f"{self.name} cannot be opened: {why}") from error
        return thread

    def _nudge(self) -> None:
        """See to it that what there is to do is done: in place, or by the thread."""
        if self._is_prompt:
            self._work_in_place()
        else:
            self._rouse()

    def _rouse(self) -> None:
        if self._wake.locked():
            with suppress(RuntimeError):  # somebody else has just released it
                self._wake.release()

    def _run(self) -> None:
        while not self._is_closing:
            self._wake.acquire()
            if not self._is_prompt:
                with self._turn:
                    self._carrier.work()
            if self._ledger.lost:
                self._come_back()
            if self._is_prompt:
                self._work_in_place()
        self._let_go()

    def _work_in_place(self) -> None:
        """Work if nobody does; whoever does looks again afterwards, so that nothing handed over is forgotten."""
        while self._carrier.has_work and not self._is_closing and self._turn.acquire(blocking=False):
            try:
                self._carrier.work()
            finally:
                self._turn.release()
            if self._ledger.lost:
                self._rouse()

    def _come_back(self) -> None:
        """Say that the output is lost, and try until it is back or the outlet is closed."""
        self._stir.clear()
        self._say(self._ledger.last_incident)
        for pause_s in chain(self._retry_s, repeat(self._retry_s[-1])):
            if not self._is_closing:
                self._stir.wait(pause_s)
                self._stir.clear()
            if self._is_closing or self._is_back():
                return

    def _is_back(self) -> bool:
        with self._turn:
            is_back = self._carrier.try_again()
            if is_back:
                self._say(f"{self.name} is back")
            return is_back

    def _let_go(self) -> None:
        with self._turn:
            self._carrier.let_go()

    def _say(self, words: str) -> None:
        with suppress(Exception):  # whoever is told must not end the thread
            self._tell(words)
