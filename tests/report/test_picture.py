"""A shot as rows of text."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.report.lanes import braille_curve, level_blocks
from cuedeck.report.picture import PictureRow, column_of, cue_marks, print_picture, shot_picture, time_at, time_ruler
from tests.tui.shows import opened

WIDTHS = st.integers(1, 250)


def rows_of(shot: str, width: int, move_lines: int = 1, lane_lines: int = 1) -> list[PictureRow]:
    plan = opened().plan(shot)
    return shot_picture(plan, plan.timeline(), width, move_lines, lane_lines)


def test_a_shot_reads_from_left_to_right() -> None:
    """The move, the time, a lane a light, the cues."""
    assert print_picture(rows_of("1", 41)) == (
        "slide -300…300 mm  ⣀⣀⣀⣀⣀⣀⣀⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠤⠔⠒⠒⠒⠒⠒⠒⠒⠒⠒⠒⠒⠒⠒⠉⠉⠉⠉⠉⠉⠉\n"
        "time               0         1 s       2 s       3 s\n"
        "left                                    ▁▂▂▃▄▅▆▆▇███████████\n"
        "right                                   ▁▁▁▂▂▂▃▃▄▄▄▄▄▄▄▄▄▄▄▄\n"
        "wall                                                    ▁▁▁▃\n"
        "rider\n"
        "cues               1                   2              3\n"
    )


@given(WIDTHS, st.integers(1, 4), st.integers(1, 2), st.sampled_from(["1", "2", "macro"]))
def test_every_row_is_exactly_as_wide_as_asked(width: int, move_lines: int, lane_lines: int, shot: str) -> None:
    """Also for shots without a move, and for one of no length."""
    rows = rows_of(shot, width, move_lines, lane_lines)
    assert {len(row.text) for row in rows} == {width}
    assert [row.kind for row in rows].count("light") == 4 * lane_lines


def test_lanes_are_decoded_from_packets() -> None:
    """Packets from elsewhere are drawn as they are, whatever the timeline says."""
    plan = opened().plan("1")
    full = shot_picture(
        plan, plan.timeline(), 5, slots_at=lambda packets: np.full((len(packets), 1, 512), 255, dtype=np.uint8)
    )
    assert {row.text for row in full if row.kind == "light"} == {"█████"}


@pytest.mark.parametrize(("level", "block"), [(0.0, " "), (1e-5, "▁"), (0.5, "▄"), (0.99, "█"), (1.0, "█")])
def test_any_light_shows_and_none_is_blank(level: float, block: str) -> None:
    """The lowest block stands for the least light there is."""
    assert level_blocks(np.array([level])) == [block]


def test_a_lane_of_two_lines_fills_from_below() -> None:
    """A quarter is half of the lower line."""
    assert level_blocks(np.array([0.25, 0.75]), 2) == [" ▄", "▄█"]


def test_a_curve_that_stands_still_lies_at_the_bottom() -> None:
    """No travel, no height."""
    assert braille_curve(np.full(4, 7.0), 2) == ["  ", "⣀⣀"]


def test_a_jump_of_a_curve_is_joined() -> None:
    """The dots between two positions are drawn."""
    assert braille_curve(np.array([0.0, 1.0]), 1) == ["⡸"]


@pytest.mark.parametrize(
    ("length", "ruler"),
    [
        (Fraction(4), "0      1 s    2 s    3 s     "),
        (Fraction(1), "0             0.5 s"),
        (Fraction(600), "0             5 min           "),
        (Fraction(0), "0"),
    ],
)
def test_the_ruler_counts_seconds_or_minutes(length: Fraction, ruler: str) -> None:
    """Its marks are as dense as their words allow."""
    assert time_ruler(length, 29).rstrip() == ruler.rstrip()


@pytest.mark.parametrize(
    ("marks", "line"),
    [
        ([("1", 0), ("2", 5)], "1    2     "),
        ([("1", 0), ("2", 1)], "1 2        "),
        ([("1", 0), ("2", 0), ("3", 0)], "1 2·       "),
        ([("last", 10)], "       last"),
        ([("a very long name indeed", 10)], "          ·"),
    ],
)
def test_names_of_cues_that_would_collide_move_or_become_dots(marks: list[tuple[str, int]], line: str) -> None:
    """A name is never written over another."""
    assert cue_marks(marks, 11) == line


@given(WIDTHS, st.fractions(0, 100), st.fractions(Fraction(1, 10), 100))
def test_a_column_stands_for_a_time_within_half_a_column(width: int, time_s: Fraction, length_s: Fraction) -> None:
    """There and back."""
    inside = min(time_s, length_s)
    back = time_at(column_of(inside, length_s, width), length_s, width)
    assert width == 1 or abs(back - inside) <= length_s / (width - 1) / 2
