"""SMPTE ST 12-1 timecode: drop-frame counting, against published values and two general libraries.

Drop-frame leaves out the labels ff = 00 and 01 (at 59.94: 00 to 03) of each minute that is not divisible
by ten. The counts are quoted in public documents; labels and frame numbers are computed from the rule
frame = 30 (3600 h + 60 m + s) + f - 2 (M - M // 10) with M = 60 h + m, and were compared with OpenTimelineIO.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from opentimelineio.opentime import RationalTime
from timecode import Timecode as OtherTimecode

from cuedeck.show.units import UnitError
from cuedeck.timing.timecode import Timecode, TimecodeRate
from tests.tools import times

DROP = TimecodeRate.parse("29.97df")
NON_DROP = TimecodeRate.parse("29.97")


@pytest.mark.parametrize(
    ("label", "frame"),
    [
        ("00:00:59;29", 1799),
        ("00:01:00;02", 1800),
        ("00:01:59;29", 3597),
        ("00:02:00;02", 3598),
        ("00:09:59;29", 17981),
        ("00:10:00;00", 17982),
        ("00:20:00;00", 35964),
        ("01:00:00;00", 107892),
        ("10:00:00;00", 1078920),
        ("23:59:59;29", 2589407),
    ],
)
def test_drop_frame_labels_stand_for_their_frames(label: str, frame: int) -> None:
    assert Timecode.parse(label, DROP).frames == frame
    assert str(Timecode(frame, DROP)) == label


@pytest.mark.parametrize("label", ["00:01:00;00", "00:01:00;01", "00:11:00;00"])
def test_labels_that_drop_frame_leaves_out_are_refused(label: str) -> None:
    with pytest.raises(UnitError, match="is left out in drop-frame"):
        Timecode.parse(label, DROP)


def test_the_label_of_a_tenth_minute_is_in_use() -> None:
    assert Timecode.parse("00:10:00;00", DROP).parts == (0, 10, 0, 0)


@pytest.mark.parametrize(
    ("rate", "ten_minutes", "hour", "day"),
    [("29.97df", 17_982, 107_892, 2_589_408), ("59.94df", 35_964, 215_784, 5_178_816)],
)
def test_drop_frame_counts_so_many_frames(rate: str, ten_minutes: int, hour: int, day: int) -> None:
    drop = TimecodeRate.parse(rate)
    assert Timecode.parse("00:10:00;00", drop).frames == ten_minutes
    assert Timecode.parse("01:00:00;00", drop).frames == hour
    assert drop.frames_per_day == day


def test_the_first_minute_is_whole_and_the_second_begins_after_the_dropped_labels() -> None:
    assert Timecode.parse("00:01:00;02", DROP).frames == 1800
    assert Timecode.parse("00:02:00;02", DROP).frames - Timecode.parse("00:01:00;02", DROP).frames == 1798
    assert Timecode.parse("00:01:00;04", TimecodeRate.parse("59.94df")).frames == 3600


@pytest.mark.parametrize(
    ("label", "after"), [("12:38:59;29", "12:39:00;02"), ("10:35:59;29", "10:36:00;02"), ("10:39:59;29", "10:40:00;00")]
)
def test_the_minute_goes_on_after_the_dropped_labels(label: str, after: str) -> None:
    assert str(Timecode.parse(label, DROP) + 1) == after


def test_drop_frame_loses_86_4_milliseconds_a_day() -> None:
    assert DROP.frames_per_day / DROP.frames_per_second == Fraction("86399.9136")


@pytest.mark.parametrize("rate", ["23.976", "29.97"])
def test_an_hour_of_labels_without_drop_frame_lasts_3603_6_seconds(rate: str) -> None:
    assert Timecode.parse("01:00:00:00", TimecodeRate.parse(rate)).time_s == Fraction("3603.6")


def test_an_hour_of_the_clock_at_23_976_ends_in_frame_00_59_56_09() -> None:
    rate = TimecodeRate.parse("23.976")
    assert str(Timecode(int(3600 * rate.frames_per_second), rate)) == "00:59:56:09"


def test_there_is_no_drop_frame_at_23_976() -> None:
    with pytest.raises(UnitError, match=r"23\.976 has no drop-frame"):
        TimecodeRate.parse("23.976df")


def frames_of_24_hours() -> list[int]:
    """Return the frames around the start of each minute, where labels are dropped or not, and every 97th between."""
    beside = (minute * 1798 + minute // 10 * 2 + shift for minute in range(24 * 60 + 1) for shift in range(-8, 9))
    day = range(DROP.frames_per_day)
    return sorted({*day[:: max(1, 97 // times(1))], *(frame for frame in beside if frame in day)})


def test_frames_of_24_hours_have_the_label_of_opentimelineio() -> None:
    """All 2,589,408 frames with CUEDECK_EXAMPLES=97. OpenTimelineIO wants the rate as 30000/1001, not as 29.97."""
    fps = 30000 / 1001
    frames = frames_of_24_hours()
    assert len(frames) > 50_000
    assert [n for n in frames if str(Timecode(n, DROP)) != RationalTime(n, fps).to_timecode(fps, True)] == []


def test_frames_of_24_hours_have_the_label_of_the_timecode_library() -> None:
    """The library's frame numbers start at 1."""
    frames = frames_of_24_hours()
    assert [n for n in frames if str(Timecode(n, DROP)) != str(OtherTimecode("29.97", frames=n + 1))] == []


@pytest.mark.parametrize("name", ["23.976", "24", "25", "29.97", "30", "48", "50", "59.94", "60", "59.94df"])
def test_frames_at_the_other_rates_have_the_labels_of_the_timecode_library(name: str) -> None:
    rate = TimecodeRate.parse(name)
    frames = range(0, rate.frames_per_day, 997)
    other = name.removesuffix("df")
    if name in ("29.97", "59.94"):
        theirs = [str(OtherTimecode(other, frames=n + 1, force_non_drop_frame=True)) for n in frames]
    else:
        theirs = [str(OtherTimecode(other, frames=n + 1)) for n in frames]
    assert [str(Timecode(n, rate)) for n in frames] == theirs


@pytest.mark.parametrize("name", ["47.952", "59.94df"])
def test_frames_at_rates_that_libraries_treat_apart_keep_to_the_rule(name: str) -> None:
    """The label, counted anew by the rule at the head of this file with 4 in the place of 2 at 59.94."""
    rate = TimecodeRate.parse(name)
    for frame in range(0, rate.frames_per_day, 9973):
        hours, minutes, seconds, frames = Timecode(frame, rate).parts
        all_minutes = 60 * hours + minutes
        dropped = 4 * (all_minutes - all_minutes // 10) if rate.is_drop else 0
        assert rate.counted * (3600 * hours + 60 * minutes + seconds) + frames - dropped == frame
