"""Contacts on the control lines of a serial port, and a signal out.

The lines are read once a millisecond, or as often as the port answers, and debounced in `timing.contacts`. When a
lost port is back, its contacts are armed anew. A signal that a take has had is not given again.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Self

from cuedeck.clock import Clock
from cuedeck.input.base import InputUnusable, RunningTake
from cuedeck.input.serial_input import SerialInput
from cuedeck.ports import failures, opening_failures, reason
from cuedeck.show.floor import ContactTrigger, FloorAction, FloorActionKind, LineIn, Signal
from cuedeck.timing.contacts import Contact

RESTLESS_S = 1.0
"""How long to wait, beyond the debounce time, for contacts that flutter while they are armed."""
ATTRIBUTES: dict[LineIn, str] = {"CTS": "cts", "DSR": "dsr", "DCD": "cd", "RI": "ri"}
"""The inputs, as pyserial calls them."""


class ContactPort(SerialInput):
    """The contacts and the signal of one shot on one port, for one take.

    The output line that is no signal stays raised while the port is open, so that it can feed a contact.
    """

    thread_name = "contacts"
    lost_message = "the contacts on {port} were lost"
    back_message = "the contacts on {port} are back, and armed anew"

    def __init__(
        self,
        port: str,
        triggers: Sequence[ContactTrigger],
        signal: Signal | None,
        take: RunningTake,
        clock: Clock,
        tell: Callable[[str], None],
    ) -> None:
        super().__init__(port, clock, tell)
        self._triggers = list(triggers)
        self._signal = signal
        self._take = take
        self._contacts: list[Contact] = []
        self._raised_ns: int | None = None
        """When the signal was raised in this take; kept after its end, so that it is given once only."""
        self._is_raised = False
        self._is_armed = threading.Event()

    def __enter__(self) -> Self:
        """Open the port, start polling it, and wait until its contacts are at rest. Raises InputUnusable.

        Without that wait, what closes with the first packet would be taken for closed at arming.
        """
        super().__enter__()
        longest_s = max((float(one.debounce) for one in self._triggers), default=0.0)
        if not self._is_armed.wait(2 * longest_s + RESTLESS_S):
            unarmed = ", ".join(self._unarmed_lines())
            self._tell(f"{unarmed} of {self.port} does not come to rest and is not armed yet: look at its wiring")
        return self

    def open(self) -> None:
        """Open the port with the signal down, and arm the contacts. Raises InputUnusable."""
        import serial

        try:
            port = serial.serial_for_url(self.port, do_not_open=True)
            # Set before the port opens, or its driver raises both lines, and with them the signal.
            port.rts = self._signal is None or self._signal.line != "RTS"
            port.dtr = self._signal is None or self._signal.line != "DTR"
            port.open()
        except opening_failures() as error:
            raise InputUnusable(f"the contacts on {self.port} cannot be watched: {reason(error)}") from error
        self._serial = port
        self._contacts = [Contact(int(one.debounce.base * 1_000_000_000)) for one in self._triggers]
        try:
            self._read_contacts()
            self._set_signal(self._is_raised)
        except failures() as error:
            self._release()
            what = f"{self.port} has no control lines that can be read, so no contact can be connected to it"
            raise InputUnusable(f"{what} ({reason(error)})") from error

    def _poll(self) -> None:
        now_ns = self._clock.now_ns()
        for index, is_closed in enumerate(self._read_contacts()):
            self._contacts[index], edge = self._contacts[index].sampled(now_ns, is_closed)
            if edge is not None and edge in self._triggers[index].edges:
                self._do(self._triggers[index].does)
        if not self._is_armed.is_set() and not self._unarmed_lines():
            self._is_armed.set()
        self._update_signal(now_ns)

    def _release(self) -> None:
        if self._serial is not None and self._is_raised:
            with suppress(*failures()):  # where the port is gone, so is the signal
                self._set_signal(False)
        self._is_raised = False
        super()._release()

    def _read_contacts(self) -> list[bool]:
        """Return which contacts are closed: a line that is asserted is a closed contact.

        Where there is only a signal, a line is read all the same: nothing else shows that the port is lost.
        """
        lines: set[LineIn] = {one.line for one in self._triggers} or {"CTS"}
        closed = {line: bool(getattr(self._serial, ATTRIBUTES[line])) for line in lines}
        return [closed[one.line] for one in self._triggers]

    def _unarmed_lines(self) -> list[str]:
        pairs = zip(self._triggers, self._contacts, strict=True)
        return list(dict.fromkeys(trigger.line for trigger, contact in pairs if not contact.is_armed))

    def _do(self, action: FloorAction) -> None:
        match action.kind:
            case FloorActionKind.START:
                self._take.start()
            case FloorActionKind.NEXT_CUE:
                self._take.fire_next()
            case FloorActionKind.CUE:
                self._take.fire(action.cue)

    def _update_signal(self, now_ns: int) -> None:
        if self._signal is None:
            return
        if self._raised_ns is None and self._take.is_rolling:
            self._raised_ns = now_ns
            self._set_signal(True)
        elif self._is_raised and self._raised_ns is not None:
            lasts = self._signal.lasts
            is_over = lasts is not None and now_ns - self._raised_ns >= lasts.base * 1_000_000_000
            if is_over or not self._take.is_rolling:
                self._set_signal(False)

    def _set_signal(self, is_raised: bool) -> None:
        if self._signal is not None:
            setattr(self._serial, self._signal.line.lower(), is_raised)
        self._is_raised = is_raised
