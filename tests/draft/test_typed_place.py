"""Places that are typed to go there: what the shot does not have is refused with the range that it has."""

from __future__ import annotations

from fractions import Fraction

import pytest

from cuedeck.draft.starts import place_s
from cuedeck.errors import Refusal
from cuedeck.timeline.opening import OpenedShow
from tests.tui.shows import opened

MOVE = "move: {keys: [{time: 0 s, slide: 0 mm}, {time: 4 s, slide: 340 mm}], ease: linear}"
SHOW = opened(f'shots:\n  "1": {{{MOVE}, starts at: "01:00:00:00"}}\n  "2": {{length: 2 s}}\n')


def place(text: str, shot: str = "1", show: OpenedShow = SHOW, speed: Fraction = Fraction(1)) -> Fraction:
    return place_s(show.plan(shot, speed), text)


def test_places_that_a_shot_has_are_found() -> None:
    """The end too, which is in no frame; a frame is one as it is written, whatever the speed."""
    assert place("99 frames") == Fraction(99, 25)
    assert place("4 s") == 4
    assert place("01:00:03:24") == Fraction(99, 25)
    assert place("slide 170 mm") == 2
    assert place("99 frames", speed=Fraction(1, 2)) == Fraction(198, 25)


@pytest.mark.parametrize(
    ("shot", "text", "words"),
    [
        ("1", "400 frames", "400 frames: this shot has frames 0 to 99"),
        ("1", "100 frames", "100 frames: this shot has frames 0 to 99"),
        ("1", "4.1 s", "4.1 s: this shot goes from 0 s to 4 s"),
        ("1", "01:00:04:00", "01:00:04:00: this shot goes from 01:00:00:00 to 01:00:03:24"),
        ("1", "00:59:00:00", "00:59:00:00: this shot goes from 01:00:00:00 to 01:00:03:24"),
        ("1", "slide 900 mm", "slide 900 mm: slide goes from 0 to 340 mm"),
        ("1", "slide 60 mm falling", "slide 60 mm falling: slide never passes there so; it goes from 0 to 340 mm"),
        ("1", "pan 30 deg", "pan 30 deg: the move has slide 0 to 340 mm"),
        ("2", "slide 60 mm", "slide 60 mm: this shot has no move; write a time from 0 s to 2 s"),
        ("2", "40 % of the move", "40 % of the move: this shot has no move; write a time from 0 s to 2 s"),
        ("1", "operator", "operator: write a place that can be known, such as a time from 0 s to 4 s"),
    ],
)
def test_what_a_shot_does_not_have_is_refused_with_what_it_has(shot: str, text: str, words: str) -> None:
    """In the kind of place that was typed."""
    with pytest.raises(Refusal) as refused:
        place(text, shot)
    assert str(refused.value) == words
