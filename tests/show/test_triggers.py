"""Each way to say when a cue starts."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.frame_rates import LABEL_CURE
from cuedeck.show.triggers import (
    CURE,
    WHILE_CURE,
    AfterCue,
    AtFrame,
    AtPosition,
    AtShare,
    AtTime,
    AtTimecode,
    ByOperator,
    Direction,
    Trigger,
    While,
    parse_trigger,
)
from cuedeck.show.units import Angle, Duration, Length, Percent, UnitError

SLIDE_60 = Length(Fraction(60), "mm")
PAN_30 = Angle(Fraction(30), "deg")


@pytest.mark.parametrize(
    ("text", "trigger"),
    [
        ("2 s", AtTime(Duration(Fraction(2), "s"))),
        ("500 ms", AtTime(Duration(Fraction(500), "ms"))),
        ("50 frames", AtFrame(50)),
        ("1 frame", AtFrame(1)),
        ("50f", AtFrame(50)),
        ("40 % of the move", AtShare(Percent(Fraction(40), "%"))),
        ("40 %", AtShare(Percent(Fraction(40), "%"))),
        ("operator", ByOperator()),
        ("slide 60 mm", AtPosition("slide", SLIDE_60)),
        ("slide 60 mm rising", AtPosition("slide", SLIDE_60, Direction.RISING)),
        ("slide 60 mm falling", AtPosition("slide", SLIDE_60, Direction.FALLING)),
        ("slide 60 mm pass 2", AtPosition("slide", SLIDE_60, Direction.ANY, 2)),
        ("slide 60 mm falling pass 3", AtPosition("slide", SLIDE_60, Direction.FALLING, 3)),
        ("rotary table −30 deg", AtPosition("rotary table", Angle(Fraction(-30), "deg"))),
        ("cam 2 60 mm", AtPosition("cam 2", SLIDE_60)),
        ("01:00:04:12", AtTimecode("01:00:04:12")),
        (" 1:00:04;12 ", AtTimecode("1:00:04;12")),
        (
            "pan 30 deg while slide over 60 mm",
            AtPosition("pan", PAN_30, while_=While("slide", True, SLIDE_60)),
        ),
        (
            "pan 30° falling pass 2 while rotary table under 60 mm",
            AtPosition("pan", PAN_30, Direction.FALLING, 2, While("rotary table", False, SLIDE_60)),
        ),
    ],
)
def test_a_start_is_read(text: str, trigger: Trigger) -> None:
    assert parse_trigger(text) == trigger


NUMBERS = st.fractions(min_value=0, max_value=100, max_denominator=1000)
AXES = st.from_regex(r"[a-z]{1,8}(?:[ -][a-z]{1,8})?(?: [1-9])?", fullmatch=True)
POSITIONS = st.one_of(
    st.builds(Length, NUMBERS.map(lambda n: n - 50), st.sampled_from(sorted(Length.FACTORS))),
    st.builds(Angle, NUMBERS.map(lambda n: n - 50), st.just("deg")),
)
STARTS = st.one_of(
    st.just(ByOperator()),
    st.builds(AtTime, st.builds(Duration, NUMBERS, st.sampled_from(sorted(Duration.FACTORS)))),
    st.builds(AtFrame, st.integers(0, 10**6)),
    st.builds(AtShare, st.builds(Percent, NUMBERS, st.just("%"))),
    st.from_regex(r"[0-9]{1,2}:[0-9]{2}:[0-9]{2}[:;][0-9]{2}", fullmatch=True).map(AtTimecode),
    st.builds(
        AtPosition,
        AXES,
        POSITIONS,
        st.sampled_from(Direction),
        st.integers(1, 9999),
        st.none() | st.builds(While, AXES, st.booleans(), POSITIONS),
    ),
)


@given(STARTS)
def test_a_start_prints_as_a_text_that_reads_as_the_same_start(start: Trigger) -> None:
    assert parse_trigger(str(start)) == start


def test_a_cue_after_a_cue_says_which() -> None:
    wait = Duration.parse("0.5 s")
    assert str(AfterCue("2", wait)) == "0.5 s after cue 2"
    assert str(AfterCue("2", wait, from_start=True)) == "0.5 s into cue 2"


@pytest.mark.parametrize(
    ("text", "what", "cure"),
    [
        ("2", "'2' has no unit", CURE),
        ("soon", "'soon' does not say when the cue starts", CURE),
        ("after 4, wait 0.4 s", "'at' does not say 'after'", "write 'after: 4' and 'wait: 0.4 s' in its place"),
        ("with cue 3", "'at' does not say 'with'", "write 'with: 3' in its place"),
        ("-2 s", "-2 s is out of range", CURE),
        ("01:00:04", "'01:00:04' is no timecode", LABEL_CURE),
        ("1:2:3:4", "'1:2:3:4' is no timecode", LABEL_CURE),
        ("pan 30 deg while slide", "'pan 30 deg while slide' does not say what must hold while", WHILE_CURE),
        ("2 s while slide over 5 mm", "'2 s while slide over 5 mm' does not say what must hold while", WHILE_CURE),
        (
            "pan 30 deg while slide over 5 s",
            "'5 s' is not a position",
            WHILE_CURE,
        ),
        ("slide 60 s", "'60 s' is not a position", "write a position such as 'slide 120 mm' or 'slide 30 deg'"),
        ("101 %", "101 % is out of range", "write a percentage of at most 100 %"),
        ("1,5 s", "'1,5 s' has a comma in its number", "write it with a point: '1.5 s'"),
        ("slide 0,5 mm", "'slide 0,5 mm' has a comma in its number", "write numbers with a point, such as 0.5"),
    ],
)
def test_what_is_no_start_is_refused_with_a_cure(text: str, what: str, cure: str) -> None:
    with pytest.raises(UnitError) as refused:
        parse_trigger(text)
    assert (refused.value.what, refused.value.cure) == (what, cure)


@pytest.mark.parametrize("text", ["2 s", "50 frames", "40 % of the move", "slide 60 mm falling pass 2"])
def test_a_space_that_does_not_break_is_a_space_in_a_start(text: str) -> None:
    assert parse_trigger(text.replace(" ", "\N{NO-BREAK SPACE}")) == parse_trigger(text)
