"""Nudging lights in a look, and keeping what was nudged."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.draft.looks import delete, keep_in_look, keep_in_new_look, new_look_name, rename, where_used
from cuedeck.draft.nudges import (
    Nudges,
    cue_of_light,
    found_levels,
    nudge_as_typed,
    nudge_by_step,
    nudged_targets,
    only_lit,
)
from cuedeck.draft.settings import ColourStep, LevelStep, LightState
from cuedeck.errors import Refusal
from cuedeck.show.yamltext.changes import SetValue
from cuedeck.show.yamltext.edit import apply_changes
from cuedeck.timeline.opening import OpenedShow, open_show
from tests.tools import times

DEMO = Path(__file__).parents[2] / "shows" / "barometer"
DARK = {name: LightState(0.0, None) for name in ("rim left", "fill", "background", "rider", "table", "rim top")}
STOP, TENTH, PERCENT = (
    LevelStep(stops=Fraction(1)),
    LevelStep(stops=Fraction(1, 10)),
    LevelStep(percent=Fraction(1, 100)),
)


def read_demo(name: str) -> bytes:
    return (DEMO / name).read_bytes()


def opened(raw: bytes | None = None) -> OpenedShow:
    return open_show(lambda name: raw if raw is not None and name == "show.yaml" else read_demo(name))


SHOW = opened()


def step(nudges: Nudges, look: str, light: str, how: LevelStep | ColourStep) -> Nudges:
    return nudge_by_step(SHOW, nudges, look, (light,), how, DARK)


def text(look: str, light: str, *steps: LevelStep | ColourStep) -> str:
    nudges = Nudges()
    for one in steps:
        nudges = step(nudges, look, light, one)
    return nudges.text_of(look, light)


def back(how: LevelStep) -> LevelStep:
    return LevelStep(None if how.stops is None else -how.stops, None if how.percent is None else -how.percent)


@pytest.mark.parametrize(
    ("look", "light", "steps", "said"),
    [
        ("left edge", "rim left", [back(TENTH)], "-1.1 stop"),
        ("left edge", "rim left", [STOP, TENTH], "0 stop"),
        ("left edge", "rim left", [back(STOP)] * 8, "out"),
        ("left edge", "rim left", [back(STOP)] * 8 + [TENTH], "-8 stop"),
        ("left edge", "rim left", [PERCENT], "51 %"),
        ("dusk behind", "background", [back(PERCENT)] * 22, "out"),
        ("dusk behind", "background", [LevelStep(percent=Fraction(1))], "100 %"),
        ("all out", "fill", [TENTH], "-8 stop"),
        ("dial", "rider", [TENTH], "-8 stop"),
    ],
)
def test_a_step_is_written_as_a_person_would(look: str, light: str, steps: list[LevelStep], said: str) -> None:
    """From what the look says, what it takes from others, or what the light does on stage."""
    assert text(look, light, *steps) == said


def test_a_stop_is_a_factor_of_two_of_light_through_the_dimmer() -> None:
    """Design, 'stop: a factor of two of light' (trade). The rider's readings: 20 % gave 46 of 1200 lux, -4.7 stops."""
    nudges = nudge_as_typed(SHOW, Nudges(), "thin line", ("rider",), "20 %")
    nudged = nudge_by_step(SHOW, nudges, "thin line", ("rider",), TENTH, DARK)
    assert nudged.text_of("thin line", "rider") == "-4.6 stop"
    targets = nudged_targets(SHOW.show, SHOW.patch, SHOW.targets, nudged)
    rider = next(one for one in SHOW.patch.fixtures if one.name == "rider")
    light = rider.dimmer.light_from_control(targets["thin line"][[rider.columns["intensity"]]])
    assert light[0] == pytest.approx(2**-4.6)


def test_mired_are_a_million_over_kelvin() -> None:
    """M = 10^6/T: 4000 K and 3000 K are 83 mired apart (worked example of a camera reference guide, p. 160)."""
    nudges = nudge_as_typed(SHOW, Nudges(), "dial", ("fill",), "4000 K")
    kelvin = step(nudges, "dial", "fill", ColourStep(83)).text_of("dial", "fill")
    assert kelvin == "3003 K"  # 250 + 83 = 333 mired, in whole kelvin
    assert abs(int(kelvin.removesuffix(" K")) - 3000) < 5


def test_a_colour_stays_within_what_the_light_gives() -> None:
    assert text("dial", "fill", *[ColourStep(100)] * 5) == "2800 K"
    assert text("dial", "fill", *[ColourStep(-100)] * 5) == "6500 K"


@settings(max_examples=times(20))
@given(
    st.sampled_from([("left edge", "rim left"), ("dusk behind", "background"), ("thin line", "rider")]),
    st.sampled_from([TENTH, PERCENT]),
    st.integers(1, 6),
)
def test_steps_up_and_as_many_down_come_back(where: tuple[str, str], how: LevelStep, count: int) -> None:
    look, light = where
    first = step(step(Nudges(), look, light, back(how)), look, light, how)
    there = first
    for _ in range(count):
        there = step(there, look, light, back(how))
    for _ in range(count):
        there = step(there, look, light, how)
    assert there.text_of(look, light) == first.text_of(look, light)


@pytest.mark.parametrize(
    ("light", "typed_text", "said"),
    [
        ("fill", "45 %", "45 %"),
        ("fill", " full ", "full"),
        ("fill", "-1 stop 5600 K", "-1 stop 5600 K"),
        ("fill", "3200 K Duv +0.003", "3200 K Duv 0.003"),
        ("background", "xy 0.17 0.12", "xy 0.17 0.12"),
        ("background", "red 40 %", "red 40 %"),
    ],
)
def test_levels_colours_and_channels_are_typed_in_one_line(light: str, typed_text: str, said: str) -> None:
    found = nudge_as_typed(SHOW, Nudges(), "dial", (light,), typed_text).text_of("dial", light)
    assert found.replace("+", "") == said


@pytest.mark.parametrize(
    ("light", "typed_text", "words"),
    [
        ("fill", "45", "no unit"),
        ("fill", "2 stop", "brighter than full"),
        ("fill", "", "type a level such as 45 %"),
        ("rider", "5600 K", "'rider' cannot be set to a colour; it takes a level"),
        ("fill", "purple", "'purple' is not a colour"),
    ],
)
def test_what_cannot_be_read_or_taken_is_refused(light: str, typed_text: str, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        nudge_as_typed(SHOW, Nudges(), "dial", (light,), typed_text)


def test_a_colour_that_is_no_white_is_typed_and_not_stepped() -> None:
    with pytest.raises(
        Refusal, match=r"'background' is set to xy 0\.17 0\.12, which is no white: enter types a colour"
    ):
        text("blue hour", "background", ColourStep(10))
    with pytest.raises(Refusal, match="'rider' has no white to make warmer or cooler"):
        text("thin line", "rider", ColourStep(10))


def test_of_a_group_those_that_can_are_moved_each_from_where_it_is() -> None:
    nudges = nudge_by_step(SHOW, Nudges(), "lamplight", ("table", "fill", "rider"), ColourStep(10), DARK)
    assert set(nudges.of("lamplight")) == {"table", "fill"}
    nudges = nudge_by_step(SHOW, Nudges(), "lamplight", ("table", "fill"), back(STOP), DARK)
    assert (nudges.text_of("lamplight", "table"), nudges.text_of("lamplight", "fill")) == ("-2 stop", "-4 stop")


NUDGES = st.lists(
    st.tuples(
        st.sampled_from(["black", "left edge", "lamplight", "morning", "blue hour", "thin line", "dial"]),
        st.sampled_from(["rim left", "fill", "background", "rider"]),
        st.sampled_from(["30 %", "-2.5 stop", "out", "full"]),
        st.sampled_from(["", " 3200 K", " 6000 K"]),
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=times(20))
@given(NUDGES)
def test_what_is_kept_is_the_light_that_was_seen(made: list[tuple[str, str, str, str]]) -> None:
    """Byte for byte in every packet, looks that are like a nudged one too; and the nudges survive a journal."""
    nudges = Nudges()
    for look, light, level, colour in made:
        nudges = nudge_as_typed(SHOW, nudges, look, (light,), level + ("" if light == "rider" else colour))
    assert Nudges.of_plain(nudges.plain()) == nudges
    seen = nudged_targets(SHOW.show, SHOW.patch, SHOW.targets, nudges)
    changes = [change for look in nudges.looks for change in keep_in_look(SHOW, nudges, look).changes]
    kept = opened(apply_changes("show.yaml", read_demo("show.yaml"), changes))
    assert not kept.errors
    for look, target in kept.targets.items():
        np.testing.assert_array_equal(seen[look], target)


def test_a_new_look_is_for_one_cue_alone() -> None:
    nudges = nudge_as_typed(SHOW, Nudges(), "thin line", ("rider",), "-3 stop")
    assert new_look_name(SHOW, "thin line") == "thin line 2"
    edit = keep_in_new_look(SHOW, nudges, "thin line", "thin line 2", "2", "5")
    after = opened(apply_changes("show.yaml", read_demo("show.yaml"), edit.changes))
    assert where_used(after, "thin line") == [("2", "2")]
    assert where_used(after, "thin line 2") == [("2", "5")]
    assert str(after.show.looks["thin line 2"].fixtures["rider"].level) == "-3 stop"
    names = list(after.show.looks)
    assert names.index("thin line 2") == names.index("thin line") + 1
    with pytest.raises(Refusal, match="there is a look 'dial' already"):
        keep_in_new_look(SHOW, nudges, "thin line", "dial", "2", "5")


def test_a_look_is_renamed_wherever_it_is_used() -> None:
    edit = rename(SHOW, "lamplight", "lamp")
    after = opened(apply_changes("show.yaml", read_demo("show.yaml"), edit.changes))
    assert not after.errors
    assert after.show.looks["morning"].like == "lamp"
    assert where_used(after, "lamp") == [("3", "2")]


def test_only_a_look_that_nothing_uses_is_taken_out() -> None:
    with pytest.raises(Refusal, match="look lamplight is used by cue 2 of shot 3, look morning, which is like it"):
        delete(SHOW, "lamplight")
    spare = apply_changes("show.yaml", read_demo("show.yaml"), [SetValue(("looks", "spare"), {"fill": "full"})])
    without = apply_changes("show.yaml", spare, delete(opened(spare), "spare").changes)
    assert without == read_demo("show.yaml")


def test_alone_every_other_light_is_out() -> None:
    levels = SHOW.patch.decode(SHOW.plan("1").timeline().slots([430]))
    lit = only_lit(SHOW.patch, levels, ["fill"])[0]
    assert [one.name for one in SHOW.patch.lights if lit[one.columns["intensity"]] > 0] == ["fill"]
    found = found_levels(SHOW.patch, "background")
    assert [one.name for one in SHOW.patch.lights if found[one.columns["intensity"]] > 0] == ["background"]


def test_the_cue_that_moved_a_light_last() -> None:
    plan = SHOW.plan("1")
    timeline = plan.timeline()
    assert cue_of_light(plan, timeline, "rim left", Fraction(9)) == ("2", "left edge")
    assert cue_of_light(plan, timeline, "rim left", Fraction(1)) == ("1", "black")
    assert cue_of_light(plan, timeline, "nobody", Fraction(9)) is None


@settings(max_examples=times(30))
@given(st.integers(2900, 6300), st.sampled_from([10, -10]))
def test_colour_comes_back_to_within_two_kelvin(kelvin: int, mired: int) -> None:
    """It is written in whole kelvin; the light reaches 2800 to 6500 K."""
    nudges = nudge_as_typed(SHOW, Nudges(), "dial", ("fill",), f"{kelvin} K")
    there = step(nudges, "dial", "fill", ColourStep(mired))
    back_again = step(there, "dial", "fill", ColourStep(-mired)).text_of("dial", "fill")
    is_at_an_end = there.text_of("dial", "fill") in ("2800 K", "6500 K")
    assert is_at_an_end or abs(int(back_again.removesuffix(" K")) - kelvin) <= 2


def test_what_is_typed_for_a_group_is_for_those_that_can_take_it() -> None:
    nudges = nudge_as_typed(SHOW, Nudges(), "lamplight", ("table", "rider"), "-1 stop 4000 K")
    assert set(nudges.of("lamplight")) == {"table"}


def test_a_range_that_a_channel_does_not_have_is_refused() -> None:
    with pytest.raises(Refusal, match="'red' of 'background' has no range 'foo': write a percentage such as 45 %"):
        nudge_as_typed(SHOW, Nudges(), "dial", ("background",), "red foo")


@pytest.mark.parametrize(
    "data", [None, "x", [[1]], [["a", "b", {"level": 4}]], [["a", "b", {"level": "soon"}]], [["a", "b", 3]]]
)
def test_a_damaged_journal_has_no_nudges(data: object) -> None:
    assert not Nudges.of_plain(data)
