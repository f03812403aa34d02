"""Finds a USB port again: an adapter keeps its serial number when the system gives its port a new name.

The number is kept from the first time that the port was open. A number that two adapters share, as cheap ones do, is
not kept.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Protocol

from cuedeck.errors import Refusal


class PortRecord(Protocol):
    """A port of this machine, as pyserial lists it."""

    @property
    def device(self) -> str:
        """The name by which it is opened."""

    @property
    def serial_number(self) -> str | None:
        """The serial number of its USB adapter, where it has one."""


ListPorts = Callable[[], Iterable[PortRecord]]


class OtherAdapter(Refusal):
    """Another adapter has the name of a port now, and the one that had it is nowhere."""


def listed_ports() -> list[PortRecord]:
    """Return the serial ports of this machine."""
    from serial.tools.list_ports import comports

    return list(comports())


class UsbPort:
    """A port by the name that the user wrote, and the adapter that was behind it."""

    def __init__(self, port: str, list_ports: ListPorts = listed_ports) -> None:
        self.port = port
        self.serial_number: str | None = None
        """The serial number to look for, once it is known and no other adapter has it."""
        self._list_ports = list_ports

    def remember(self) -> None:
        """Keep the serial number of the adapter that has the name now, unless one is kept already."""
        if self.serial_number is not None or "://" in self.port:
            return
        records = list(self._list_ports())
        own = next((one.serial_number for one in records if self._has_name(one)), None)
        if own and [one.serial_number for one in records].count(own) == 1:
            self.serial_number = own

    def current_name(self) -> str:
        """Return the name under which the adapter is found now. Raises OtherAdapter."""
        if self.serial_number is None:
            return self.port
        records = list(self._list_ports())
        at_name = next((one for one in records if self._has_name(one)), None)
        found = [one.device for one in records if one.serial_number == self.serial_number]
        if (at_name is not None and at_name.serial_number == self.serial_number) or (at_name is None and not found):
            return self.port
        if len(found) == 1:
            return found[0]
        raise OtherAdapter(f"another adapter is there now; plug in the one with serial number {self.serial_number}")

    def _has_name(self, record: PortRecord) -> bool:
        return same_port(record.device, self.port)


def is_there(port: str) -> bool:
    """Return whether a port can be seen now, as far as that is known without opening it."""
    if "://" in port:
        return True
    return any(same_port(one.device, port) for one in listed_ports()) if os.name == "nt" else Path(port).exists()


def same_port(one: str, other: str) -> bool:
    """Return whether two names are of one port: a link under /dev/serial names the port that it leads to."""
    return _resolved(one) == _resolved(other)


def _resolved(port: str) -> str:
    return port if "://" in port else os.path.normcase(os.path.realpath(port))
