"""Labels of the frames of a shot: from its own timecode, or from its start."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.camera import Camera
from cuedeck.show.frame_rates import DROP_FRAME, RATES, TimecodeRate
from cuedeck.show.model import Shot
from cuedeck.show.units import UnitError
from cuedeck.timing.labels import ShotLabels, frame_at, frame_count

EVERY_RATE = [TimecodeRate.parse(name) for name in (*RATES, *DROP_FRAME)]
PAL = TimecodeRate.parse("25")


def test_frames_count_from_zero_where_the_shot_starts_at_no_timecode() -> None:
    labels = ShotLabels(PAL)
    assert labels.label(0) == "00:00:00:00"
    assert labels.label(26) == "00:00:01:01"
    assert labels.frame_of("00:00:01:01") == 26


def test_frames_count_from_the_timecode_of_the_shot() -> None:
    labels = ShotLabels(PAL, "01:00:00:00")
    assert labels.label(112) == "01:00:04:12"
    assert labels.frame_of("01:00:04:12") == 112


def test_a_shot_may_pass_midnight() -> None:
    assert ShotLabels(PAL, "23:59:59:20").frame_of("00:00:00:05") == 10


def test_from_zero_every_label_of_the_day_is_after_the_start() -> None:
    assert ShotLabels(PAL).frame_of("13:00:00:00") == 13 * 3600 * 25


@pytest.mark.parametrize(
    ("start", "label", "what", "cure"),
    [
        (
            "01:00:00:00",
            "00:59:59:24",
            "00:59:59:24 is before the start of the shot, 01:00:00:00",
            "write 01:00:00:00 or a later timecode",
        ),
        ("01:00:00:00", "01:00:00:25", "'01:00:00:25' is out of range", "at 25 it ends at 23:59:59:24"),
        (None, "00:00:00;01", "'00:00:00;01' is drop-frame, and 25 is not", "write a colon before the frames"),
    ],
)
def test_a_label_that_is_no_frame_of_the_shot_is_refused(start: str | None, label: str, what: str, cure: str) -> None:
    with pytest.raises(UnitError) as refused:
        ShotLabels(PAL, start).frame_of(label)
    assert (refused.value.what, refused.value.cure) == (what, cure)


@pytest.mark.parametrize("fps", [12, 100, 1000])
def test_rates_that_are_none_of_timecode_are_shown_but_not_read(fps: int) -> None:
    labels = ShotLabels(TimecodeRate.counting(Fraction(fps)))
    assert labels.label(fps + 1).startswith("00:00:01:")
    with pytest.raises(UnitError) as refused:
        labels.frame_of("00:00:01:01")
    assert refused.value.what == (f"00:00:01:01 stands for no frame: {fps} frames a second is no rate of timecode")


def test_a_start_that_is_no_label_leaves_frames_counted_from_zero() -> None:
    assert ShotLabels(PAL, "01:00:00:99").label(3) == "00:00:00:03"


@given(st.sampled_from(EVERY_RATE), st.integers(0, 10**7), st.integers(0, 10**6))
def test_the_label_of_a_frame_stands_for_that_frame(rate: TimecodeRate, first: int, frame: int) -> None:
    start = ShotLabels(rate).label(first)
    assert ShotLabels(rate, start).frame_of(ShotLabels(rate, start).label(frame)) == frame


@given(st.fractions(min_value=1, max_value=1000), st.integers(0, 10**7))
def test_the_time_at_which_a_frame_begins_falls_into_that_frame(fps: Fraction, frame: int) -> None:
    assert frame_at(frame / fps, fps) == frame


def test_a_shot_has_the_frames_that_begin_in_it_and_its_end_is_in_none() -> None:
    """4 s at 25 frames a second are 100 frames; a frame that is begun counts."""
    assert frame_count(Fraction(4), Fraction(25)) == 100
    assert frame_count(Fraction(401, 100), Fraction(25)) == 101
    assert frame_count(Fraction(0), Fraction(25)) == 1


def test_without_a_rate_of_timecode_a_frame_is_called_by_its_number() -> None:
    """None is made up: neither where the show says no rate, nor at one that timecode does not have."""
    shot, named = Shot(), Shot.model_validate({"starts at": "01:00:00:00"})
    assert ShotLabels.of(Camera(), shot).label(50) == "frame 50"
    assert ShotLabels.of(Camera.model_validate({"fps": "12"}), shot).label(50) == "frame 50"
    assert ShotLabels.of(Camera.model_validate({"fps": "25"}), shot).label(50) == "00:00:02:00"
    assert ShotLabels.of(Camera(), named).label(50) == "01:00:02:00"
