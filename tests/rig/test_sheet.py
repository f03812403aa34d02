"""The patch sheet says how to set each light, and how full each universe is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.rig.patch import Patch, build_patch
from cuedeck.rig.sheet import slot_names, switches, universe_uses
from cuedeck.show.model import Show


def patch(types: dict[str, object], rig: dict[str, dict[str, str]]) -> Patch:
    return build_patch(Show.model_validate({"cuedeck": "2", "types": types, "rig": rig}))


@pytest.mark.parametrize(
    ("slot", "expected"),
    [(1, "1........"), (21, "1.3.5...."), (256, "........9"), (511, "123456789"), (512, None)],
)
def test_switches_are_the_slot_in_binary_the_first_switch_counting_one(slot: int, expected: str | None) -> None:
    # Common practice, no source: switch n counts 2^(n-1), and nine switches end at 511.
    assert switches(slot, None) == expected


@given(st.integers(1, 511))
def test_the_switches_that_are_on_add_up_to_the_slot(slot: int) -> None:
    found = switches(slot, None)
    assert found is not None
    assert sum(2 ** (int(digit) - 1) for digit in found if digit != ".") == slot


def test_the_tenth_switch_stands_as_the_type_says() -> None:
    assert switches(3, "on") == "12....... 10 on"
    assert switches(3, "off") == "12....... 10 off"


def test_used_and_spare_slots_are_told_by_universe() -> None:
    found = list(
        universe_uses(
            patch(
                {},
                {
                    "a": {"type": "rgb", "address": "1.3"},
                    "b": {"type": "dimmer", "address": "1.512"},
                    "c": {"type": "rgbw", "address": "2.1"},
                },
            )
        )
    )
    assert [(use.universe, use.used_slots, use.spare_slots, use.spare) for use in found] == [
        (1, 4, 508, ((1, 2), (6, 511))),
        (2, 4, 508, ((5, 512),)),
    ]


def test_each_slot_says_what_it_carries() -> None:
    channels = ["intensity 16-bit", {"channel": "shutter inverted"}, "fixed 7", "red 24-bit"]
    (fixture,) = patch({"t": {"channels": channels}}, {"a": {"type": "t", "address": "1.10"}}).fixtures
    assert list(slot_names(fixture)) == [
        (10, "intensity coarse"),
        (11, "intensity fine"),
        (12, "shutter, inverted"),
        (13, "held at 7"),
        (14, "red coarse"),
        (15, "red fine"),
        (16, "red finest"),
    ]
