"""What outputs on serial ports share: which slots they carry, and opening, losing and finding the port."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import Any, ClassVar

from cuedeck.clock import Clock
from cuedeck.output.base import START_CODE_LEVELS, Line, OutputLost, Packet
from cuedeck.output.usb_ports import ListPorts, OtherAdapter, UsbPort, listed_ports
from cuedeck.output.words import cannot_open, was_lost
from cuedeck.ports import opening_failures, reason

WRITE_S = 1
"""How long a port may take to accept a packet before it counts as lost."""


class SerialOutput(ABC):
    """One universe on one serial port, or on any URL that pyserial opens.

    A lost port is closed at once, so that it can be opened again under whatever name its adapter then has.
    """

    is_prompt = False
    kind: ClassVar[str]
    """What stands before the port in a target."""
    baud: ClassVar[int]
    stop_bits: ClassVar[int]

    def __init__(
        self,
        port: str,
        clock: Clock,
        universe: int | None = None,
        slots: int | None = None,
        list_ports: ListPorts = listed_ports,
    ) -> None:
        self.port = port
        """The port as the user named it, or a URL that pyserial opens."""
        self._clock = clock
        self._universe = universe
        self._slots = slots
        self._usb = UsbPort(port, list_ports)
        self._index = 0
        self._universes: tuple[int, ...] = ()
        self._content = bytearray(1)
        self._serial: Any = None
        if port.lower().startswith("simulator://"):
            from cuedeck.output.handlers import plug_in

            plug_in(port, clock)

    @property
    def name(self) -> str:
        return f"{self.kind}:{self.port}" + "".join(f",{key}={value}" for key, value in self._options().items())

    @property
    def universe(self) -> int | None:
        """The universe that it carries: the one asked for, or the first of the rig once it has been open."""
        return self._universes[self._index] if self._universes else self._universe

    def open(self, line: Line) -> None:
        """Open the port; one that is open already only changes over to the line. Raises OutputLost."""
        index, slots = self._index_in(line), self._slots_for(line)
        if self._serial is None:
            self._serial = self._opened()
        self._universes, self._index = line.universes, index
        self._content = bytearray([START_CODE_LEVELS]) + bytearray(slots)

    def send(self, packet: Packet) -> None:
        """Send the start code and the slots of one packet. Raises OutputLost."""
        port = self._serial
        if port is None:
            raise OutputLost(f"{self.name} is not open")
        self._content[1:] = packet.slots[self._index, : len(self._content) - 1].tobytes()
        try:
            self._put(port, self._content)
        except opening_failures() as error:
            self._release()
            raise OutputLost(was_lost(self.name, reason(error))) from error

    def close(self) -> None:
        """Let the last bytes out and close the port."""
        port = self._serial
        if port is None:
            return
        try:
            self._drain(port)
        except opening_failures():  # the port is gone: nothing is left to let out
            pass
        finally:
            self._release()

    @abstractmethod
    def _put(self, port: Any, content: bytearray) -> None:
        """Send a start code and slots. Raises what a port raises."""

    def _drain(self, port: Any) -> None:
        """Wait until the bytes are out. Raises what a port raises."""
        port.flush()

    def _prepare(self, port: Any) -> None:
        """Get a port that was just opened ready. Raises what a port raises."""
        _ask_for_low_latency(port)

    def _options(self) -> dict[str, object]:
        """Return the options that the user gave, as they are written."""
        given = {"universe": self._universe, "slots": self._slots}
        return {key: value for key, value in given.items() if value is not None}

    def _index_in(self, line: Line) -> int:
        universe = line.universes[0] if self._universe is None else self._universe
        if universe not in line.universes:
            known = ", ".join(str(one) for one in line.universes)
            raise OutputLost(f"{self.name} is to carry universe {universe}, and the rig uses only {known}")
        return line.universes.index(universe)

    def _slots_for(self, line: Line) -> int:
        fewest = min(line.slots_sent, line.slots_needed)
        if self._slots is None:
            return fewest
        if not fewest <= self._slots <= line.slots_sent:
            allowed = f"{fewest}" if fewest == line.slots_sent else f"{fewest} to {line.slots_sent}"
            what = f"{self.name} is to send {self._slots} slots"
            raise OutputLost(f"{what}, and the show has use and time for {allowed}")
        return self._slots

    def _opened(self) -> Any:
        import serial

        try:
            port = serial.serial_for_url(
                self._usb.current_name(),
                baudrate=self.baud,
                bytesize=serial.EIGHTBITS,
                parity=serial.PARITY_NONE,
                stopbits=self.stop_bits,
                write_timeout=WRITE_S,
                exclusive=True,
            )
        except OtherAdapter as error:
            raise OutputLost(cannot_open(self.name, str(error))) from error
        except opening_failures() as error:
            raise OutputLost(cannot_open(self.name, reason(error))) from error
        try:
            self._usb.remember()
            self._prepare(port)
        except BaseException as error:
            port.close()
            if isinstance(error, opening_failures()):
                raise OutputLost(cannot_open(self.name, reason(error))) from error
            raise
        return port

    def _release(self) -> None:
        port, self._serial = self._serial, None
        if port is None:
            return
        try:
            port.close()
        except opening_failures():  # it is gone, and closed all the same
            pass


def _ask_for_low_latency(port: Any) -> None:
    """Ask the driver to hold nothing back, where it can: only Linux knows how, and not for every port."""
    ask = getattr(port, "set_low_latency_mode", None)
    try:
        if ask is not None:
            ask(True)
    except opening_failures():  # a hint only
        pass
