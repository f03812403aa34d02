"""Lights that need an address get one that nothing else listens to."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.rig.addressing import propose
from cuedeck.show.model import Show

TYPES = {"dimmer": 1, "rgb": 3, "rgbw": 4, "rgbw 16-bit": 8, "two-tone 16-bit": 4}


def show(rig: dict[str, tuple[str, str | None]], slots: str = "512") -> Show:
    lights = {name: {"type": kind} | ({"address": at} if at else {}) for name, (kind, at) in rig.items()}
    return Show.model_validate({"cuedeck": "2", "slots": slots, "rig": lights})


def proposed(of: Show, gap: int = 0, every: int = 1, everything: bool = False) -> dict[str, str]:
    found = propose(of, gap_slots=gap, every_slots=every, everything=everything)
    return {one.name: str(one.address) for one in found}


def test_lights_without_an_address_fill_the_free_slots_in_the_order_of_the_rig() -> None:
    rig = {"a": ("rgb", None), "b": ("dimmer", "1.2"), "c": ("dimmer", None), "d": ("rgbw", None)}
    assert proposed(show(rig)) == {"a": "1.3", "c": "1.1", "d": "1.6"}


def test_the_later_of_two_lights_on_one_slot_is_moved() -> None:
    assert proposed(show({"a": ("rgb", "1.1"), "b": ("rgb", "1.3")})) == {"b": "1.4"}


def test_a_light_past_the_end_of_its_universe_is_moved() -> None:
    assert proposed(show({"a": ("rgb", "3.511")})) == {"a": "3.1"}


def test_a_gap_is_left_on_both_sides() -> None:
    rig = {"a": ("dimmer", "1.5"), "b": ("dimmer", None), "c": ("rgb", None)}
    assert proposed(show(rig), gap=2) == {"b": "1.1", "c": "1.8"}


def test_addresses_can_start_on_round_slots() -> None:
    rig = {"a": ("rgb", None), "b": ("rgb", None), "c": ("rgb", None)}
    assert proposed(show(rig), every=10) == {"a": "1.1", "b": "1.11", "c": "1.21"}


def test_all_lights_can_be_addressed_anew_from_the_lowest_universe_in_use() -> None:
    rig = {"a": ("rgb", "4.100"), "b": ("dimmer", "7.5")}
    assert proposed(show(rig), everything=True) == {"a": "4.1", "b": "4.4"}


def test_a_full_universe_runs_over_into_the_next() -> None:
    rig = {f"light {n}": ("rgbw", None) for n in range(7)}
    assert proposed(show(rig, slots="24"))["light 6"] == "2.1"


def test_a_light_that_has_a_good_address_is_left_alone() -> None:
    assert proposed(show({"a": ("rgb", "1.10")})) == {}


@given(
    st.lists(
        st.tuples(
            st.sampled_from(list(TYPES)),
            st.none() | st.builds(lambda u, s: f"{u}.{s}", st.integers(1, 2), st.integers(1, 60)),
        ),
        max_size=40,
    ),
    st.integers(0, 5),
    st.integers(1, 12),
    st.booleans(),
)
def test_no_two_lights_ever_share_a_slot_afterwards(
    rig: list[tuple[str, str | None]], gap: int, every: int, everything: bool
) -> None:
    of = show({f"light {n}": light for n, light in enumerate(rig)})
    found = proposed(of, gap, every, everything)
    taken: set[tuple[str, int]] = set()
    for n, (kind, before) in enumerate(rig):
        address = found.get(f"light {n}", before)
        assert address is not None
        universe, slot = address.split(".")
        own = {(universe, int(slot) + k) for k in range(TYPES[kind])}
        assert not own & taken
        assert int(slot) + TYPES[kind] - 1 <= 512
        taken |= own


@pytest.mark.parametrize("everything", [False, True])
def test_addressing_again_proposes_nothing_new(everything: bool) -> None:
    rig = {"a": ("rgb", None), "b": ("dimmer", "1.2"), "c": ("dimmer", None)}
    found = proposed(show(rig), everything=everything)
    settled = {name: (kind, found.get(name, at)) for name, (kind, at) in rig.items()}
    assert proposed(show(settled), everything=everything) == {}
