"""What reached the emulated adapter, read from QEMU's trace and the bytes that it wrote down.

The names and numbers of the requests are from memory: the driver sets the format of the line with request 4, whose
value holds a break as bit 14, and resets the adapter with request 0 each time that the port is opened.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

EVENTS = ("usb_serial_*", "usb_packet_state_change", "usb_xhci_xfer_success")
"""What QEMU has to trace."""

_BREAK = 0x4000
_LINE = re.compile(
    r"usb_serial_handle_control .* control 0x40(?P<request>..), value 0x(?P<value>[0-9a-f]+)"
    r"|usb_serial_set_data .* parity (?P<parity>\w), data bits (?P<data_bits>\d), stop bits (?P<stop_bits>\S+)"
    r"|usb_serial_set_baud .* baud rate (?P<baud>\d+)"
    r"|usb_packet_state_change .* ep (?P<endpoint>\d+), .* -> complete"
    r"|usb_xhci_xfer_success .* len (?P<length>\d+)"
)
_OUT = "2"
"""The endpoint that takes bytes for the line."""


class Sent(NamedTuple):
    """Bytes that followed each other, and the settings of the line while they went out, such as "250000 8N2"."""

    settings: str
    content: bytes


Event = Sent | str
""""opened", "break on", "break off", or bytes."""


class _Adapter:
    """The adapter as the trace tells of it."""

    def __init__(self, wire: bytes) -> None:
        self._wire = wire
        self._baud = self._format = ""
        self._is_break = False
        self._is_out = False

    def hear(self, found: re.Match[str]) -> Iterator[Event]:
        if found["request"] == "00" and int(found["value"], 16) == 0:
            yield "opened"
        elif found["request"] == "04":
            yield from self._hear_format(int(found["value"], 16))
        elif found["parity"]:
            self._format = found["data_bits"] + found["parity"] + found["stop_bits"]
        elif found["baud"]:
            self._baud = found["baud"]
        elif found["endpoint"]:
            self._is_out = found["endpoint"] == _OUT
        elif found["length"] and self._is_out:
            length = int(found["length"])
            yield Sent(f"{self._baud} {self._format}", self._wire[:length])
            self._wire = self._wire[length:]

    def _hear_format(self, value: int) -> Iterator[Event]:
        was_break, self._is_break = self._is_break, bool(value & _BREAK)
        if self._is_break != was_break:
            yield "break on" if self._is_break else "break off"


def sessions(trace: str, wire: bytes) -> list[list[Event]]:
    """Return what reached the adapter from each opening of the port to the next, in order."""
    adapter = _Adapter(wire)
    found: list[list[Event]] = []
    for match in _LINE.finditer(trace):
        for event in adapter.hear(match):
            if event == "opened":
                found.append([])
            else:
                _append(found[-1], event)
    return found


def _append(events: list[Event], event: Event) -> None:
    """Add an event; bytes that follow bytes under the same settings are one."""
    last = events[-1] if events else ""
    if isinstance(event, Sent) and isinstance(last, Sent) and event.settings == last.settings:
        events[-1] = Sent(event.settings, last.content + event.content)
    else:
        events.append(event)
