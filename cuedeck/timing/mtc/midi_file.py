"""Standard MIDI Files as bytes: the messages of a file with the times that its tempo gives them.

Times are exact fractions of a second. Messages are raw MIDI bytes; what a track holds beside them (names,
tempo) is read and not told. Source of the format: Standard MIDI Files 1.0 (MMA/AMEI RP-001).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

_META, _TEMPO, _END_OF_TRACK = 0xFF, 0x51, 0x2F
_SYSEX, _ESCAPE = 0xF0, 0xF7
_FIRST_TEMPO_US = 500_000
_DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2, 0xF1: 1, 0xF2: 2, 0xF3: 1}
"""Bytes after a status byte."""
_TICKS_PER_BEAT = 480


class MidiFileBroken(ValueError):
    """Bytes that are no Standard MIDI File that can be read. The message says what is wrong."""


@dataclass(frozen=True)
class TimedMessage:
    """A MIDI message, and when it comes, in seconds from the start of the file."""

    at_s: Fraction
    encoded: bytes


@dataclass(frozen=True)
class _Event:
    tick: int
    status: int
    data: bytes
    """The bytes of the message; of a meta event its kind and content."""

    @property
    def is_tempo(self) -> bool:
        return self.status == _META and self.data[0] == _TEMPO and len(self.data) == 4


class _Bytes:
    """Bytes that are taken from the front."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._place = 0

    @property
    def is_at_end(self) -> bool:
        return self._place >= len(self._data)

    def take(self, count: int) -> bytes:
        taken = self._data[self._place : self._place + count]
        if len(taken) < count:
            raise MidiFileBroken("the file ends in the middle of an event")
        self._place += count
        return taken

    def number(self, count: int) -> int:
        return int.from_bytes(self.take(count), "big")

    def variable(self) -> int:
        """Return a number of variable length: seven bits a byte, four bytes at most."""
        value = 0
        for _ in range(4):
            byte = self.number(1)
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise MidiFileBroken("a length or a time of more than four bytes stands in it")

    def peek(self) -> int:
        if self.is_at_end:
            raise MidiFileBroken("the file ends in the middle of an event")
        return self._data[self._place]


def read_midi_file(data: bytes) -> list[TimedMessage]:
    """Return the messages of all tracks in the order of their times. Raises MidiFileBroken."""
    content = _Bytes(data)
    if data[:4] != b"MThd":
        raise MidiFileBroken("it does not begin as a MIDI file does")
    content.take(4)
    header = _Bytes(content.take(content.number(4)))
    kind, _, division = header.number(2), header.number(2), header.number(2)
    if kind == 2:
        raise MidiFileBroken("its tracks are songs of their own (format 2): save it as format 0 or 1")
    events: list[_Event] = []
    while not content.is_at_end:
        name, chunk = content.take(4), content.take(content.number(4))
        if name == b"MTrk":
            events += _events(_Bytes(chunk))
    events.sort(key=lambda event: event.tick)
    return list(_timed(events, division))


def _events(track: _Bytes) -> Iterator[_Event]:
    tick, running = 0, 0
    while not track.is_at_end:
        tick += track.variable()
        status = track.number(1) if track.peek() >= 0x80 else running
        if status == _META:
            kind = track.take(1)
            yield _Event(tick, status, kind + track.take(track.variable()))
            if kind[0] == _END_OF_TRACK:
                return
        elif status in (_SYSEX, _ESCAPE):
            start = b"\xf0" if status == _SYSEX else b""
            yield _Event(tick, status, start + track.take(track.variable()))
        elif status < 0x80:
            raise MidiFileBroken("an event of a track begins without its kind")
        else:
            # A bare F1 is against the format, and written by common libraries all the same.
            size = _DATA_BYTES.get(status if status >= 0xF0 else status & 0xF0, 0)
            yield _Event(tick, status, bytes((status,)) + track.take(size))
        # Only messages of channels may leave their status out the next time.
        running = status if status < 0xF0 else running if status == _META else 0


def _timed(events: Iterable[_Event], division: int) -> Iterator[TimedMessage]:
    tick, at_s, tick_s = 0, Fraction(0), _tick_s(division, _FIRST_TEMPO_US)
    for event in events:
        at_s += (event.tick - tick) * tick_s
        tick = event.tick
        if event.is_tempo and division < 0x8000:
            tick_s = _tick_s(division, int.from_bytes(event.data[1:], "big"))
        elif event.status != _META:
            yield TimedMessage(at_s, event.data)


def _tick_s(division: int, tempo_us: int) -> Fraction:
    """Return how long a tick lasts: a share of a beat, or of a frame where the file counts frames."""
    if division >= 0x8000:
        counted = 256 - (division >> 8)
        frames_per_second = Fraction(30_000, 1001) if counted == 29 else Fraction(counted)
        ticks_per_second = frames_per_second * (division & 0xFF)
    else:
        ticks_per_second = Fraction(division * 1_000_000, tempo_us) if tempo_us else Fraction(0)
    if not ticks_per_second:
        raise MidiFileBroken("its ticks last no time, or for ever")
    return 1 / ticks_per_second


def write_midi_file(messages: Iterable[TimedMessage], beat_us: int) -> bytes:
    """Return a file of one track whose beat lasts so many microseconds; 480 ticks make a beat.

    Messages are in order. A track knows messages of channels, exclusive ones and escapes; whatever else there is,
    quarter frames among it, stands behind an escape (RP-001, sysex events).
    """
    track = bytearray(b"\x00\xff\x51\x03" + beat_us.to_bytes(3, "big"))
    before = 0
    for message in messages:
        tick = round(message.at_s * 1_000_000 * _TICKS_PER_BEAT / beat_us)
        track += _variable(tick - before)
        track += _event_bytes(message.encoded)
        before = tick
    track += b"\x00\xff\x2f\x00"
    header = b"".join(number.to_bytes(2, "big") for number in (0, 1, _TICKS_PER_BEAT))
    return b"MThd" + len(header).to_bytes(4, "big") + header + b"MTrk" + len(track).to_bytes(4, "big") + bytes(track)


def _event_bytes(message: bytes) -> bytes:
    if message[0] == _SYSEX:
        return b"\xf0" + _variable(len(message) - 1) + message[1:]
    return message if message[0] < _SYSEX else b"\xf7" + _variable(len(message)) + message


def _variable(value: int) -> bytes:
    parts = [value & 0x7F]
    while value := value >> 7:
        parts.append(value & 0x7F | 0x80)
    return bytes(reversed(parts))
