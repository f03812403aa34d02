"""What is wrong between a rig and its types, each at its own place, with what to write instead."""

from __future__ import annotations

import pytest

from cuedeck.rig.check_rig import check_rig
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show

SPOT = "spot: {modes: {4 channels: [red, green, blue, white], 1 channel: [intensity]}}"


def faults(*lines: str) -> list[tuple[str, str, str]]:
    """Return place, words and cure of the problems of a rig; the first line given is the second of the file."""
    loaded = load_show("\n".join(["cuedeck: 1", *lines]).encode())
    problems = sorted(check_rig(loaded))
    return [(f"{problem.place.line}:{problem.place.column}", problem.what, problem.cure) for problem in problems]


def test_a_rig_without_faults_has_none() -> None:
    rig = "rig: {a: {type: spot, mode: 4 channels, address: 1.1}, b: {type: spot, mode: 1 channel, address: 1.5}}"
    assert faults(f"types: {{{SPOT}}}", rig) == []


# Modes.


def test_an_unknown_mode_is_told_the_nearest() -> None:
    assert faults(f"types: {{{SPOT}}}", "rig:", "  key: {type: spot, mode: 4 chanels, address: 1.1}") == [
        ("4:27", "the type 'spot' of 'key' has no mode '4 chanels'", "write '4 channels'")
    ]


def test_an_unknown_mode_like_no_other_is_told_all() -> None:
    assert faults(f"types: {{{SPOT}}}", "rig:", "  key: {type: spot, mode: zzz, address: 1.1}") == [
        ("4:27", "the type 'spot' of 'key' has no mode 'zzz'", "write one of '4 channels', '1 channel'")
    ]


def test_a_light_of_several_modes_must_say_which_it_is_set_to() -> None:
    assert faults(f"types: {{{SPOT}}}", "rig:", "  key: {type: spot, address: 1.1}") == [
        (
            "4:15",
            "'key' is of type 'spot', which has 2 modes",
            "add the one it is set to: 'mode: 4 channels' or 'mode: 1 channel'",
        )
    ]


def test_a_mode_on_a_type_without_modes_is_reported() -> None:
    assert faults("rig:", "  key: {type: dimmer, mode: 1 channel, address: 1.1}") == [
        (
            "3:29",
            "the type 'dimmer' of 'key' has no mode '1 channel'",
            "take it out: this type has one mode only",
        )
    ]


def test_a_light_whose_mode_is_not_known_is_left_out_of_the_patch() -> None:
    text = (
        f"cuedeck: 1\ntypes: {{{SPOT}}}\nrig: {{a: {{type: spot, address: 1.1}}, b: {{type: dimmer, address: 1.2}}}}\n"
    )
    assert [fixture.name for fixture in build_patch(load_show(text.encode()).show).fixtures] == ["b"]


# Addresses.


def test_a_light_without_an_address_is_reported_and_left_out_of_the_patch() -> None:
    assert faults("rig:", "  key: {type: dimmer}", "  fill: {type: dimmer, address: 1.1}") == [
        (
            "3:3",
            "'key' has no address",
            "add one such as 'address: 1.1', or let 'cuedeck patch SHOW --auto' propose it",
        )
    ]


def test_an_address_left_empty_is_a_missing_address() -> None:
    assert [where for where, _, _ in faults("rig:", "  key: {type: dimmer, address: }")] == ["3:3"]
    assert [where for where, _, _ in faults("rig:", "  key: {type: dimmer, address: ~}")] == ["3:3"]


def test_an_address_that_could_not_be_read_is_not_missing_as_well() -> None:
    assert faults("rig:", "  key: {type: dimmer, address: 1.513}") == []


def test_a_light_that_overlaps_two_others_names_both_lights_and_the_first_slot_they_share() -> None:
    rig = [
        "  rim left: {type: rgbw, address: 2.10}",
        "  rim right: {type: rgbw, address: 2.14}",
        "  fill: {type: rgb, address: 2.12}",
    ]
    assert faults("rig:", *rig) == [
        (
            "5:30",
            "'fill' and 'rim left' both listen to slot 2.12",
            "move one of them: 'fill' takes 3 slots from 2.12",
        )
    ]


def test_the_mode_says_how_many_slots_a_light_takes() -> None:
    def rig(mode: str) -> list[str]:
        return [
            f"types: {{{SPOT}}}",
            "rig:",
            f"  a: {{type: spot, mode: {mode}, address: 1.1}}",
            "  b: {type: dimmer, address: 1.4}",
        ]

    assert faults(*rig("1 channel")) == []
    assert [what for _, what, _ in faults(*rig("4 channels"))] == ["'b' and 'a' both listen to slot 1.4"]


@pytest.mark.parametrize(("address", "is_past"), [("1.509", False), ("1.510", True)])
def test_a_light_past_the_end_is_told_the_last_address_for_it(address: str, is_past: bool) -> None:
    found = faults(f"types: {{{SPOT}}}", "rig:", f"  key: {{type: spot, mode: 4 channels, address: {address}}}")
    what = "'key' takes 4 slots and would run to 513, past the end at 512"
    assert found == ([("4:48", what, "write an address up to 1.509")] if is_past else [])


# Readings.


def test_readings_of_a_dimmer_that_turn_back_are_reported_at_the_reading() -> None:
    assert faults(
        "types:",
        "  t:",
        "    channels: [intensity]",
        "    dimmer:",
        "      0 %: 0",
        "      50 %: 900 lux",
        "      60 %: 850 lux",
        "      100 %: 5000 lux",
    ) == [
        (
            "8:7",
            "50 % reads 900 and 60 % reads 850: more control gave less light",
            "read both again, or take one out",
        )
    ]


def test_readings_of_a_dimmer_without_full_are_reported_where_they_begin() -> None:
    (found,) = faults("types:", "  t: {channels: [intensity], dimmer: {0 %: 0, 50 %: 9, 90 %: 20}}")
    assert found == (
        "3:38",
        "there is no reading at 100 %, to which the others are compared",
        "read the light at 100 %",
    )


def test_a_reading_at_0_percent_that_is_the_light_of_the_room_is_reported_there() -> None:
    (found,) = faults("types:", "  t: {channels: [intensity], dimmer: {50 %: 9, 00 %: 3, 100 %: 20}}")
    assert found[0] == "3:48"


WHITES = ["types:", "  t:", "    channels: [intensity, colour temperature]", "    colour temperature:"]


def test_readings_of_white_that_turn_back_are_reported_at_the_reading_that_does() -> None:
    readings = ["      0 %: 2800 K", "      30 %: 3600 K", "      60 %: 3500 K", "      100 %: 6500 K"]
    assert faults(*WHITES, *readings) == [
        (
            "8:7",
            "30 % gives 3600 K and 60 % gives 3500 K: the white does not keep to one way",
            "measure both again, or take one of them out",
        )
    ]


def test_readings_of_white_are_taken_in_the_order_of_the_channel_not_of_the_file() -> None:
    readings = ["      100 %: 6500 K", "      60 %: 3500 K", "      0 %: 2800 K", "      30 %: 3600 K"]
    assert [place for place, _, _ in faults(*WHITES, *readings)] == ["7:7"]


def test_readings_of_white_may_fall_along_the_channel() -> None:
    assert faults(*WHITES, "      0 %: 6500 K", "      60 %: 3500 K", "      100 %: 2800 K") == []
    falling = ["      0 %: 6500 K", "      60 %: 3500 K", "      80 %: 3700 K", "      100 %: 2800 K"]
    assert [place for place, _, _ in faults(*WHITES, *falling)] == ["8:7"]


def test_the_same_white_twice_has_no_way_back() -> None:
    readings = ["      0 %: 2800 K", "      30 %: 2800 K", "      100 %: 6500 K"]
    assert [place for place, _, _ in faults(*WHITES, *readings)] == ["7:7"]
    assert len(faults(*WHITES, "      0 %: 2800 K", "      100 %: 2800 K")) == 1


def test_a_show_with_readings_that_will_not_do_still_opens_and_renders_something() -> None:
    lines = [*WHITES, "      0 %: 2800 K", "      50 %: 9000 K", "      100 %: 2900 K"]
    text = "\n".join(["cuedeck: 1", *lines, "    dimmer: {50 %: 3}", "rig: {a: {type: t, address: 1.1}}"])
    patch = build_patch(load_show(text.encode()).show)
    assert patch.encode(patch.defaults[None]).shape == (1, 1, 512)
