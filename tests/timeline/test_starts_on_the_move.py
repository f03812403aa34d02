"""Cues on a combination of axes, and cues at places that noise passes more than once."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.show.problems import Severity
from tests.timeline.shows import first_packet_lit, opened, plan, show_text
from tests.tools import times

BOTH = (
    "    move: {ease: linear, keys: [{time: 0 s, pan: 0 deg, slide: 0 mm}, {time: 1 s, pan: 40 deg},"
    " {time: 2 s, pan: 0 deg}, {time: 3 s, pan: 40 deg}, {time: 4 s, pan: 0 deg, slide: 20 cm}]}\n"
)
"""Pan passes 30 deg at 0.75, 1.25, 2.75 and 3.25 s, while the slide goes evenly from 0 to 200 mm."""


@pytest.mark.parametrize(
    ("start", "packet"),
    [
        ("pan 30 deg", 30),
        ("pan 30 deg while slide over 5 cm", 50),
        ("pan 30 deg rising while slide over 50 mm", 110),
        ("pan 30 deg while slide over 100 mm", 110),
        ("pan 30 deg pass 2 while slide over 100 mm", 130),
        ("pan 30 deg falling while slide over 100 mm", 130),
        ("pan 30 deg pass 2 while slide under 100 mm", 50),
        ("slide 100 mm while pan under 10 deg", 80),
        ("slide 37.5 mm while pan under 30.5 deg", 30),
    ],
)
def test_a_cue_on_a_combination_starts_at_the_first_pass_at_which_the_other_axis_is_where_it_should(
    start: str, packet: int
) -> None:
    assert first_packet_lit(plan(f"cue: 1, at: {start}, look: key", shot=BOTH)) == packet


@given(st.integers(1, 199), st.booleans(), st.sampled_from(["", " rising", " falling"]))
@settings(max_examples=times(40))
def test_passes_while_over_and_while_under_add_up(limit: int, is_over: bool, direction: str) -> None:
    move = plan("cue: 1, at: 0 s, look: key", shot=BOTH).move
    assert move is not None
    side = "over" if is_over else "under"
    found = opened(show_text(f"cue: 1, at: pan 30 deg{direction} while slide {side} {limit} mm, look: key", shot=BOTH))
    times_s = [0.75, 1.25, 2.75, 3.25][{" rising": 0, " falling": 1}.get(direction, 0) :: 2 if direction else 1]
    expected = next((time_s for time_s in times_s if (time_s * 50 > limit) == is_over and time_s * 50 != limit), None)
    start_s = found.plan("1").start_times()["1"]
    assert start_s is None if expected is None else float(start_s or 0) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("start", "what", "cure"),
    [
        (
            "pan 30 deg while lift over 5 mm",
            "cue 1 never happens: the move has no axis 'lift'",
            "write one of 'pan', 'slide'",
        ),
        (
            "pan 30 deg while slide over 5 deg",
            "cue 1 never happens: axis 'slide' is counted in mm",
            "write a position such as slide 100 mm",
        ),
        (
            "pan 30 deg while slide over 180 mm",
            "cue 1 never happens: the axis does not pass 'pan 30 deg while slide over 180 mm'",
            "it passes 30 deg 4 times, and slide is at 37.5 mm at the first: ask for another limit",
        ),
        (
            "slide 100 mm while pan over 50 deg",
            "cue 1 never happens: the axis does not pass 'slide 100 mm while pan over 50 deg'",
            "it passes 100 mm once, and pan is at 0 deg then: ask for another limit",
        ),
        (
            "pan 50 deg while slide over 1 mm",
            "cue 1 never happens: the axis does not pass 'pan 50 deg while slide over 1 mm'",
            "write a position within its travel, 0 to 40 deg",
        ),
    ],
)
def test_a_combination_that_never_comes_is_reported(start: str, what: str, cure: str) -> None:
    (problem,) = opened(show_text(f"cue: 1, at: {start}, look: key", shot=BOTH)).problems
    assert (problem.severity, problem.what, problem.cure) == (Severity.ERROR, what, cure)


NOISY = "time s,slide mm\n" + "".join(f"{n / 100:g},{n + (3 if n % 10 == 5 else 0)}\n" for n in range(100))
"""A millimetre a sample, but each tenth sample is three ahead: 36 to 38 mm, for one, are passed thrice."""


@pytest.mark.parametrize(
    ("start", "warns"),
    [
        ("slide 37 mm", True),
        ("slide 37 mm rising", True),
        ("slide 37 mm falling", False),
        ("slide 37 mm pass 3", True),
        ("slide 32 mm", False),
        ("slide 32 mm rising", False),
    ],
)
def test_a_cue_where_noise_decides_which_pass_counts_is_a_warning(start: str, warns: bool) -> None:
    text = show_text(f"cue: 1, at: {start}, look: key", shot="    move: a.csv\n")
    problems = opened(text, {"a.csv": NOISY}).problems
    assert [problem.severity for problem in problems] == [Severity.WARNING] * warns


def test_the_warning_says_how_close_the_passes_are() -> None:
    text = show_text("cue: 1, at: slide 37 mm, look: key", shot="    move: a.csv\n")
    (problem,) = opened(text, {"a.csv": NOISY}).problems
    assert problem.what == (
        "cue 1: the axis passes 'slide 37 mm' at 0.347 s and again 0.0075 s later, 1 of its samples:"
        " noise decides which pass counts"
    )
    assert problem.cure == "choose a position where slide moves faster, or smooth the recording"


def test_a_move_that_is_written_out_has_no_noise() -> None:
    keys = "{keys: [{time: 0 s, slide: 0 mm}, {time: 1 s, slide: 10 mm}, {time: 1.1 s, slide: 9 mm}]}"
    assert opened(show_text("cue: 1, at: slide 9.5 mm, look: key", shot=f"    move: {keys}\n")).problems == ()
