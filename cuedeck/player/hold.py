"""Holding a light: one packet on the line again and again, until another takes its place.

A receiver that hears nothing for a second may go out, so a light that is to stand still needs packets
all the same. Deadlines are absolute and never move; a packet whose successor is already due is left out.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from fractions import Fraction
from types import TracebackType
from typing import TYPE_CHECKING, Self

import numpy as np
import numpy.typing as npt

from cuedeck.clock import Clock
from cuedeck.output.base import Line, Output, OutputLost, Packet
from cuedeck.player.still import OUT_PACKETS

if TYPE_CHECKING:
    from concurrent.futures import Future, ThreadPoolExecutor

Slots = npt.NDArray[np.uint8]


class Holding:
    """Keeps sending the slots it was last given, shape (universes, 512), from a thread of its own.

    Used as `with Holding(...) as holding:`. At the end `at_end` goes out, where it is given, so that the
    lights do not stay as they are; closing twice is safe. An output that is lost is told once to
    `on_lost`, in the thread that sends, and the others go on.
    """

    def __init__(
        self,
        outputs: Sequence[Output],
        line: Line,
        clock: Clock,
        slots: Slots,
        *,
        at_end: Slots | None,
        on_lost: Callable[[OutputLost], None],
    ) -> None:
        self._outputs = list(outputs)
        self._line = line
        self._clock = clock
        self._at_end = at_end
        self._on_lost = on_lost
        self._lost: set[str] = set()
        self._stop = threading.Event()
        self._wanted = (slots.copy(), threading.Event())
        self._pool: ThreadPoolExecutor | None = None
        self._running: Future[None] | None = None

    def __repr__(self) -> str:
        return f"<Holding on {', '.join(output.name for output in self._outputs)}>"

    def __enter__(self) -> Self:
        """Open the outputs and start sending. Raises OutputLost where one cannot be opened."""
        from concurrent.futures import ThreadPoolExecutor

        try:
            for output in self._outputs:
                output.open(self._line)
            self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="holding")
            self._running = self._pool.submit(self.run)
        except BaseException:  # an interrupt too must leave no thread behind
            self.close()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self.close()

    @property
    def has_output(self) -> bool:
        """Whether an output is left that was not lost."""
        return len(self._lost) < len({output.name for output in self._outputs})

    def set(self, slots: Slots) -> threading.Event:
        """Send these slots from the next packet on; the event is set once one has left."""
        self._wanted = (slots.copy(), threading.Event())
        return self._wanted[1]

    def stop(self) -> None:
        """Let the sending end after the packet that is under way."""
        self._stop.set()

    def close(self) -> None:
        """End with the packets of the end, and let go of the outputs."""
        self.stop()
        running, self._running = self._running, None
        pool, self._pool = self._pool, None
        try:
            if pool is not None:
                pool.shutdown()
            if running is not None:
                running.result()
        finally:
            self._close_outputs()

    def run(self) -> None:
        """Send where it is called, until stopped, then the packets of the end. Outputs must be open."""
        start_ns, number = self._clock.now_ns(), 0
        while not self._stop.is_set():
            slots, has_left = self._wanted
            self._send(Packet(number, start_ns + self._after_ns(number), slots))
            has_left.set()
            number = self._next(start_ns, number)
            self._clock.wait_until_ns(start_ns + self._after_ns(number))
        for slots in [self._at_end] * OUT_PACKETS if self._at_end is not None else []:
            self._send(Packet(number, start_ns + self._after_ns(number), slots))
            number = self._next(start_ns, number)
            self._clock.wait_until_ns(start_ns + self._after_ns(number))

    def _after_ns(self, number: int) -> int:
        """Return how long after the start a packet is due: its number over the refresh."""
        return int(number * 1_000_000_000 / Fraction(self._line.refresh_hz))

    def _next(self, start_ns: int, number: int) -> int:
        """Return the packet after this one, without those that are over."""
        passed = (self._clock.now_ns() - start_ns) * Fraction(self._line.refresh_hz) / 1_000_000_000
        return max(number + 1, int(passed))

    def _send(self, packet: Packet) -> None:
        for output in self._outputs:
            if output.name in self._lost:
                continue
            try:
                output.send(packet)
            except OutputLost as lost:
                self._lost.add(output.name)
                self._on_lost(lost)

    def _close_outputs(self) -> None:
        for output in self._outputs:
            output.close()
