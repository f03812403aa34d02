"""A refresh locked to the camera: whole packets to a frame, as many as the line carries.

The highest refresh for so many slots is by ANSI E1.11-2008 (R2018), transmitter timing, with our own break and mark:
44 packets a second with 512 slots, 822 with 24 (computed from break 100 us, mark 16 us, 44 us a slot).
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.frame_rates import parse_frame_rate
from cuedeck.timing.line import camera_refresh_hz, highest_refresh_hz, most_slots_at
from tests.timeline.shows import HEAD, opened, show_text
from tests.timeline.test_opening import told


@pytest.mark.parametrize(
    ("fps", "slots", "refresh_hz"),
    [
        ("25", 512, Fraction(25)),
        ("24", 512, Fraction(24)),
        ("23.976", 512, Fraction(24000, 1001)),
        ("20", 512, Fraction(40)),
        ("25", 256, Fraction(75)),
        ("25", 24, Fraction(800)),
        ("29.97", 24, 27 * Fraction(30000, 1001)),
        ("100", 24, Fraction(800)),
        ("48", 512, Fraction(24)),
        ("50", 512, Fraction(25)),
        ("100", 512, Fraction(100, 3)),
        ("1000", 24, Fraction(500)),
    ],
)
def test_the_highest_whole_multiple_is_taken_else_the_highest_whole_part(
    fps: str, slots: int, refresh_hz: Fraction
) -> None:
    assert camera_refresh_hz(parse_frame_rate(fps), slots) == refresh_hz


@given(st.fractions(min_value=1, max_value=1000, max_denominator=1001), st.integers(24, 512))
def test_every_frame_begins_at_the_same_point_of_a_packet_and_no_faster_refresh_does_so(
    fps: Fraction, slots: int
) -> None:
    refresh_hz, highest = camera_refresh_hz(fps, slots), highest_refresh_hz(slots)
    packets, frames = (refresh_hz / fps).as_integer_ratio()
    assert 1 in (packets, frames)
    assert refresh_hz <= highest
    faster = fps * (packets + 1) if frames == 1 else fps / (frames - 1)
    assert faster > highest


@pytest.mark.parametrize(("fps", "slots"), [(44, 512), (48, 469), (50, 450), (100, 223), (822, 24), (823, None)])
def test_the_most_slots_for_a_refresh_are_the_most_that_last_no_longer(fps: int, slots: int | None) -> None:
    # 1e6 / (116 + 44 (n + 1)) Hz for n slots, with a break of 100 us and a mark of 16 us.
    assert most_slots_at(Fraction(fps), 512, 24) == slots
    if slots is not None and slots < 512 and fps < 800:
        assert 1e6 / (116 + 44 * (slots + 1)) >= fps > 1e6 / (116 + 44 * (slots + 2))


def show(camera: str, slots: int) -> str:
    head = HEAD.replace("refresh: 40 Hz\nslots: 24", f"refresh: camera\nslots: {slots}\ncamera: {{{camera}}}")
    return show_text("cue: 1, at: 0 s, look: key", head=head)


def test_a_show_may_lock_its_refresh_to_the_camera() -> None:
    assert opened(show("fps: 25", 512)).plan("1").refresh_hz == 25
    assert opened(show("fps: 25", 24)).plan("1").refresh_hz == 800
    assert opened(show("fps: 25, shoot fps: 100", 24)).plan("1").refresh_hz == 800


def test_where_no_packet_fits_into_a_frame_the_check_says_why_and_how_many_slots_would() -> None:
    found = opened(show("fps: 48", 512))
    assert told(found.problems) == [
        (
            "2:10",
            "warning",
            "the camera takes 48 frames a second, and a line carries 44 packets a second of 512 slots:"
            " one packet goes out every 2 frames, at 24 Hz",
            "send at most 469 slots for a packet to each frame: 'slots: 469'",
        )
    ]
    assert found.plan("1").refresh_hz == 24
    assert opened(show("fps: 48", 469)).problems == ()
    assert opened(show("fps: 48", 469)).plan("1").refresh_hz == 48


def test_a_camera_that_no_line_can_follow_is_told_so() -> None:
    (problem,) = opened(show("shoot fps: 1000, play fps: 25", 24)).problems
    assert problem.cure == (
        "no number of slots is fast enough; write 'refresh: 822 Hz' where frames may see uneven numbers"
    )


def test_a_camera_rate_of_very_many_digits_is_refused() -> None:
    (problem,) = opened(show("fps: 23.976023976024", 512)).errors
    assert problem.what.endswith(" Hz is more exact than a clock can keep")
