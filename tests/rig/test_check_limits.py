"""What is wrong with the limits of lights, and which looks ask for more than they allow."""

from __future__ import annotations

import pytest

from cuedeck.rig.check_limits import check_limits
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show
from cuedeck.show.problems import Severity


def found(*lines: str, severity: Severity) -> list[tuple[str, str, str]]:
    """Return place, words and cure of the problems; the first line given is the second of the file."""
    loaded = load_show("\n".join(["cuedeck: 2", *lines]).encode())
    problems = sorted(check_limits(loaded, build_patch(loaded.show)))
    assert all(problem.severity is severity for problem in problems)
    return [(f"{problem.place.line}:{problem.place.column}", problem.what, problem.cure) for problem in problems]


def faults(*lines: str) -> list[tuple[str, str, str]]:
    return found(*lines, severity=Severity.ERROR)


def warnings(*looks: str, hung: str = "never above: 80 %", groups: str = "groups: {}") -> list[tuple[str, str, str]]:
    rig = [f"  fill: {{type: dimmer, address: 1.1, {hung}}}", f"  rim: {{type: dimmer, address: 1.2, {hung}}}"]
    return found("rig:", *rig, "  free: {type: dimmer, address: 1.3}", groups, *looks, severity=Severity.WARNING)


# The rig.


@pytest.mark.parametrize("light", ["type: dimmer", "type: rgbw, address: 1.1", "type: nothing", "type: t, mode: x"])
def test_limits_that_leave_room_are_no_fault(light: str) -> None:
    types = "types: {t: {modes: {a: [intensity], b: [red]}}}"
    assert faults(types, f"rig: {{a: {{{light}, never above: 80 %, never below: -3 stop}}}}") == []


def test_a_fixture_that_gives_no_light_has_no_level_to_limit() -> None:
    types = "types: {fan: {channels: [{channel: speed, default: 30 %}]}}"
    assert faults(types, "rig:", "  fan: {type: fan, never above: 80 %, never below: out}") == [
        ("4:20", "'fan' gives no light, so there is no level to limit", "take it out"),
        ("4:39", "'fan' gives no light, so there is no level to limit", "take it out"),
    ]


@pytest.mark.parametrize("channels", ["[intnsity]", "", "[[a]]"])
def test_a_light_whose_channels_could_not_be_read_is_not_said_to_give_no_light(channels: str) -> None:
    types = f"types: {{t: {{channels: {channels}}}}}"
    assert faults(types, "rig: {a: {type: t, address: 1.1, never above: 80 %}}") == []


def test_a_light_cannot_be_never_below_what_it_is_never_above() -> None:
    assert faults("rig:", "  a: {type: dimmer, never below: 60 %, never above: 50 %}") == [
        (
            "3:34",
            "'a' is never below 60 %, and that is above its 'never above', 50 %",
            "write 50 % or less, or raise 'never above'",
        )
    ]


def test_percent_and_stops_are_compared_through_the_dimmer() -> None:
    # Half control of a square law is a quarter of the light (shape: dimmer literature; formula from memory).
    types = "types: {t: {channels: [intensity 16-bit], dimmer: square}}"
    assert faults(types, "rig: {a: {type: t, never below: 49 %, never above: -2 stop}}") == []
    assert len(faults(types, "rig: {a: {type: t, never below: 51 %, never above: -2 stop}}")) == 1


def test_limits_between_which_no_step_lies_are_a_fault() -> None:
    # 45 % of 255 is 114.75, and 20 % is 51.
    assert [what for _, what, _ in faults("rig: {a: {type: dimmer, never below: 45 %, never above: 45 %}}")] == [
        "no value that can be sent to 'a' lies between 45 % and 45 %"
    ]
    assert faults("rig: {a: {type: dimmer, never below: 20 %, never above: 20 %}}") == []


# Looks.


def test_a_look_that_asks_for_more_is_warned_of_at_its_level_with_its_light() -> None:
    assert warnings("looks:", "  a: {fill: full, rim: {colour: 5600 K, level: -0.1 stop}, free: full}") == [
        (
            "8:13",
            "look 'a' asks 100 % of 'fill', which is never above 80 %",
            "write 80 %, or raise 'never above' of 'fill'",
        ),
        (
            "8:48",
            "look 'a' asks -0.1 stop of 'rim', which is never above 80 %",
            "write 80 %, or raise 'never above' of 'rim'",
        ),
    ]


def test_a_look_up_to_the_limit_is_not_warned_of() -> None:
    assert warnings("looks: {a: {fill: 80 %, rim: -1 stop}, b: {everything: out}}") == []
    assert warnings("looks: {a: {fill: -1 stop, rim: 50 %}}", hung="never above: -1 stop") == []


@pytest.mark.parametrize(("look", "place"), [("everything: full", "7:28"), ("both: full", "7:22")])
def test_each_light_is_named_once_a_look_where_several_are_meant(look: str, place: str) -> None:
    said = warnings(f"looks: {{look: {{{look}}}}}", groups="groups: {both: [fill, rim]}")
    assert [(where, what) for where, what, _ in said] == [
        (place, "look 'look' asks 100 % of 'fill', which is never above 80 %"),
        (place, "look 'look' asks 100 % of 'rim', which is never above 80 %"),
    ]


def test_only_what_a_look_says_last_of_a_light_counts() -> None:
    look = "looks: {a: {everything: full, both: 90 %, fill: 10 %, rim: {colour: 5600 K}}}"
    assert [what for _, what, _ in warnings(look, groups="groups: {both: [fill, rim]}")] == [
        "look 'a' asks 90 % of 'rim', which is never above 80 %"
    ]


def test_what_a_look_takes_over_from_another_is_told_there_alone() -> None:
    looks = ["looks:", "  a: {fill: full}", "  b: {like: a, rim: 10 %}"]
    assert [place for place, _, _ in warnings(*looks)] == ["8:13"]


def test_out_is_right_for_a_lamp_that_is_held_and_a_level_under_it_is_not() -> None:
    assert warnings("looks: {a: {everything: out}, b: {fill: 30 %}}", hung="never below: 30 %") == []
    assert warnings("looks:", "  a: {fill: 10 %}", hung="never below: 30 %") == [
        (
            "8:13",
            "look 'a' asks 10 % of 'fill', which is never below 30 %",
            "write 30 %, or 'out' for as dark as it may be",
        )
    ]
