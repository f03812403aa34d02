"""pyserial URL handlers: with them, the code that drives hardware drives a simulated line.

simulator://NAME is a line of this process. Whoever writes to it and whoever looks at its receiver name it alike.
"""

from __future__ import annotations

from importlib import import_module

from cuedeck.clock import Clock, MonotonicClock
from cuedeck.output.receiver import Receiver
from cuedeck.output.simulated_line import SimulatedLine

SCHEME = "simulator://"
_LINES: dict[str, SimulatedLine] = {}


def plug_in(url: str, clock: Clock) -> SimulatedLine:
    """Make pyserial know simulator:// and return the line that a URL names, on a clock.

    A line that is there already stays, with what its receiver has heard, unless it runs on another clock.
    """
    import serial

    # pyserial takes an ImportError in a handler for a protocol that it does not know: import it here first.
    import_module(f"{__name__}.protocol_simulator")
    if __name__ not in serial.protocol_handler_packages:
        serial.protocol_handler_packages.append(__name__)
    name = name_of(url)
    line = _LINES.get(name)
    if line is None or (line.clock is not clock and not line.is_open):
        line = _LINES[name] = SimulatedLine(clock)
    return line


def name_of(url: str) -> str:
    """Return NAME of simulator://NAME."""
    return url[len(SCHEME) :]


def line_named(name: str) -> SimulatedLine:
    """Return the line of simulator://NAME; one that nobody has named yet runs on the machine's clock."""
    return _LINES[name] if name in _LINES else plug_in(SCHEME + name, MonotonicClock())


def receiver_of(name: str) -> Receiver:
    """Return the receiver at the end of simulator://NAME, which has heard all that has left by now."""
    line = line_named(name)
    line.catch_up()
    return line.receiver
