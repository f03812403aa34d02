"""MIDI timecode against the tables and examples of its publications.

Sources: 'MIDI Time Code and Cueing, Detailed Specification' (supplement to MIDI 1.0, 1987); 'Digital Sound and
Music' (the full frame of 01:30:35:20). Rows marked computed follow from the tables by hand.
"""

from __future__ import annotations

import pytest

from cuedeck.timing.chase import Arrival, Located
from cuedeck.timing.mtc.messages import FullFrame, MtcParser, MtcReader, QuarterFrame, UserBits, code_of, quarter_frames
from cuedeck.timing.timecode import Timecode, TimecodeRate

VECTORS = [
    # label, rate, full frame, the data bytes of the eight quarter frames
    ("01:30:35:20", "30", "F0 7F 7F 01 01 61 1E 23 14 F7", "04 11 23 32 4E 51 61 76"),  # pieces computed
    ("01:23:45:12", "25", "F0 7F 7F 01 01 21 17 2D 0C F7", "0C 10 2D 32 47 51 61 72"),  # computed
    ("23:59:59:24", "25", "F0 7F 7F 01 01 37 3B 3B 18 F7", "08 11 2B 33 4B 53 67 73"),  # computed
]


@pytest.mark.parametrize(("text", "rate", "full", "pieces"), VECTORS)
def test_labels_are_coded_as_published_and_read_back(text: str, rate: str, full: str, pieces: str) -> None:
    label = Timecode.parse(text, TimecodeRate.parse(rate))
    assert FullFrame(label).encoded == bytes.fromhex(full)
    assert [piece.encoded for piece in quarter_frames(label)] == [bytes((0xF1, byte)) for byte in bytes.fromhex(pieces)]
    assert MtcParser().feed(bytes.fromhex(full)) == [FullFrame(label)]
    stream = b"".join(bytes((0xF1, byte)) for byte in bytes.fromhex(pieces))
    assert tuple(MtcParser().feed(stream)) == quarter_frames(label)


@pytest.mark.parametrize(("rate", "last"), [("24", 0x70), ("25", 0x72), ("29.97df", 0x74), ("30", 0x76)])
def test_the_last_piece_of_the_first_hour_tells_the_rate(rate: str, last: int) -> None:
    # 1987 supplement: 0rrh, with rr 0 for 24, 1 for 25, 2 for 30 drop-frame, 3 for 30.
    assert quarter_frames(Timecode(0, TimecodeRate.parse(rate)))[7].encoded[1] == last
    assert code_of(TimecodeRate.parse(rate)) == last >> 1 & 3


def test_the_two_nibbles_of_the_seconds_make_37() -> None:
    # 1987 supplement: F1 25, F1 32 are the seconds 25h, 37.
    assert MtcParser().feed(bytes.fromhex("F1 25 F1 32")) == [QuarterFrame(2, 5), QuarterFrame(3, 2)]
    label = Timecode.parse("00:00:37:00", TimecodeRate.parse("25"))
    assert quarter_frames(label)[2:4] == (QuarterFrame(2, 5), QuarterFrame(3, 2))


def test_a_label_is_two_frames_old_when_its_last_piece_is_over() -> None:
    # 1987 supplement: four quarter frames to the frame, the frame is that of piece 0, add two frames.
    label = Timecode.parse("01:23:45:12", TimecodeRate.parse("25"))
    reader = MtcReader()
    quarter_s = 0.01
    pieces = [*quarter_frames(label), *quarter_frames(label + 2)]
    told = [reader.take(n * quarter_s, piece) for n, piece in enumerate(pieces)]
    assert told[:7] == told[8:15] == [[]] * 7
    assert told[7] == [Arrival(0.0, label), Arrival(4 * quarter_s, label + 1)]
    # When the next piece 0 comes the picture is two frames on.
    assert told[15] == [Arrival(8 * quarter_s, label + 2), Arrival(12 * quarter_s, label + 3)]


def test_a_full_frame_locates_and_does_not_run() -> None:
    label = Timecode.parse("01:30:35:20", TimecodeRate.parse("30"))
    assert MtcReader().take(2.5, FullFrame(label)) == [Located(2.5, label)]


def test_user_bits_are_coded_as_published() -> None:
    # 1987 supplement: F0 7F cc 01 02 u1 to u9 F7.
    bits = UserBits((1, 2, 3, 4, 5, 6, 7, 8), 1)
    assert bits.encoded == bytes.fromhex("F0 7F 7F 01 02 01 02 03 04 05 06 07 08 01 F7")
    assert MtcParser().feed(bits.encoded) == [bits]
