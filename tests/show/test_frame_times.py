"""A time of a shot may be counted in frames that the camera takes on set."""

from __future__ import annotations

from fractions import Fraction

import pytest

from cuedeck.draft.cues import set_fade, set_start
from cuedeck.draft.draft import Draft
from cuedeck.show.yamltext.changes import SetValue
from cuedeck.timeline.opening import OpenedShow, open_show

SHOW = """\
cuedeck: 2
{camera}
rig: {{key: {{type: dimmer, address: 1.1}}}}
looks: {{up: {{key: full}}}}
shots:
  "1":
    length: 40 frames
    move: {{keys: [{{time: 0 s, slide: 0 mm}}, {{time: 20 frames, slide: 10 mm}}]}}
    cues:
      - {{cue: 1, at: 0 s, look: up, fade: 10 frames}}
      - {{cue: 2, after: 1, wait: 1 frame, look: up}}
"""


def opened(camera: str = "camera: {fps: 25}") -> OpenedShow:
    return open_show({"show.yaml": SHOW.format(camera=camera).encode()}.__getitem__)


@pytest.mark.parametrize(
    ("camera", "fps"),
    [
        ("camera: {fps: 25}", Fraction(25)),
        ("", Fraction(25)),
        ("camera: {fps: 23.976}", Fraction(24000, 1001)),
        ("camera: {fps: 25, shoot fps: 100}", Fraction(100)),
    ],
)
def test_frames_are_those_that_the_camera_takes_on_set(camera: str, fps: Fraction) -> None:
    show = opened(camera)
    assert show.problems == ()
    plan = show.plan("1")
    assert plan.timeline().length_s == 40 / fps
    assert plan.start_times() == {"1": 0, "2": 11 / fps}
    assert plan.move is not None
    assert plan.move.duration_s == Fraction(repr(float(20 / fps)))
    assert str(plan.shot.length) == "40 frames"


def test_frames_of_a_camera_that_cannot_be_read_are_no_second_problem() -> None:
    assert [one.what for one in opened("camera: {fps: many}").problems] == ["'many' is not a frame rate"]


def test_edits_count_in_frames_too_and_follow_the_rate_of_the_camera() -> None:
    draft = Draft(opened())
    draft.make(set_fade(draft.opened, "1", "1", "50 frames"))
    draft.make(set_start(draft.opened, "1", "2", "after 1, wait 5 frames"))
    assert draft.opened.plan("1").start_times()["2"] == Fraction(55, 25)
    edit = set_fade(draft.opened, "1", "1", "50 frames")
    faster = type(edit)("rate", (SetValue(("camera", "fps"), "50"),))
    draft.make(faster)
    assert draft.opened.plan("1").start_times()["2"] == Fraction(55, 50)


def test_too_many_frames_and_parts_of_one_are_refused() -> None:
    for text, what in (("9999999 frames", "9999999 frames is out of range"), ("1.5 frames", "'frames' is no unit")):
        show = open_show({"show.yaml": SHOW.format(camera="").replace("40 frames", text).encode()}.__getitem__)
        assert what in show.problems[0].what
