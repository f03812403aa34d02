"""A shot walked through frame by frame: which frame is held, and the light of it."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.show.units import UnitError
from cuedeck.timeline.stepping import FrameSteps
from tests.timeline.shows import HEAD, plan
from tests.tools import times

FRAMES_50 = "    length: 2 s\n"


def steps(*cues: str, camera: str = "fps: 25") -> FrameSteps:
    head = HEAD.replace("refresh: 40 Hz", f"refresh: 40 Hz\ncamera: {{{camera}}}")
    return FrameSteps(plan(*(cues or ("cue: 1, at: 10 frames, look: key",)), shot=FRAMES_50, head=head))


def test_enter_goes_on_a_frame_at_a_time_and_over_the_end() -> None:
    walk = steps()
    held = []
    while not walk.is_over:
        held.append(walk.frame)
        walk.follow("")
    assert held == list(range(50))


def test_back_and_goto_go_elsewhere() -> None:
    walk = steps()
    walk.follow("back")
    assert walk.frame == 0
    walk.follow("goto 30")
    assert walk.frame == 30
    walk.follow("back")
    walk.follow("next")
    assert walk.frame == 30
    walk.follow("goto 00:00:01:03")
    assert walk.frame == 28
    assert not walk.is_over


@given(st.integers(0, 49))
@settings(max_examples=times(20))
def test_a_cue_at_a_frame_is_seen_in_the_light_of_that_frame_and_not_before(frame: int) -> None:
    walk = steps(f"cue: 1, at: {frame} frames, look: key")
    walk.follow(f"goto {frame}")
    assert walk.slots()[0, 0] == 255
    if frame:
        walk.follow("back")
        assert walk.slots()[0, 0] == 0


def test_the_frames_are_those_that_the_camera_takes_on_set() -> None:
    walk = steps(camera="shoot fps: 100, play fps: 25")
    assert walk.last_frame == 199
    walk.follow("goto 7")
    assert walk.time_s == Fraction(7, 100)
    assert walk.packet == ceil(Fraction(7, 100) * 40) == 3


def test_an_operator_cue_is_fired_at_the_frame_that_is_held() -> None:
    walk = steps("cue: go, at: operator, look: key, fade: 1 s")
    walk.follow("goto 10")
    walk.follow("fire")
    assert walk.slots()[0, 0] == 0
    walk.follow("goto 35")
    assert walk.slots()[0, 0] == 255
    with pytest.raises(UnitError, match="no cue waits for the operator"):
        walk.follow("fire")


@pytest.mark.parametrize(
    ("word", "what"),
    [
        ("forward", "'forward' is no word here"),
        ("goto", "'' is no frame"),
        ("goto 50", "the shot has no frame 50"),
        ("goto -1", "'-1' is no frame"),
        ("goto 00:00:02:00", "the shot has no frame 00:00:02:00"),
        ("goto 00:00:01:25", "'00:00:01:25' is out of range"),
    ],
)
def test_what_is_no_word_leaves_the_frame_as_it_is(word: str, what: str) -> None:
    walk = steps()
    walk.follow("goto 20")
    with pytest.raises(UnitError) as refused:
        walk.follow(word)
    assert (refused.value.what, walk.frame) == (what, 20)
