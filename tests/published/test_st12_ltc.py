"""Frames of longitudinal timecode, against the bit places of SMPTE ST 12-1.

The places are those seen in the public documentation of libltc (ltc.h) and EBU N12-1999; the vectors are computed
from them by hand.
"""

from __future__ import annotations

import numpy as np
import pytest

from cuedeck.timing.ltc.encode import encode
from cuedeck.timing.ltc.frame import LtcFrame, LtcRefused
from cuedeck.timing.timecode import Timecode, TimecodeRate

# Ten bytes, bit 0 the lowest of the first. Bit 27 (at 25: 59) makes the number of ones even.
VECTORS = [
    ("00:00:00:00", "30", "00 00 00 08 00 00 00 00 FC BF"),
    ("00:00:00:00", "24", "00 00 00 08 00 00 00 00 FC BF"),
    ("00:00:00:00", "25", "00 00 00 00 00 00 00 08 FC BF"),
    ("01:23:45:12", "25", "02 01 05 04 03 02 01 00 FC BF"),
    ("01:23:45:12", "30", "02 01 05 04 03 02 01 00 FC BF"),
    ("10:59:59;29", "29.97df", "09 06 09 05 09 05 00 01 FC BF"),
    ("23:59:59:29", "30", "09 02 09 0D 09 05 03 02 FC BF"),
]


@pytest.mark.parametrize(("label", "fps", "data"), VECTORS)
def test_a_label_as_eighty_bits(label: str, fps: str, data: str) -> None:
    rate = TimecodeRate.parse(fps)
    frame = LtcFrame(Timecode.parse(label, rate))
    assert frame.to_bytes() == bytes.fromhex(data)
    assert LtcFrame.from_bytes(bytes.fromhex(data), rate) == frame


@pytest.mark.parametrize(
    ("fps", "flag", "place"),
    [("30", 1, 43), ("30", 2, 58), ("30", 4, 59), ("24", 1, 43), ("25", 1, 27), ("25", 2, 58), ("25", 4, 43)],
)
def test_the_binary_group_flags_move_at_25_frames(fps: str, flag: int, place: int) -> None:
    # ltc.h: BGF0 in bit 43, at 25 in 27; BGF1 in 58; BGF2 in 59, at 25 in 43; the polarity bit in 27, at 25 in 59.
    label = Timecode.parse("00:00:00:00", TimecodeRate.parse(fps))
    bits = int.from_bytes(LtcFrame(label, binary_group_flags=flag).to_bytes(), "little")
    # Thirteen ones of the sync word and the flag are even: the polarity bit stays out.
    assert bits & ((1 << 64) - 1) == 1 << place


def test_user_bits_fill_the_eight_groups_from_the_lowest() -> None:
    # ltc.h: user 1 in bits 4 to 7, user 2 in 12 to 15 and so on; filled from the lowest digit.
    label = Timecode.parse("00:00:00:00", TimecodeRate.parse("30"))
    data = LtcFrame(label, user_bits=0x87654321).to_bytes()
    assert [byte >> 4 for byte in data[:8]] == [1, 2, 3, 4, 5, 6, 7, 8]


def test_the_colour_frame_flag_is_bit_eleven() -> None:
    # ltc.h: dfbit is bit 10, col_frame bit 11.
    label = Timecode.parse("00:00:00:00", TimecodeRate.parse("30"))
    assert int.from_bytes(LtcFrame(label, is_colour_framed=True).to_bytes(), "little") >> 11 & 1 == 1


@pytest.mark.parametrize("fps", ["47.952", "48", "50", "59.94", "59.94df", "60"])
def test_a_rate_over_thirty_is_refused_with_the_rate_to_write(fps: str) -> None:
    rate = TimecodeRate.parse(fps)
    with pytest.raises(LtcRefused, match="every second frame") as refused:
        LtcFrame(Timecode(0, rate))
    named = TimecodeRate.parse(refused.value.cure.removeprefix("write "))
    assert named.frames_per_second * 2 == rate.frames_per_second
    assert named.is_drop == rate.is_drop


def test_zeros_change_once_a_bit_and_ones_twice() -> None:
    # ST 12-1, biphase mark: an edge at the start of every bit, and one more in the middle of a one.
    # 80 bits at 30 frames a second are 2400 bit/s: 20 samples of 48000 a bit.
    label = Timecode.parse("00:00:00:00", TimecodeRate.parse("30"))
    samples = next(encode(LtcFrame(label), 1, 48_000, 0.0))
    bits = np.unpackbits(np.frombuffer(LtcFrame(label).to_bytes(), np.uint8), bitorder="little")
    quarter, three_quarters = samples[5:1600:20] > 0, samples[15:1600:20] > 0
    assert (quarter != three_quarters).tolist() == bits.astype(bool).tolist()
    assert (three_quarters[:-1] != quarter[1:]).all()


@pytest.mark.parametrize("sample_rate_hz", [44_100, 48_000, 96_000, 192_000])
def test_an_edge_rises_in_forty_microseconds(sample_rate_hz: int) -> None:
    # ltc.h: "LTC signal should have a rise time of 40us +/- 10 us", from 10 to 90 percent.
    label = Timecode.parse("00:00:00:00", TimecodeRate.parse("25"))
    samples = next(encode(LtcFrame(label), 1, sample_rate_hz, 0.0)).astype(float)
    edge = round(sample_rate_hz / 2000)  # the start of bit 1, falling
    near = np.arange(edge - sample_rate_hz // 8000, edge + sample_rate_hz // 8000)
    leaves, arrives = (np.interp(-level, -samples[near], near) for level in (0.8, -0.8))
    assert 30 <= (arrives - leaves) / sample_rate_hz * 1e6 <= 50
