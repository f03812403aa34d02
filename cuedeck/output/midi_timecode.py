"""Running MIDI timecode to a MIDI output of this computer, each message on its deadline."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from cuedeck.clock import Clock
from cuedeck.errors import Refusal
from cuedeck.output.words import was_lost
from cuedeck.ports import midi_is_missing, midi_module
from cuedeck.timing.mtc.messages import FullFrame, running
from cuedeck.timing.timecode import Timecode


class MidiOutputUnusable(Refusal):
    """A MIDI output that cannot be used. The message says which and why."""


class MidiTimecodeOutput:
    """A MIDI output; used as `with MidiTimecodeOutput(name) as output:`."""

    def __init__(self, port: str) -> None:
        self._name = port
        self._mido: Any = None
        self._port: Any = None

    def __enter__(self) -> MidiTimecodeOutput:
        """Open the port. Raises MidiOutputUnusable."""
        self._mido = midi_module(MidiOutputUnusable)
        try:
            names = self._mido.get_output_names()
        except ImportError as error:
            raise midi_is_missing(error, MidiOutputUnusable) from error
        except Exception as error:  # what a driver raises is its own
            raise MidiOutputUnusable(f"MIDI cannot be used: look whether its device is plugged in ({error})") from error
        if self._name not in names:
            known = f"write mtc: and one of {', '.join(map(repr, names))}" if names else "this computer has none"
            raise MidiOutputUnusable(f"there is no MIDI output '{self._name}': {known}")
        try:
            self._port = self._mido.open_output(self._name)
        except Exception as error:
            raise MidiOutputUnusable(f"the MIDI output '{self._name}' cannot be used ({error})") from error
        return self

    def __exit__(self, *_: object) -> None:
        port, self._port = self._port, None
        if port is not None:
            port.close()

    def run(self, first: Timecode, frames: int, clock: Clock, is_stopped: Callable[[], bool]) -> int:
        """Send a full frame that locates, then the quarter frames of running timecode; return how many were sent.

        Deadlines are counted from the first message and never move. Raises UnitError where MTC does not know
        the rate, and MidiOutputUnusable where the port is lost.
        """
        self._send(FullFrame(first).encoded)
        start_ns = clock.now_ns()
        sent = 0
        for due in running(first, frames):
            clock.wait_until_ns(start_ns + int(due.at_s * 1_000_000_000))
            if is_stopped():
                break
            self._send(due.encoded)
            sent += 1
        return sent

    def _send(self, encoded: bytes) -> None:
        try:
            self._port.send(self._mido.Message.from_bytes(encoded))
        except Exception as error:
            raise MidiOutputUnusable(was_lost(f"the MIDI output '{self._name}'", str(error))) from error
