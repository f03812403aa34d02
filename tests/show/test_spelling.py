"""A name that is not known is taken for a known one only where a slip of the hand explains the difference."""

from __future__ import annotations

import pytest

from cuedeck.show.problems import choice_of
from cuedeck.show.spelling import nearest

SLIPS = [
    # Case, spaces, hyphens.
    ("Rim Left", "rim left"),
    ("rim  left", "rim left"),
    ("rim-left", "rim left"),
    ("rim_left", "rim left"),
    ("rimleft", "rim left"),
    ("backlight", "back light"),
    ("KEY 1", "key 1"),
    ("key1", "key 1"),
    ("rgb-16 bit", "rgb 16-bit"),
    # Two letters that changed places.
    ("rmi left", "rim left"),
    ("irm left", "rim left"),
    ("rim lfet", "rim left"),
    ("kye 2", "key 2"),
    ("lenght", "length"),
    ("adderss", "address"),
    # A letter twice, or left out, or too many.
    ("rim leftt", "rim left"),
    ("rrim left", "rim left"),
    ("rim lef", "rim left"),
    ("colour temprature", "colour temperature"),
    ("color temperature", "colour temperature"),
    ("backgroud", "background"),
    ("looks", "look"),
    ("adress", "address"),
    ("blck", "black"),
    # A wrong letter in a word long enough to be known by the others.
    ("backgroumd", "background"),
    ("ligjt 3", "light 3"),
    ("intensiti", "intensity"),
    ("Cafe\u0301 letf", "caf\u00e9 left"),
]
OTHERS = [
    # What tells two things apart.
    ("rim left", "rim right"),
    ("rim top", "rim left"),
    ("key 1", "key 2"),
    ("key 1", "key 11"),
    ("key 12", "key 21"),
    ("key1", "key 2"),
    ("key a", "key b"),
    ("key a", "key"),
    ("key", "key 1"),
    ("rim l", "rim r"),
    ("part ii", "part iii"),
    ("part iv", "part vi"),
    ("rgb", "rgbw"),
    ("rgbv", "rgbw"),
    ("rgbw", "rgbww"),
    ("xz", "xy"),
    ("8-bit", "16-bit"),
    ("1.1", "1.11"),
    # Other words, spelt alike.
    ("fill", "full"),
    ("fill", "hill"),
    ("warm", "ward"),
    ("cool", "pool"),
    ("near", "rear"),
    ("fast", "last"),
    ("low", "slow"),
    ("hot", "shot"),
    ("light", "night"),
    ("front", "back"),
    ("up", "cup"),
    ("on", "off"),
    ("red", "rig"),
    ("thick line", "thin line"),
    ("line", "thin line"),
    ("left rim", "rim left"),
    ("morning", "evening"),
    ("edges", "hedges"),
    ("dusk behind", "dusk beside"),
    ("lamp", "lamplight"),
    ("wall left", "wall right"),
    # Two slips.
    ("rmi lfet", "rim left"),
    ("bakgroumd", "background"),
    ("", "key"),
    ("key", ""),
]


@pytest.mark.parametrize(("written", "known"), SLIPS)
def test_a_slip_of_the_hand_is_seen(written: str, known: str) -> None:
    assert nearest(written, [known, "something else", "7"]) == known
    assert choice_of(written, [known, "something else"]) == f"write '{known}'"


@pytest.mark.parametrize(("written", "known"), OTHERS)
def test_another_name_is_never_taken_for_the_one_that_is_meant(written: str, known: str) -> None:
    assert nearest(written, [known]) is None
    assert nearest(known, [written]) is None


def test_of_two_names_that_are_each_a_slip_away_neither_is_taken() -> None:
    assert nearest("edges", ["edgees", "edge"]) is None
    assert choice_of("edges", ["edgees", "edge"]) == "write one of 'edgees', 'edge'"
    assert nearest("Edge", ["edges", "edge"]) == "edge"
    assert nearest("EDGE", ["Edge", "edge"]) is None


def test_where_nothing_is_close_what_there_is_is_listed_and_never_nothing() -> None:
    assert choice_of("dusk", ["dawn", "noon"]) == "write one of 'dawn', 'noon'"
    assert choice_of("dusk", [str(number) for number in range(40)]).endswith("'10', '11', ...")
    assert choice_of("dusk", ["", " "]) == "define one first, or take it out"


@pytest.mark.parametrize(("written", "key"), [("tipe", "type"), ("riq", "rig"), ("lok", "look"), ("fdae", "fade")])
def test_a_short_key_may_have_a_wrong_letter_since_it_means_nothing_else(written: str, key: str) -> None:
    assert nearest(written, [key, "address"], are_keys=True) == key
    assert nearest("key 1", ["key 2"], are_keys=True) is None
