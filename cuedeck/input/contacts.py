"""Contacts on the control lines of a serial port, and a signal out.

A line is asked about once a millisecond, or as often as the port answers; what it says is debounced in
`timing.contacts`. A port that is lost is told once and tried again every second; when it is back, its
contacts are armed anew, and a signal that a take has had is not given again.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from types import TracebackType
from typing import Any, Self

from cuedeck.clock import Clock
from cuedeck.input.base import RETRY_NS, InputLost, RunningTake, started
from cuedeck.ports import failures, opening_failures, reason
from cuedeck.show.floor import ContactTrigger, Deed, Does, LineIn, Signal
from cuedeck.timing.contacts import Contact

POLL_S = 0.001
RESTLESS_S = 1.0
"""How long to wait, beyond the debounce time, for contacts that flutter while they are armed."""
ATTRIBUTES: dict[LineIn, str] = {"CTS": "cts", "DSR": "dsr", "DCD": "cd", "RI": "ri"}
"""The inputs, as pyserial calls them."""


class ContactPort:
    """The contacts and the signal of one shot on one port, for one take.

    Used as `with ContactPort(...):`. The output that is no signal stays raised while the port is open, so
    that it can feed a contact.
    """

    def __init__(
        self,
        port: str,
        triggers: Sequence[ContactTrigger],
        signal: Signal | None,
        take: RunningTake,
        clock: Clock,
        tell: Callable[[str], None],
    ) -> None:
        self.port = port
        """The port, or a URL that pyserial opens."""
        self._triggers = list(triggers)
        self._signal = signal
        self._take = take
        self._clock = clock
        self._tell = tell
        self._contacts: list[Contact] = []
        self._serial: Any = None
        self._lost_ns = 0
        self._raised_ns: int | None = None
        self._is_raised = False
        self._is_armed = threading.Event()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def __enter__(self) -> Self:
        """Open the port, start watching it, and wait until its contacts are at rest. Raises InputLost.

        Without that wait, what closes with the first packet would be taken for closed at arming.
        """
        self.open()
        self._thread = started(threading.Thread(target=self._watch, name="contacts", daemon=True), self.close)
        longest_s = max((float(one.debounce) for one in self._triggers), default=0.0)
        if not self._is_armed.wait(2 * longest_s + RESTLESS_S):
            restless = ", ".join(self._restless())
            self._tell(f"{restless} of {self.port} does not come to rest and is not armed yet: look at its wiring")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self.close()

    def open(self) -> None:
        """Open the port with the signal down, and arm the contacts. Raises InputLost."""
        import serial

        try:
            port = serial.serial_for_url(self.port, do_not_open=True)
            port.rts = self._signal is None or self._signal.line != "RTS"
            port.dtr = self._signal is None or self._signal.line != "DTR"
            port.open()
        except opening_failures() as error:
            raise InputLost(f"the contacts on {self.port} cannot be watched: {reason(error)}") from error
        self._serial = port
        self._contacts = [Contact(int(one.debounce.base * 1_000_000_000)) for one in self._triggers]
        try:
            self._seen()
            self._drive(self._is_raised)
        except failures() as error:
            self._let_go()
            what = f"{self.port} has no control lines that can be read, so no contact can hang on it"
            raise InputLost(f"{what} ({reason(error)})") from error

    def poll(self) -> None:
        """Look at every line once, do what an edge asks for, and bring the signal up to date."""
        now_ns = self._clock.now_ns()
        if self._serial is None:
            self._try_again(now_ns)
            return
        try:
            for index, is_closed in enumerate(self._seen()):
                self._contacts[index], edge = self._contacts[index].sampled(now_ns, is_closed)
                if edge is not None and edge in self._triggers[index].edges:
                    self._do(self._triggers[index].does)
            if not self._is_armed.is_set() and not self._restless():
                self._is_armed.set()
            self._bring_signal(now_ns)
        except failures() as error:
            self._let_go()
            self._lost_ns = now_ns
            self._is_raised = False
            self._tell(f"the contacts on {self.port} were lost: {reason(error)}; it is tried again every second")

    def close(self) -> None:
        """Stop watching, drop the signal and close the port; safe to call twice."""
        self._stop.set()
        thread, self._thread = self._thread, None
        if thread is not None:
            thread.join()
        if self._serial is not None and self._is_raised:
            try:
                self._drive(False)
            except failures():  # the port is gone, and with it the signal
                pass
        self._is_raised = False
        self._let_go()

    def _watch(self) -> None:
        while not self._stop.wait(POLL_S):
            self.poll()

    def _seen(self) -> list[bool]:
        """Return which contacts are closed: a line that is asserted is a closed contact.

        Where there is a signal alone, a line is asked about all the same, as only that tells of a lost port.
        """
        lines: set[LineIn] = {one.line for one in self._triggers} or {"CTS"}
        seen = {line: bool(getattr(self._serial, ATTRIBUTES[line])) for line in lines}
        return [seen[one.line] for one in self._triggers]

    def _restless(self) -> list[str]:
        """Return the lines whose contacts are not armed yet."""
        pairs = zip(self._triggers, self._contacts, strict=True)
        return list(dict.fromkeys(trigger.line for trigger, contact in pairs if not contact.is_armed))

    def _do(self, does: Does) -> None:
        match does.deed:
            case Deed.START:
                self._take.start()
            case Deed.NEXT_CUE:
                self._take.fire_next()
            case Deed.CUE:
                self._take.fire(does.cue)

    def _bring_signal(self, now_ns: int) -> None:
        if self._signal is None:
            return
        if self._raised_ns is None and self._take.is_rolling:
            self._raised_ns = now_ns
            self._drive(True)
        elif self._is_raised and self._raised_ns is not None:
            lasts = self._signal.lasts
            is_over = lasts is not None and now_ns - self._raised_ns >= lasts.base * 1_000_000_000
            if is_over or not self._take.is_rolling:
                self._drive(False)

    def _drive(self, is_raised: bool) -> None:
        if self._signal is not None:
            setattr(self._serial, self._signal.line.lower(), is_raised)
        self._is_raised = is_raised

    def _try_again(self, now_ns: int) -> None:
        if now_ns - self._lost_ns < RETRY_NS:
            return
        self._lost_ns = now_ns
        try:
            self.open()
        except InputLost:
            return
        self._tell(f"the contacts on {self.port} are back, and armed anew")

    def _let_go(self) -> None:
        port, self._serial = self._serial, None
        if port is not None:
            port.close()
