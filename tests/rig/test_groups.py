"""Groups of lights in looks: in which order they are applied, and what can be wrong with them."""

from __future__ import annotations

import math

import pytest

from cuedeck.rig.check_looks import check_looks
from cuedeck.rig.looks import resolve_look
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show
from cuedeck.show.problems import Severity
from cuedeck.show.references import check_references

HEAD = """\
cuedeck: 1
types:
  spot: {channels: [intensity, {channel: strobe, ranges: {open: 0-10, fast: 11-255}}]}
  beam: {channels: [intensity, {channel: strobe, ranges: {shut: 0-10, open: 20-30}}]}
rig:
  left: {type: dimmer, address: 1.1}
  right: {type: dimmer, address: 1.2}
  fill: {type: dimmer, address: 1.3}
  spot: {type: spot, address: 1.4}
  beam: {type: beam, address: 1.6}
"""
GROUPS = "groups: {rims: [left, right], all: [left, right, fill], tops: [spot, beam]}\n"


def levels(look: str, name: str = "a") -> dict[str, float]:
    """Return the intensities that a look sets."""
    loaded = load_show(f"{HEAD}{GROUPS}looks:\n{look}".encode())
    assert [str(problem) for problem in (*loaded.problems, *check_references(loaded))] == []
    patch = build_patch(loaded.show)
    values = resolve_look(loaded.show, patch, name)
    return {
        parameter.fixture: round(float(value), 9)
        for parameter, value in zip(patch.parameters, values, strict=True)
        if parameter.attribute == "intensity" and not math.isnan(value)
    }


def faults(groups: str, look: str) -> list[tuple[str, str, str]]:
    """Return place, words and cure; `groups` is line 11 and `look` line 13."""
    loaded = load_show(f"{HEAD}{groups}\nlooks:\n  a: {{{look}}}\n  lit: {{everything: full}}\n".encode())
    assert loaded.problems == ()
    problems = sorted([*check_references(loaded), *check_looks(loaded, build_patch(loaded.show))])
    return [(f"{problem.place.line}:{problem.place.column}", problem.what, problem.cure) for problem in problems]


def test_a_group_sets_its_lights_and_no_other() -> None:
    assert levels("  a: {rims: 40 %}\n") == {"left": 0.4, "right": 0.4}


@pytest.mark.parametrize(
    "look",
    [
        "{everything: 10 %, all: 20 %, rims: 30 %, left: 40 %}",
        "{left: 40 %, all: 20 %, rims: 30 %, everything: 10 %}",
        "{all: 20 %, left: 40 %, everything: 10 %, rims: 30 %}",
    ],
)
def test_everything_comes_first_then_groups_in_their_order_then_lights_wherever_they_stand(look: str) -> None:
    assert levels(f"  a: {look}\n") == {"left": 0.4, "right": 0.3, "fill": 0.2, "spot": 0.1, "beam": 0.1}


def test_of_two_groups_the_one_below_counts() -> None:
    assert levels("  a: {rims: 30 %, all: 20 %}\n") == {"left": 0.2, "right": 0.2, "fill": 0.2}
    assert levels("  a: {all: 20 %, rims: 30 %}\n") == {"left": 0.3, "right": 0.3, "fill": 0.2}


def test_a_group_in_a_look_covers_a_light_of_the_look_it_is_like() -> None:
    looks = "  a: {like: b, rims: 50 %}\n  b: {left: 20 %, fill: 10 %}\n"
    assert levels(looks) == {"left": 0.5, "right": 0.5, "fill": 0.1}


def test_a_light_in_a_look_covers_a_group_of_the_look_it_is_like() -> None:
    looks = "  a: {like: b, left: 50 %}\n  b: {rims: 20 %}\n"
    assert levels(looks) == {"left": 0.5, "right": 0.2}


def test_a_setting_of_a_group_leaves_what_it_does_not_name_to_the_setting_before() -> None:
    loaded = load_show(f"{HEAD}{GROUPS}looks:\n  a: {{tops: {{strobe: open}}, spot: 50 %}}\n".encode())
    patch = build_patch(loaded.show)
    values = resolve_look(loaded.show, patch, "a")
    spot = patch.fixtures[3]
    assert values[spot.columns["intensity"]] == 0.5
    assert values[spot.columns["strobe"]] == pytest.approx(5 / 255)


def test_a_range_is_each_lights_own_and_one_that_has_none_of_that_name_is_passed_over() -> None:
    assert faults(GROUPS.strip(), "tops: {level: full, strobe: open}") == []
    assert faults(GROUPS.strip(), "tops: {level: full, strobe: shut}") == []
    loaded = load_show(f"{HEAD}{GROUPS}looks:\n  a: {{tops: {{strobe: shut}}}}\n".encode())
    patch = build_patch(loaded.show)
    values = resolve_look(loaded.show, patch, "a")
    assert math.isnan(values[patch.fixtures[3].columns["strobe"]])
    assert values[patch.fixtures[4].columns["strobe"]] == pytest.approx(5 / 255)


def test_a_range_that_no_light_of_a_group_has_is_reported_with_the_nearest() -> None:
    assert faults(GROUPS.strip(), "tops: {level: full, strobe: opn}") == [
        ("13:35", "the channel 'strobe' of 'tops' has no range 'opn'", "write 'open'")
    ]


def test_a_channel_that_no_light_of_a_group_has_is_reported() -> None:
    assert faults(GROUPS.strip(), "rims: {level: full, strobe: open}") == [
        ("13:27", "no light of 'rims' has a channel 'strobe'", "write one of 'level', 'colour'")
    ]


def test_a_colour_that_no_light_of_a_group_can_take_is_reported() -> None:
    assert faults(GROUPS.strip(), "rims: {level: full, colour: 5600 K}") == [
        ("13:27", "no light of 'rims' can be set to a colour", "take it out")
    ]


def test_a_group_that_holds_an_unknown_light_is_reported_at_its_name() -> None:
    assert faults("groups: {rims: [left, rihgt]}", "rims: full") == [
        ("11:23", "group 'rims' holds 'rihgt', and no light of the rig is called that", "write 'right'")
    ]


def test_a_group_that_holds_a_group_is_told_to_name_its_lights() -> None:
    assert faults("groups: {rims: [left, right], tall: [rims]}", "rims: full") == [
        (
            "11:38",
            "group 'tall' holds 'rims', and no light of the rig is called that, and 'rims' is a group",
            "name its lights",
        )
    ]


def test_a_group_called_as_a_light_is_reported_and_the_light_is_meant() -> None:
    groups = "groups: {left: [right, fill]}"
    assert faults(groups, "left: full") == [
        ("11:10", "'left' is a light and a group: looks could not tell which is meant", "give the group another name")
    ]
    loaded = load_show(f"{HEAD}{groups}\nlooks: {{a: {{left: full}}}}\n".encode())
    patch = build_patch(loaded.show)
    values = resolve_look(loaded.show, patch, "a")
    assert [patch.parameters[n].fixture for n, value in enumerate(values) if not math.isnan(value)] == ["left"]


@pytest.mark.parametrize("name", ["everything", "like"])
def test_a_group_cannot_have_a_name_that_looks_use_as_a_word(name: str) -> None:
    assert (
        "11:10",
        f"a group cannot be called '{name}': looks use that word",
        "give the group another name",
    ) in faults(f"groups: {{{name}: [left]}}", "fill: full")


def test_a_look_that_names_neither_a_light_nor_a_group_is_told_the_nearest_of_both() -> None:
    assert faults(GROUPS.strip(), "rmis: full") == [
        ("13:7", "look 'a' names 'rmis', and no light or group is called that", "write 'rims'")
    ]


def test_an_empty_group_is_refused() -> None:
    (problem,) = load_show(f"{HEAD}groups: {{rims: []}}\n".encode()).problems
    assert (problem.place.line, problem.what, problem.cure) == (11, "'rims' has too few entries", "write at least 1")


# Lights that stay dark.

DARK = """\
cuedeck: 1
rig: {tube: {type: rgb, address: 1.1}, key: {type: dimmer, address: 1.4}}
groups: {g: [tube]}
looks:
"""


def test_a_light_that_is_lit_before_any_cue_does_not_stay_dark() -> None:
    kind = "types: {t: {channels: [{channel: intensity, default: 20 %}, red]}}"
    text = f"cuedeck: 1\n{kind}\nrig: {{tube: {{type: t, address: 1.1}}}}\nlooks: {{a: {{tube: {{red: 50 %}}}}}}\n"
    loaded = load_show(text.encode())
    assert check_looks(loaded, build_patch(loaded.show)) == []


@pytest.mark.parametrize(
    ("looks", "is_warned"),
    [
        ("a: {tube: {red: 50 %}}", True),
        ("a: {tube: {red: 50 %}}, b: {tube: out}", True),
        ("a: {tube: {red: 50 %}}, b: {g: 0 %}", True),
        ("a: {tube: {red: 50 %}}, b: {key: full}", True),
        ("a: {tube: {level: 0 stop, red: 50 %}}", False),
        ("a: {tube: {level: full, red: 50 %}}", False),
        ("a: {tube: {red: 50 %}}, b: {g: -1 stop}", False),
        ("a: {tube: {red: 50 %}}, b: {everything: 0 stop}", False),
    ],
)
def test_only_a_light_that_no_look_lights_is_said_to_stay_dark(looks: str, is_warned: bool) -> None:
    loaded = load_show(f"{DARK}  {{{looks}}}\n".encode())
    problems = check_looks(loaded, build_patch(loaded.show))
    assert [problem.severity for problem in problems] == ([Severity.WARNING] if is_warned else [])
