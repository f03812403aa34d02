"""The simulated line: a UART without a wire, with a receiver at its far end.

A write returns at once, the bytes leave at the baud rate that is set while they do, and a flush waits
until they are out. What a real UART spoils, this one spoils: a break swallows the bytes under it, and a
baud rate that is changed too early takes the byte under way with it. It tells the receiver what has
happened on the line up to now whenever it is touched or asked.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass

from cuedeck.clock import Clock
from cuedeck.output.receiver import Receiver
from cuedeck.timing.line import LOW_BITS_OF_ZERO

SECOND_NS = 1_000_000_000


@dataclass(frozen=True)
class Format:
    """How bytes are put on the line."""

    baud: int
    bits: int = 11
    """Of a byte with its start, parity and stop bits."""

    @property
    def bit_ns(self) -> float:
        """How long a bit lasts."""
        return SECOND_NS / self.baud

    def bytes_ns(self, count: int) -> int:
        """Return how long so many bytes last, to the nearest nanosecond."""
        return (count * self.bits * SECOND_NS + self.baud // 2) // self.baud


class SimulatedLine:
    """One line, from the buffer of its UART to its receiver."""

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self.receiver = Receiver()
        self.is_open = False
        self._format = Format(250_000)
        self._start_ns = 0
        """When the first byte that waits starts, or did."""
        self._waiting = b""
        self._is_low = False
        self._lock = threading.Lock()

    @property
    def waiting(self) -> int:
        """How many bytes are not out yet."""
        self.catch_up()
        return len(self._waiting)

    def catch_up(self) -> None:
        """Tell the receiver what has happened up to now."""
        with self._lock:
            self._catch_up()

    def write(self, content: bytes) -> None:
        """Take bytes; they leave behind those that wait."""
        with self._lock:
            now_ns = self._catch_up()
            if not self._waiting:
                self._start_ns = max(now_ns, self._start_ns)
            self._waiting += content

    def flush(self) -> None:
        """Wait until the last byte is out."""
        with self._lock:
            out_ns = self._start_ns + self._format.bytes_ns(len(self._waiting))
        self.clock.wait_until_ns(out_ns)
        self.catch_up()

    def drop(self) -> None:
        """Forget the bytes that wait."""
        with self._lock:
            self._catch_up()
            self._waiting = b""

    def set_break(self, is_low: bool) -> None:
        """Hold the line low, or let go of it."""
        with self._lock:
            now_ns = self._catch_up()
            if is_low == self._is_low:
                return
            under_way = self._under_way(now_ns)
            if is_low:
                self._leave(under_way)
                self.receiver.break_began(now_ns)
            self._is_low = is_low
            if not is_low:
                self._swallow(under_way)
                self.receiver.break_ended(now_ns)

    def set_format(self, form: Format) -> None:
        """Send what has not left yet, and all that comes, in another way."""
        with self._lock:
            now_ns = self._catch_up()
            if form != self._format and self._under_way(now_ns):
                self._spoil(now_ns, form)
            self._format = form

    def _catch_up(self) -> int:
        """Let out what is out by now; return the time."""
        now_ns = self.clock.now_ns()
        count = len(self._waiting)
        if self._start_ns + self._format.bytes_ns(count) > now_ns:
            bits = (now_ns - self._start_ns) * self._format.baud // SECOND_NS
            count = max(0, min(count, bits // self._format.bits))
        if self._is_low:
            self._swallow(count)
        else:
            self._leave(count)
        return now_ns

    def _under_way(self, now_ns: int) -> int:
        """Return 1 where a byte has begun that is not out yet, else 0."""
        return int(bool(self._waiting) and self._start_ns < now_ns)

    def _leave(self, count: int) -> None:
        if count:
            self.receiver.bytes_came(self._start_ns, self._waiting[:count], self._format.baud, self._format.bits)
        self._swallow(count)

    def _swallow(self, count: int) -> None:
        self._start_ns += self._format.bytes_ns(count)
        self._waiting = self._waiting[count:]

    def _spoil(self, now_ns: int, form: Format) -> None:
        """Send the rest of the byte under way in another way."""
        began_ns, byte = self._start_ns, self._waiting[0]
        bits_out = (now_ns - began_ns) / self._format.bit_ns
        if bits_out >= LOW_BITS_OF_ZERO:
            self._leave(1)
        else:
            self._swallow(1)
            if byte == 0 and not self._is_low:
                self.receiver.break_began(began_ns)
                self.receiver.break_ended(now_ns + int((LOW_BITS_OF_ZERO - bits_out) * form.bit_ns))
            elif not self._is_low:
                self.receiver.garbled(began_ns)
        self._start_ns = now_ns + int(max(0.0, form.bits - bits_out) * form.bit_ns)
