"""An emitter that nobody measured is left out of every colour, and that is said."""

from __future__ import annotations

import pytest

from cuedeck.rig.check_looks import check_looks
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show
from cuedeck.show.problems import Severity

HEAD = """\
cuedeck: 2
types:
  spot:
    channels: [intensity, red, green, blue, white]
    emitters:
      red: {x: 0.69, y: 0.31, luminance: 20}
      green: {x: 0.17, y: 0.70, luminance: 60}
      blue: {x: 0.14, y: 0.05, luminance: 6}
"""
WHITE = "      white: {x: 0.33, y: 0.34, luminance: 100}\n"
REST = """\
rig:
  one: {type: spot, address: 1.1}
  two: {type: spot, address: 1.6}
groups:
  spots: [one, two]
looks:
  lit: {LOOK}
"""
COLOUR = "{level: full, colour: 5600 K}"


def warnings(look: str, emitters: str = "") -> list[tuple[int, str, str]]:
    loaded = load_show((HEAD + emitters + REST.replace("LOOK", look)).encode())
    problems = check_looks(loaded, build_patch(loaded.show))
    assert all(problem.severity is Severity.WARNING for problem in problems)
    return [(problem.place.line, problem.what, problem.cure) for problem in problems]


@pytest.mark.parametrize("named", ["one", "spots", "everything"])
def test_an_emitter_without_an_entry_is_warned_of_once_at_its_type_where_a_look_asks_for_a_colour(named: str) -> None:
    what = "'white' of 'spot' has no entry in emitters: colours leave it out"
    assert warnings(f"{named}: {COLOUR}") == [(3, what, "add x, y and luminance of it")]


@pytest.mark.parametrize("look", ["one: full", "one: {level: full, red: 50 %}"])
def test_it_is_not_warned_of_where_no_look_asks_for_a_colour(look: str) -> None:
    assert warnings(look) == []


def test_it_is_not_warned_of_where_every_emitter_has_its_entry() -> None:
    assert warnings(f"one: {COLOUR}", WHITE) == []


def test_an_entry_that_was_written_wrong_is_no_missing_one() -> None:
    assert warnings(f"one: {COLOUR}", WHITE.replace("100", "much")) == []
