"""pyserial URL handler lines://NAME: a port whose control lines a test sets, and that can be pulled."""

from __future__ import annotations

import errno
from dataclasses import dataclass, field
from itertools import cycle

from serial.serialutil import SerialBase, SerialException


class Fluttering(dict[str, bool]):
    """Lines that read differently each time they are asked."""

    def __init__(self) -> None:
        super().__init__()
        self._turns = cycle((True, False))

    def __getitem__(self, name: str) -> bool:
        return next(self._turns)


@dataclass
class Lines:
    """The lines of one port, as the far end sees them."""

    inputs: dict[str, bool] = field(default_factory=lambda: dict.fromkeys(("cts", "dsr", "cd", "ri"), False))
    outputs: list[tuple[str, bool]] = field(default_factory=list)
    """What was done to RTS and DTR, in order."""
    is_pulled: bool = False


PORTS: dict[str, Lines] = {}
"""The ports by name, as in lines://NAME."""


class Serial(SerialBase):  # type: ignore[misc]
    """A port with lines."""

    def open(self) -> None:
        """Plug in."""
        self.lines = PORTS[self.port.removeprefix("lines://")]
        if self.lines.is_pulled:
            raise SerialException(errno.ENOENT, "there is no such port")
        self.is_open = True
        self._update_rts_state()
        self._update_dtr_state()

    def close(self) -> None:
        """Unplug."""
        self.is_open = False

    def _reconfigure_port(self) -> None:
        pass

    def _update_rts_state(self) -> None:
        self._put("rts", self._rts_state)

    def _update_dtr_state(self) -> None:
        self._put("dtr", self._dtr_state)

    def _put(self, name: str, is_raised: bool) -> None:
        self._must_be_there()
        self.lines.outputs.append((name, is_raised))

    def _get(self, name: str) -> bool:
        self._must_be_there()
        return self.lines.inputs[name]

    def _must_be_there(self) -> None:
        if self.lines.is_pulled:
            raise OSError(errno.EIO, "Input/output error")

    cts = property(lambda self: self._get("cts"))
    dsr = property(lambda self: self._get("dsr"))
    cd = property(lambda self: self._get("cd"))
    ri = property(lambda self: self._get("ri"))
