"""Timecode as an algebra: labels and frames are one, and nothing is ever rounded."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.frame_rates import DROP_FRAME, RATE_CURE, RATES, read_label
from cuedeck.show.units import UnitError
from cuedeck.timing.timecode import Timecode, TimecodeRate

EVERY_RATE = [TimecodeRate.parse(name) for name in (*RATES, *DROP_FRAME)]
DROP = TimecodeRate.parse("29.97df")
rates = st.sampled_from(EVERY_RATE)
counts = st.integers(-(10**8), 10**8)


@given(rates, counts)
def test_a_label_reads_as_the_frame_that_prints_it(rate: TimecodeRate, frames: int) -> None:
    label = Timecode(frames, rate)
    assert Timecode.parse(str(label), rate) == label
    assert Timecode.of(*label.parts, rate) == label
    assert read_label(str(label)) == str(label)


@given(rates, st.integers(0, 23), st.integers(0, 59), st.integers(0, 59), st.integers(0, 59))
def test_a_label_in_use_prints_as_it_was_written(
    rate: TimecodeRate, hours: int, minutes: int, seconds: int, frames: int
) -> None:
    written = f"{hours:02d}:{minutes:02d}:{seconds:02d}{';' if rate.is_drop else ':'}{frames:02d}"
    is_dropped = frames < rate.dropped_per_minute and seconds == 0 and minutes % 10 != 0
    if frames >= rate.counted or is_dropped:
        with pytest.raises(UnitError):
            Timecode.parse(written, rate)
    else:
        assert str(Timecode.parse(written, rate)) == written


@given(rates, counts, counts)
def test_what_is_added_is_what_lies_between_and_can_be_taken_away_again(
    rate: TimecodeRate, frames: int, more: int
) -> None:
    label = Timecode(frames, rate)
    assert (label + more) - more == label
    assert (label + more).frames_since(label) == more % rate.frames_per_day
    assert label + rate.frames_per_day == label


@given(rates, counts, counts)
def test_labels_of_a_day_are_in_the_order_of_their_texts(rate: TimecodeRate, one: int, other: int) -> None:
    first, second = Timecode(one, rate), Timecode(other, rate)
    assert (first < second) == (str(first) < str(second))
    assert (first <= second) == (str(first) <= str(second))


@given(rates, counts)
def test_the_next_label_is_the_next_that_is_not_left_out(rate: TimecodeRate, frames: int) -> None:
    label = Timecode(frames, rate)
    hours, minutes, seconds, frame = label.parts
    counted = ((hours * 60 + minutes) * 60 + seconds) * rate.counted + frame + 1
    hours, minutes, seconds, frame = (label + 1).parts
    step = ((hours * 60 + minutes) * 60 + seconds) * rate.counted + frame - counted
    at_start_of_minute = seconds == 0 and minutes % 10 and frame == rate.dropped_per_minute
    if (label + 1).frames:
        assert step == (rate.dropped_per_minute if rate.is_drop and at_start_of_minute else 0)


@given(rates, counts)
def test_real_time_is_an_exact_fraction_of_the_frames(rate: TimecodeRate, frames: int) -> None:
    label = Timecode(frames, rate)
    assert label.time_s * rate.frames_per_second == label.frames
    assert isinstance(label.time_s, Fraction)


@pytest.mark.parametrize("rate", EVERY_RATE, ids=str)
def test_the_last_label_of_a_day_is_followed_by_the_first(rate: TimecodeRate) -> None:
    sign = ";" if rate.is_drop else ":"
    last = Timecode.parse(f"23:59:59{sign}{rate.counted - 1}", rate)
    assert last.frames == rate.frames_per_day - 1
    assert str(last + 1) == f"00:00:00{sign}00"
    assert str(Timecode(0, rate) - 1) == str(last)


def test_a_drop_frame_label_may_be_written_with_a_colon() -> None:
    assert Timecode.parse("00:01:00:02", DROP) == Timecode.parse("0:01:00;02", DROP) == Timecode(1800, DROP)


def test_labels_of_different_rates_are_not_compared() -> None:
    with pytest.raises(ValueError, match=r"timecode at 29\.97df cannot be compared with timecode at 29\.97"):
        _ = Timecode(1, DROP) < Timecode(1, TimecodeRate.parse("29.97"))


@pytest.mark.parametrize(
    ("text", "rate", "what", "cure"),
    [
        ("soon", "25", "'soon' is no timecode", "write hours:minutes:seconds:frames such as 01:00:04:12"),
        ("01:00:04", "25", "'01:00:04' is no timecode", "write hours:minutes:seconds:frames such as 01:00:04:12"),
        ("01:00:04;12", "25", "'01:00:04;12' is drop-frame, and 25 is not", "write a colon before the frames"),
        ("01:00:04;12", "29.97", "'01:00:04;12' is drop-frame, and 29.97 is not", "write a colon before the frames"),
        ("01:00:04:25", "25", "'01:00:04:25' is out of range", "at 25 it ends at 23:59:59:24"),
        ("24:00:00:00", "30", "'24:00:00:00' is out of range", "at 30 it ends at 23:59:59:29"),
        ("01:60:00:00", "30", "'01:60:00:00' is out of range", "at 30 it ends at 23:59:59:29"),
        ("00:01:00;00", "29.97df", "'00:01:00;00' is left out in drop-frame", "this minute begins with 00:01:00;02"),
        ("00:11:00;03", "59.94df", "'00:11:00;03' is left out in drop-frame", "this minute begins with 00:11:00;04"),
    ],
)
def test_what_is_no_label_is_refused_with_a_cure(text: str, rate: str, what: str, cure: str) -> None:
    with pytest.raises(UnitError) as refused:
        Timecode.parse(text, TimecodeRate.parse(rate))
    assert (refused.value.what, refused.value.cure) == (what, cure)


@pytest.mark.parametrize(
    ("text", "what", "cure"),
    [
        ("12", "'12' is no rate of timecode", RATE_CURE),
        ("100df", "'100df' is no rate of timecode", RATE_CURE),
        ("25df", "25 has no drop-frame", "drop-frame is for 29.97 and 59.94"),
        ("30 drop", "30 has no drop-frame", "drop-frame is for 29.97 and 59.94"),
        ("23.976df", "23.976 has no drop-frame", "drop-frame is for 29.97 and 59.94"),
    ],
)
def test_what_is_no_rate_is_refused_with_a_cure(text: str, what: str, cure: str) -> None:
    with pytest.raises(UnitError) as refused:
        TimecodeRate.parse(text)
    assert (refused.value.what, refused.value.cure) == (what, cure)


@pytest.mark.parametrize(
    ("text", "name"),
    [("29.97 DF", "29.97df"), ("59.94 drop", "59.94df"), ("25 fps", "25"), ("23.98", "23.976"), ("47.95", "47.952")],
)
def test_a_rate_may_be_spelt_in_other_ways(text: str, name: str) -> None:
    assert str(TimecodeRate.parse(text)) == name


@given(st.fractions(min_value=1, max_value=1000, max_denominator=1001), st.integers(0, 10**7))
def test_frames_of_any_rate_can_be_counted(fps: Fraction, frames: int) -> None:
    rate = TimecodeRate.counting(fps)
    hours, minutes, seconds, frame = Timecode(frames, rate).parts
    counted = ((hours * 60 + minutes) * 60 + seconds) * rate.counted + frame
    assert counted == frames % (24 * 3600 * rate.counted)


def test_a_rate_of_a_thousand_is_printed_with_three_digits_of_frames() -> None:
    assert str(Timecode(1_007, TimecodeRate.counting(Fraction(1000)))) == "00:00:01:007"
    assert str(Timecode(13, TimecodeRate.counting(Fraction(12)))) == "00:00:01:01"
    assert [TimecodeRate.counting(Fraction(fps)).is_standard for fps in (12, 24, 1000)] == [False, True, False]
