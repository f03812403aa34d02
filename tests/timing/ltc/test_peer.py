"""Timecode against libltc, both ways: a decoder and an encoder that share nothing with ours.

Debian's libltc11. Where it is not installed these tests are left out.
"""

from __future__ import annotations

import ctypes

import numpy as np
import pytest

from cuedeck.bench import libltc
from cuedeck.timing.ltc.labels import gaps_of, user_bits_of
from cuedeck.timing.timecode import Timecode, TimecodeRate
from tests.timing.ltc.signals import USER_BITS, frame, played, read_labels, signal, with_noise
from tests.tools import leave_out

FPS = ["24", "25", "29.97df", "30"]
SAMPLE_RATES_HZ = [44_100, 48_000, 96_000, 192_000]
COUNT = 90


@pytest.fixture(scope="module")
def library() -> ctypes.CDLL:
    found = libltc.load()
    if found is None:
        leave_out("libltc", "apt install libltc11")
    return found


@pytest.mark.parametrize("sample_rate_hz", SAMPLE_RATES_HZ)
@pytest.mark.parametrize("fps", FPS)
def test_libltc_reads_the_bits_that_were_written(library: ctypes.CDLL, fps: str, sample_rate_hz: int) -> None:
    first = frame("09:59:58:05", fps)
    samples = signal("09:59:58:05", fps, COUNT, sample_rate_hz)
    per_frame = sample_rate_hz / float(first.label.rate.frames_per_second)
    found = list(libltc.decode(library, samples, round(per_frame)))
    written = [type(first)(first.label + number, USER_BITS).to_bytes() for number in range(COUNT)]
    assert [one.data for one in found] == written
    assert not any(one.is_reverse for one in found)
    starts = np.array([one.start for one in found])
    # It tells where a level was passed, some samples after the edge.
    assert np.abs(starts - np.arange(COUNT) * per_frame).max() < 1e-4 * sample_rate_hz


@pytest.mark.parametrize("sample_rate_hz", SAMPLE_RATES_HZ)
@pytest.mark.parametrize("fps", FPS)
def test_what_libltc_writes_is_read(library: ctypes.CDLL, fps: str, sample_rate_hz: int) -> None:
    rate = TimecodeRate.parse(fps)
    label = Timecode.parse("09:59:58:05", rate)
    frames_per_second = float(rate.frames_per_second)
    theirs = libltc.encode(
        library, label.parts, COUNT, sample_rate_hz, frames_per_second, rate.counted, user_bits=USER_BITS
    )
    labels = read_labels(theirs, sample_rate_hz)
    assert labels.rate == rate
    assert list(labels) == [label + number for number in range(COUNT)]
    assert (user_bits_of(labels.raw.data) == USER_BITS).all()
    assert gaps_of(labels) == []
    assert not labels.raw.is_inverted.any()
    assert labels.raw.data.tobytes() == b"".join(frame(str(one), fps).to_bytes() for one in labels)


@pytest.mark.parametrize("speed", [0.5, 0.75, 1.0, 1.5, 2.0])
def test_both_read_the_same_at_other_speeds_and_backwards(library: ctypes.CDLL, speed: float) -> None:
    samples = signal("01:00:00:00", "25", 200)
    for tape, is_reverse in ((samples, False), (samples[::-1], True)):
        heard, _ = played(tape, speed)
        theirs = list(libltc.decode(library, heard, round(1920 / speed)))
        ours = read_labels(heard, fps="25")
        read = {data.tobytes() for data in ours.raw.data}
        # It takes a few frames to find the speed, or leaves out the one at an end.
        assert len(theirs) > 190
        assert {one.data[:8] for one in theirs} <= {data[:8] for data in read}
        assert {one.is_reverse for one in theirs} == {is_reverse}
        assert (ours.raw.is_reverse == is_reverse).all()


def test_noise_that_libltc_cannot_read_through_is_read(library: ctypes.CDLL) -> None:
    samples = with_noise(signal("01:00:00:00", "25", 500, level_dbfs=-40.0), -50, 7)
    theirs = list(libltc.decode(library, samples, 1920))
    labels = read_labels(samples)
    assert len(labels) == 500 > len(theirs)
