"""Where things stand on the set from above."""

from __future__ import annotations

import pytest

from cuedeck.timeline.positions import Position
from cuedeck.tui.stage import Cell, Stage, TakenCells, place_glyphs, place_words, stage_for
from tests.tui.shows import opened


def test_right_is_right_and_away_is_up() -> None:
    """The product is in the middle of the columns, the camera on the lowest line."""
    stage = stage_for(opened().plan("1"), 41, 11)
    assert stage.cell(Position(0, 0, 1)).column == 20
    assert stage.cell(Position(0, -1.6, 1)).line == 10
    assert stage.cell(Position(-1, 0, 1)).column < 20 < stage.cell(Position(1, 0, 1)).column


def test_of_two_lights_in_one_place_the_second_moves_aside() -> None:
    """Both can be seen."""
    stage = Stage(20, 5, -1, 1, -1, 1)
    placed = place_glyphs(stage, TakenCells(stage), {"a": Position(0, 0, 1), "b": Position(0, 0, 1)})
    assert placed["b"] == Cell(placed["a"].column + 3, placed["a"].line)


def test_words_take_the_longest_text_that_fits() -> None:
    """Between two edges there may be room for the level only."""
    stage = Stage(11, 1, -1, 1, -1, 1)
    floor = TakenCells(stage)
    glyphs = place_glyphs(stage, floor, {"a": Position(-1, 0, 1)})
    (words,) = place_words(floor, glyphs, {"a": ("a long name 50 %", "50 %")})
    assert words.text == "50 %"


@pytest.mark.parametrize("up", [0.0, 1.0, 2.0])
def test_words_over_or_under_a_thing_point_at_it_with_an_arrow_in_its_column(up: float) -> None:
    """Three things side by side leave the middle one no room on its own line."""
    stage = Stage(60, 3, -1, 1, 0, 2)
    floor = TakenCells(stage)
    glyphs = place_glyphs(
        stage, floor, {"a": Position(-0.2, up, 1), "b": Position(0, up, 1), "c": Position(0.2, up, 1)}
    )
    by_name = {words.about: words for words in place_words(floor, glyphs, {"b": ("the one in the middle",)})}
    words, cell = by_name["b"], glyphs["b"]
    arrow = "↑" if words.start.line > cell.line else "↓"
    assert abs(words.start.line - cell.line) == 1
    assert words.start.column + words.text.index(arrow) == cell.column
    assert "the one in the middle" in words.text
