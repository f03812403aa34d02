"""A cue that is moved to a camera frame starts in that frame, whatever its start is written as."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.draft.cues import move_by_frames
from cuedeck.draft.incremental import changed
from cuedeck.draft.starts import typed_start
from cuedeck.errors import Refusal
from cuedeck.timeline.opening import OpenedShow, open_show
from cuedeck.timing.labels import frame_at
from tests.tools import times

SHOW = """cuedeck: 2
camera: {fps: FPS, timecode: RATE}
rig: {key: {type: dimmer, address: 1.1}}
looks: {lit: {key: full}, dark: {everything: out}}
shots:
  "1":
    starts at: 00:00:58:00
    move: {ease: linear, keys: [{time: 0 s, slide: 0 mm, pan: 0 deg}, {time: 8 s, slide: 400 mm, pan: 30 deg},
           {time: 16 s, slide: 0 mm, pan: 90 deg}]}
    cues:
      - {cue: time, at: 2 s, look: lit}
      - {cue: ms, at: 2500 ms, look: lit}
      - {cue: frames, at: 75 frames, look: lit}
      - {cue: label, at: 00:01:01:10, look: lit}
      - {cue: share, at: 40 % of the move, look: lit}
      - {cue: rising, at: slide 100 mm, look: lit}
      - {cue: falling, at: slide 100 mm falling, look: lit}
      - {cue: second, at: slide 300 mm pass 2, look: lit}
      - {cue: while, at: slide 200 mm while pan over 5 deg, look: lit}
      - {cue: after, after: time, wait: 1 s, look: dark, fade: 0.5 s}
      - {cue: with, with: frames, wait: 0.25 s, look: dark}
      - {cue: hand, at: operator, look: dark}
"""
MOVABLE = ["time", "ms", "frames", "label", "share", "rising", "falling", "second", "while", "after", "with"]
RATES = [("25", "25"), ("29.97", "29.97df"), ("23.976", "23.976"), ("50", "50")]


def opened(fps: str = "25", rate: str = "25") -> OpenedShow:
    text = SHOW.replace("FPS", fps).replace("RATE", rate).encode()
    show = open_show({"show.yaml": text}.__getitem__)
    assert not show.errors, show.errors
    return show


def frame_of(show: OpenedShow, cue: str) -> int:
    plan = show.plan("1")
    start_s = plan.start_times()[cue]
    assert start_s is not None
    return frame_at(start_s, plan.fps_on_set)


@settings(max_examples=times(50))
@given(
    st.sampled_from(MOVABLE),
    st.integers(-30, 60),
    st.sampled_from(RATES),
)
def test_it_starts_so_many_frames_later(cue: str, frames: int, rate: tuple[str, str]) -> None:
    """In the terms in which it was written, drop-frame too."""
    show = opened(*rate)
    before = frame_of(show, cue)
    try:
        edit = move_by_frames(show, "1", cue, frames)
    except Refusal:
        return  # it says why: the tests below have each reason
    after = changed(show, edit.changes)
    kind = type(next(one for one in show.show.shots["1"].cues if one.cue == cue).trigger)
    now = next(one for one in after.show.shots["1"].cues if one.cue == cue).trigger
    assert type(now) is kind
    is_tied = cue in ("after", "with")
    wanted = max(before + frames, 0)
    earliest = frame_of(changed(show, move_by_frames(show, "1", cue, -999).changes), cue) if is_tied else 0
    assert frame_of(after, cue) == max(wanted, earliest)


@pytest.mark.parametrize("cue", MOVABLE)
@pytest.mark.parametrize("frames", [1, -1, 10, 25])
def test_small_steps_are_never_refused_on_a_steady_axis(cue: str, frames: int) -> None:
    """At 25 frames a second, in the middle of the shot."""
    show = opened()
    after = changed(show, move_by_frames(show, "1", cue, frames).changes)
    assert frame_of(after, cue) == frame_of(show, cue) + frames


@pytest.mark.parametrize(
    ("cue", "frames", "written"),
    [
        ("time", 1, "2.04 s"),
        ("ms", 1, "2520 ms"),
        ("frames", -10, "65 frames"),
        ("label", 25, "00:01:02:10"),
        ("rising", 10, "slide 121 mm"),
        ("falling", 10, "slide 79 mm falling"),
    ],
)
def test_it_is_written_as_a_person_would(cue: str, frames: int, written: str) -> None:
    """With as few digits as mean that frame."""
    show = opened()
    (change,) = move_by_frames(show, "1", cue, frames).changes
    assert getattr(change, "value") == written  # noqa: B009 - a change may have none


@pytest.mark.parametrize(
    ("cue", "frames", "words"),
    [
        ("hand", 1, "waits for the operator: enter on 'starts' types a time or a place"),
        ("share", 600, "is past the end of the move: enter on 'starts' types a time"),
        (
            "rising",
            600,
            "stands still, or turns, in frame 650: ← and → go to where it moves, or enter on 'starts' types a time",
        ),
    ],
)
def test_what_has_no_such_place_is_refused_with_what_to_do(cue: str, frames: int, words: str) -> None:
    show = opened()
    with pytest.raises(Refusal, match=words):
        move_by_frames(show, "1", cue, frames)


def test_a_cue_that_follows_another_waits_no_less_than_nothing() -> None:
    """Once it waits for nothing, an earlier start must be typed."""
    show = opened()
    close = changed(show, move_by_frames(show, "1", "after", -999).changes)
    assert frame_of(close, "after") == 50
    with pytest.raises(
        Refusal, match="starts once cue time has ended: for an earlier one, enter on 'starts' types a time or a place"
    ):
        move_by_frames(close, "1", "after", -1)


@pytest.mark.parametrize(
    ("text", "start"),
    [
        ("2 s", {"at": "2 s"}),
        (" slide  60 mm falling ", {"at": "slide 60 mm falling"}),
        ("operator", {"at": "operator"}),
        ("after 2", {"after": "2"}),
        ("after 2 0.5 s", {"after": "2", "wait": "0.5 s"}),
        ("with first light wait 1 s", {"with": "first light", "wait": "1 s"}),
        ("after 4, wait 0.4 s", {"after": "4", "wait": "0.4 s"}),
        ("after 4,wait 0.4s", {"after": "4", "wait": "0.4 s"}),
        ("after 4; wait: 0.4 s", {"after": "4", "wait": "0.4 s"}),
        ("after 4 and wait 10 frames", {"after": "4", "wait": "10 frames"}),
        ("after 4 + 0.4 s", {"after": "4", "wait": "0.4 s"}),
        ("after 4, 400ms", {"after": "4", "wait": "400 ms"}),
        ("after 4,", {"after": "4"}),
        ("with dusk 2 1 s", {"with": "dusk 2", "wait": "1 s"}),
        ("with part 2b", {"with": "part 2b"}),
        ("with 4,5", {"with": "4,5"}),
    ],
)
def test_a_start_is_typed_as_it_stands_in_a_show(text: str, start: dict[str, str]) -> None:
    assert typed_start(text) == start


@pytest.mark.parametrize("text", ["", "soon", "2", "after 2 wait soon"])
def test_a_text_that_is_no_start_is_refused(text: str) -> None:
    with pytest.raises(Refusal, match="write"):
        typed_start(text)
