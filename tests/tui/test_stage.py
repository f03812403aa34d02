"""Where things stand on the set from above."""

from __future__ import annotations

from dataclasses import astuple

import pytest

from cuedeck.tui.stage import Cell, Spot, Stage, TakenCells, place_glyphs, place_words, spots, stage_for
from tests.tui.shows import RIG, opened

ARM = """shots:
  "1":
    move: {keys: [{time: 0 s, slide: 0 deg}, {time: 1 s, slide: 90 deg}], ease: linear}
"""


def test_a_length_carries_a_light_to_the_right() -> None:
    """The rider stands 300 mm left of its place at the start and 300 mm right of it at the end."""
    plan = opened().plan("1")
    assert spots(plan, 0.0)["rider"] == Spot(-0.3, -0.5)
    assert spots(plan, 4.0)["rider"] == Spot(0.3, -0.5)
    assert spots(plan, 4.0)["left"] == Spot(-1, 0.5)


def test_an_angle_turns_a_light_counterclockwise_seen_from_above() -> None:
    """From the near side by 90 degrees: to the right."""
    plan = opened(ARM, RIG).plan("1")
    assert astuple(spots(plan, 1.0)["rider"]) == pytest.approx((0.5, 0.0))


def test_right_is_right_and_away_is_up() -> None:
    """The product is in the middle of the columns, the camera on the lowest line."""
    stage = stage_for(opened().plan("1"), 41, 11)
    assert stage.cell(Spot(0, 0)).column == 20
    assert stage.cell(Spot(0, -1.6)).line == 10
    assert stage.cell(Spot(-1, 0)).column < 20 < stage.cell(Spot(1, 0)).column


def test_of_two_lights_in_one_place_the_second_moves_aside() -> None:
    """Both can be seen."""
    stage = Stage(20, 5, -1, 1, -1, 1)
    placed = place_glyphs(stage, TakenCells(stage), {"a": Spot(0, 0), "b": Spot(0, 0)})
    assert placed["b"] == Cell(placed["a"].column + 3, placed["a"].line)


def test_words_take_the_longest_text_that_fits() -> None:
    """Between two edges there may be room for the level only."""
    stage = Stage(11, 1, -1, 1, -1, 1)
    floor = TakenCells(stage)
    glyphs = place_glyphs(stage, floor, {"a": Spot(-1, 0)})
    (words,) = place_words(floor, glyphs, {"a": ("a long name 50 %", "50 %")})
    assert words.text == "50 %"


@pytest.mark.parametrize("up", [0.0, 1.0, 2.0])
def test_words_over_or_under_a_thing_point_at_it_with_an_arrow_in_its_column(up: float) -> None:
    """Three things side by side leave the middle one no room on its own line."""
    stage = Stage(60, 3, -1, 1, 0, 2)
    floor = TakenCells(stage)
    glyphs = place_glyphs(stage, floor, {"a": Spot(-0.2, up), "b": Spot(0, up), "c": Spot(0.2, up)})
    by_name = {words.about: words for words in place_words(floor, glyphs, {"b": ("the one in the middle",)})}
    words, cell = by_name["b"], glyphs["b"]
    arrow = "↑" if words.start.line > cell.line else "↓"
    assert abs(words.start.line - cell.line) == 1
    assert words.start.column + words.text.index(arrow) == cell.column
    assert "the one in the middle" in words.text
