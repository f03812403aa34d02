"""Frames of timecode and their bits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.timing.ltc.frame import LtcFrame, LtcRefused
from cuedeck.timing.timecode import Timecode, TimecodeRate

RATES = [TimecodeRate.parse(name) for name in ("23.976", "24", "25", "29.97", "29.97df", "30")]


@st.composite
def frames(draw: st.DrawFn) -> LtcFrame:
    rate = draw(st.sampled_from(RATES))
    label = Timecode(draw(st.integers(0, rate.frames_per_day - 1)), rate)
    return LtcFrame(label, draw(st.integers(0, 2**32 - 1)), draw(st.booleans()), draw(st.integers(0, 7)))


@given(frames())
def test_a_frame_comes_back_from_its_bits(frame: LtcFrame) -> None:
    assert LtcFrame.from_bytes(frame.to_bytes(), frame.label.rate) == frame


@given(frames())
def test_the_number_of_ones_is_even(frame: LtcFrame) -> None:
    assert int.from_bytes(frame.to_bytes(), "little").bit_count() % 2 == 0


@given(st.binary(min_size=8, max_size=8), st.sampled_from(RATES))
def test_any_bits_are_a_frame_or_refused(data: bytes, rate: TimecodeRate) -> None:
    try:
        frame = LtcFrame.from_bytes(data + b"\xfc\xbf", rate)
    except LtcRefused:
        return
    assert LtcFrame.from_bytes(frame.to_bytes(), rate) == frame


@pytest.mark.parametrize(
    ("data", "fps", "what"),
    [
        ("0A 00 00 00 00 00 00 00 FC BF", "30", "a digit of the label is over 9"),
        ("09 03 00 00 00 00 00 00 FC BF", "30", "out of range"),
        ("05 02 00 00 00 00 00 00 FC BF", "25", "out of range"),
        ("00 00 00 06 00 00 00 00 FC BF", "30", "out of range"),
        ("00 04 00 00 01 00 00 00 FC BF", "29.97df", "left out in drop-frame"),
        ("00 04 00 00 00 00 00 00 FC BF", "29.97", "the frame says that it is drop-frame"),
        ("00 00 00 00 00 00 00 00 FC BF", "29.97df", "the frame says that it is not drop-frame"),
        ("00 00 00 00 00 00 00 00 BF FC", "30", "do not end in the sync word"),
        ("00 00", "30", "do not end in the sync word"),
    ],
)
def test_bits_that_are_no_frame_are_refused(data: str, fps: str, what: str) -> None:
    with pytest.raises(LtcRefused, match=what):
        LtcFrame.from_bytes(bytes.fromhex(data), TimecodeRate.parse(fps))


def test_bit_ten_is_not_drop_frame_at_25() -> None:
    # ST 12-1: the bit is unassigned there.
    data = bytes.fromhex("00 04 00 00 00 00 00 00 FC BF")
    assert str(LtcFrame.from_bytes(data, TimecodeRate.parse("25")).label) == "00:00:00:00"


@pytest.mark.parametrize("user_bits", [-1, 1 << 32])
def test_user_bits_are_thirty_two(user_bits: int) -> None:
    with pytest.raises(LtcRefused, match="32 bits"):
        LtcFrame(Timecode(0, RATES[0]), user_bits)


def test_there_are_three_binary_group_flags() -> None:
    with pytest.raises(LtcRefused, match="three binary group flags"):
        LtcFrame(Timecode(0, RATES[0]), binary_group_flags=8)
