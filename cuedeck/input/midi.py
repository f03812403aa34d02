"""Timecode from MIDI: a port of this computer, a Standard MIDI File, or a stream of bytes.

A port needs the packages of the extra 'midi'; files and streams need nothing.
"""

from __future__ import annotations

import queue
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cuedeck.clock import Clock
from cuedeck.errors import Refusal
from cuedeck.input.base import InputUnusable
from cuedeck.input.timecode import TimecodeRecording, newly_arrived
from cuedeck.ports import midi_is_missing, midi_module
from cuedeck.timing.mtc.messages import MtcParser, MtcReader
from cuedeck.timing.mtc.midi_file import MidiFileBroken, read_midi_file

if TYPE_CHECKING:
    from cuedeck.timing.chase import Reading

FILE_SUFFIXES = (".mid", ".midi", ".smf")


def readings_of(chunks: Iterable[tuple[float, bytes]]) -> list[Reading]:
    """Return the timecode in a stream of MIDI bytes that came in chunks, each with its time in seconds."""
    parser, reader = MtcParser(), MtcReader()
    return [found for at_s, chunk in chunks for found in _read(parser, reader, at_s, chunk)]


def _read(parser: MtcParser, reader: MtcReader, at_s: float, chunk: bytes) -> list[Reading]:
    return [found for message in parser.feed(chunk) for found in reader.take(at_s, message)]


def recorded_midi(path: Path) -> TimecodeRecording:
    """Return the timecode of a Standard MIDI File. Raises InputUnusable where there is none."""
    try:
        messages = read_midi_file(path.read_bytes())
    except OSError as error:
        raise InputUnusable(f"'{path}' cannot be read: {(error.strerror or str(error)).lower()}") from error
    except MidiFileBroken as error:
        raise InputUnusable(f"'{path}' is no MIDI file that can be read: {error}") from error
    readings = readings_of((float(message.at_s), message.encoded) for message in messages)
    if not readings:
        raise InputUnusable(f"'{path}' holds no MIDI timecode: record its quarter frames with it")
    return TimecodeRecording(f"mtc:{path}", tuple(readings), float(messages[-1].at_s))


class MidiPort:
    """A MIDI input of this computer. Messages get their time as they come, in the thread of the driver."""

    def __init__(self, port: str, clock: Clock) -> None:
        self._port_name = port
        self._clock = clock
        self._parser, self._reader = MtcParser(), MtcReader()
        self._arrived: queue.SimpleQueue[Reading] = queue.SimpleQueue()
        self._port: Any = None

    @property
    def name(self) -> str:
        return f"mtc:{self._port_name}"

    def open(self) -> None:
        """Start to listen. Raises InputUnusable."""
        mido = midi_module(InputUnusable)
        try:
            names = mido.get_input_names()
        except ImportError as error:
            raise midi_is_missing(error, InputUnusable) from error
        except Exception as error:  # what a driver raises is its own
            raise _unusable("MIDI", error) from error
        if self._port_name not in names:
            known = f"write mtc: and one of {', '.join(map(repr, names))}" if names else "this computer has none"
            raise InputUnusable(f"there is no MIDI input '{self._port_name}': {known}")
        try:
            self._port = mido.open_input(self._port_name, callback=self._on_message)
        except Exception as error:
            raise _unusable(f"the MIDI input '{self._port_name}'", error) from error

    def arrived(self, time_s: float) -> Sequence[Reading]:  # noqa: ARG002 - what has come is never ahead of the clock
        """Return what has come since the last call."""
        return newly_arrived(self._arrived)

    def is_over(self, time_s: float) -> bool:  # noqa: ARG002 - a port has no end
        """Return False: a port may always go on."""
        return False

    def close(self) -> None:
        """Let go of the port; safe to call twice."""
        port, self._port = self._port, None
        if port is not None:
            port.close()

    def _on_message(self, message: Any) -> None:
        at_s = self._clock.now_ns() / 1e9
        for found in _read(self._parser, self._reader, at_s, bytes(message.bytes())):
            self._arrived.put(found)


def _unusable(what: str, error: Exception) -> Refusal:
    return InputUnusable(f"{what} cannot be used: look whether its device is plugged in ({error})")
