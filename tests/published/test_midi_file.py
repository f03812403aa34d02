"""Timecode in Standard MIDI Files against the grammar of the format.

Source: Standard MIDI Files 1.0 (MMA/AMEI RP-001), from memory: a track is pairs of a time of variable length and an
event; an event is a message of a channel (status 80 to EF), an exclusive message or an escape (F0 or F7, a length,
that many bytes), or a meta event (FF, a kind, a length, that many bytes). No other byte begins an event.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from cuedeck.timing.mtc.messages import FullFrame, running
from cuedeck.timing.mtc.midi_file import TimedMessage, read_midi_file, write_midi_file
from cuedeck.timing.timecode import Timecode, TimecodeRate

HEADER = bytes.fromhex("4D546864 00000006 0000 0001 01E0")  # MThd, six bytes, format 0, one track, 480 to the beat
LABEL = Timecode.parse("01:23:45:12", TimecodeRate.parse("25"))


def events_of(track: bytes) -> list[bytes]:
    """Walk a track by the grammar alone and return its events with their kind."""
    found, at = [], 0

    def number() -> int:
        nonlocal at
        value = 0
        while True:
            byte, at = track[at], at + 1
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value

    while at < len(track):
        number()
        start, status = at, track[at]
        at += 1
        if 0x80 <= status <= 0xEF:
            at += 1 if status & 0xE0 == 0xC0 else 2
        elif status in (0xF0, 0xF7, 0xFF):
            at += status == 0xFF
            length = number()
            at += length
        else:
            pytest.fail(f"{status:02X} begins no event of a track")
        found.append(track[start:at])
    assert at == len(track)
    return found


def track_of(file: bytes) -> bytes:
    assert file[:14] == HEADER
    assert file[14:18] == b"MTrk"
    assert int.from_bytes(file[18:22], "big") == len(file) - 22
    return file[22:]


def test_a_quarter_frame_stands_behind_an_escape() -> None:
    pieces = [TimedMessage(due.at_s, due.encoded) for due in running(LABEL, 2)]
    events = events_of(track_of(write_midi_file(pieces, 120_000)))
    # F7, two bytes, F1 and the piece: those of 01:23:45:12 at 25 as in test_mtc.
    assert [event.hex(" ") for event in events[1:9]] == [
        f"f7 02 f1 {piece}" for piece in ("0c", "10", "2d", "32", "47", "51", "61", "72")
    ]
    assert events[0][:2] == bytes.fromhex("FF51")  # the tempo
    assert events[-1] == bytes.fromhex("FF2F00")  # the end of the track


def test_a_full_frame_is_an_exclusive_message() -> None:
    events = events_of(track_of(write_midi_file([TimedMessage(Fraction(0), FullFrame(LABEL).encoded)], 120_000)))
    assert events[1] == bytes.fromhex("F0 09 7F 7F 01 01 21 17 2D 0C F7")


@pytest.mark.parametrize("event", ["F7 02 F1 0C", "F1 0C"])
def test_quarter_frames_are_read_behind_an_escape_and_bare(event: str) -> None:
    track = bytes.fromhex(f"60 {event} 83 60 90 3C 40 00 FF 2F 00")
    file = HEADER + b"MTrk" + len(track).to_bytes(4, "big") + track
    # 96 and 96 + 480 ticks of a beat of 500,000 us, which is what a file without a tempo means.
    assert read_midi_file(file) == [
        TimedMessage(Fraction(1, 10), bytes.fromhex("F1 0C")),
        TimedMessage(Fraction(6, 10), bytes.fromhex("90 3C 40")),
    ]
