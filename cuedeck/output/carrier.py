"""What is done with one output: packets are sent on the line that is open, lines are changed, the lost is tried again.

Nothing here may run twice at a time: whoever has the turn of an output calls it. Whatever an output raises,
be it a bug, makes it lost.
"""

from __future__ import annotations

from contextlib import suppress

from cuedeck.clock import Clock
from cuedeck.output.base import Line, Output, OutputLost
from cuedeck.output.ledger import Ledger


class Carrier:
    """Carries the packets of a ledger to an output."""

    def __init__(self, output: Output, ledger: Ledger, clock: Clock) -> None:
        self.line: Line | None = None
        """The line that the output is open on; the last one while it is lost."""
        self.wanted: Line | None = None
        """The line that it is to be open on."""
        self.must_open = True
        """Whether an output that does not open at first is refused, rather than lost."""
        self.refusal: OutputLost | None = None
        """Why it was refused."""
        self._output = output
        self._ledger = ledger
        self._clock = clock

    @property
    def has_work(self) -> bool:
        """Whether `work` would do something."""
        return not self._ledger.lost and (self.wanted is not self.line or self._ledger.has_waiting)

    def has_answered(self, line: Line) -> bool:
        """Return whether the output is open on a line, or is known not to be."""
        return self.line is line or self.refusal is not None or bool(self._ledger.lost)

    def work(self) -> None:
        """Send what waits, change over to the line that is wanted, and send what has waited for that."""
        self.send_waiting()
        if self.wanted is self.line:
            return
        self.send_waiting()  # what came while the one before was under way was still meant for the old line
        if not self._ledger.lost:
            self._change()
            self.send_waiting()

    def send_waiting(self) -> None:
        """Send the packet that waits, if any."""
        packet = self._ledger.take(self.line, self.wanted)
        if packet is None:
            return
        try:
            self._output.send(packet)
        except Exception as error:
            self._ledger.lose(self._words(error))
        else:
            self._ledger.left(self._clock.now_ns())

    def try_again(self) -> bool:
        """Close what was lost and open it on the line that is wanted; return whether all is well."""
        self._close()
        try:
            self._open()
        except Exception:
            return False
        return True

    def let_go(self) -> None:
        """Close the output for good, after the packet that waits."""
        self.send_waiting()
        self._close()
        self.line = self.wanted = None
        self._ledger.halt()

    def _change(self) -> None:
        is_first = self.line is None
        try:
            self._open(is_first=is_first)
        except Exception as error:
            if is_first and self.must_open:
                self._refuse(error)
            else:
                self._ledger.lose(self._words(error))

    def _open(self, *, is_first: bool = True) -> None:
        """Open the line that is wanted; one that was not open counts as open once the newest packet has left on it."""
        line = self.wanted
        if line is None:
            return
        self._output.open(line)
        if is_first:
            self._show_newest(line)
        self.line = line
        self._ledger.recover()

    def _show_newest(self, line: Line) -> None:
        """Send what was handed over last, even where it has left before: a look that stands still comes only once."""
        handed = self._ledger.resume()
        if handed.packet is None or not handed.fits(line):
            return
        try:
            self._output.send(handed.packet)
        except Exception:
            self._ledger.halt()
            raise
        self._ledger.shown(self._clock.now_ns())

    def _refuse(self, error: Exception) -> None:
        self._close()
        self.wanted = None
        self.refusal = error if isinstance(error, OutputLost) else OutputLost(self._words(error))
        self._ledger.halt()

    def _words(self, error: Exception) -> str:
        if isinstance(error, OutputLost):
            return str(error)
        return f"{self._output.name} was lost: {str(error) or type(error).__name__}"

    def _close(self) -> None:
        with suppress(Exception):  # it is let go of, whatever it says about that
            self._output.close()
