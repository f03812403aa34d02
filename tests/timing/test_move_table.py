"""Recorded moves whose header is foreign, and other ways to part columns and decimals."""

from __future__ import annotations

from fractions import Fraction

import pytest

from cuedeck.show.problems import ProblemsFound
from cuedeck.timeline.opening import OpenedShow
from cuedeck.timing.move_table import read_csv
from tests.timeline.shows import opened, show_text

FPS = Fraction(25)
FOREIGN = "Nr,SLD_POS,Frame,PT-PAN,Status\n1,0,0,-5,ok\n2,100,50,30,ok\n"
MAP = "    move: {file: moves/a.csv, columns: {Frame: frame, SLD_POS: slide mm, pt-pan: pan deg}}\n"


def show(move: str, csv: str, start: str = "slide 50 mm", camera: str = "") -> OpenedShow:
    text = show_text(f"cue: 1, at: {start}, look: key", shot=move).replace("types:", f"{camera}types:", 1)
    return opened(text, {"moves/a.csv": csv})


def words_of(move: str, csv: str) -> list[str]:
    return [str(problem) for problem in show(move, csv).problems]


def test_a_foreign_header_is_read_by_the_words_of_the_show() -> None:
    found = show(MAP, FOREIGN)
    assert found.problems == ()
    axes = found.moves["1"].axes
    assert {name: (axis.unit, axis.positions.tolist()) for name, axis in axes.items()} == {
        "slide": ("mm", [0.0, 100.0]),
        "pan": ("deg", [-5.0, 30.0]),
    }
    assert found.plan("1").start_times() == {"1": 1}


def test_frames_of_a_table_are_those_that_the_camera_takes_on_set() -> None:
    found = show(MAP, FOREIGN, camera="camera: {shoot fps: 100, play fps: 25}\n")
    assert found.moves["1"].duration_s == Fraction(1, 2)


def test_a_file_whose_header_needs_no_words_may_stand_in_the_long_form() -> None:
    assert show("    move: {file: moves/a.csv}\n", "time s,slide mm\n0,0\n2,100\n").problems == ()


@pytest.mark.parametrize(
    ("columns", "problem"),
    [
        (
            "{Frames: frame, SLD_POS: slide mm}",
            "show.yaml:25:41: error: the file has no column called 'Frames'\n    write 'Frame'",
        ),
        (
            "{Frame: frames, SLD_POS: slide mm}",
            "show.yaml:25:48: error: the column 'frames' does not say which axis it is, and in which unit\n"
            "    write the axis and its unit, such as 'slide mm' or 'pan deg'",
        ),
        (
            "{Nr: lift mm, SLD_POS: slide mm}",
            "show.yaml:25:45: error: none of the columns says the time\n"
            "    write for one column that it is 'time s', 'time ms' or 'frame'",
        ),
        (
            "{Nr: frame, Frame: time s, SLD_POS: slide mm}",
            "show.yaml:25:45: error: 2 of the columns say the time\n"
            "    write for one column that it is 'time s', 'time ms' or 'frame'",
        ),
        (
            "{Frame: frame}",
            "show.yaml:25:48: error: the move has no axis\n"
            "    write for a column that it is an axis, such as 'slide mm'",
        ),
        (
            "{Frame: frame, SLD_POS: slide mm, PT-PAN: slide mm}",
            "show.yaml:25:82: error: two columns are called 'slide'\n    give each axis a name of its own",
        ),
    ],
)
def test_words_that_do_not_fit_the_file_are_refused_where_they_stand(columns: str, problem: str) -> None:
    assert words_of(f"    move: {{file: moves/a.csv, columns: {columns}}}\n", FOREIGN) == [problem]


def test_two_columns_of_one_name_cannot_be_told_apart() -> None:
    found = words_of("    move: {file: moves/a.csv, columns: {t: time s, x: slide mm}}\n", "t,x,X\n0,0,0\n1,1,1\n")
    assert found == [
        "show.yaml:25:52: error: the file has 2 columns called 'x'\n    give them names of their own in the file"
    ]


def test_a_foreign_header_without_words_is_told_how_to_give_them() -> None:
    (problem,) = show("    move: moves/a.csv\n", FOREIGN).problems
    assert str(problem.place) == "moves/a.csv:1:1"
    assert "columns: {NAME IN THE FILE: time s, OTHER: slide mm}" in problem.cure


def test_a_missing_file_is_reported_at_its_name() -> None:
    found = words_of("    move: {file: moves/b.csv, columns: {t: time s}}\n", FOREIGN)
    assert found[0].startswith("show.yaml:25:18: error: the move file 'moves/b.csv' cannot be read")


@pytest.mark.parametrize(
    "text",
    [
        "time s;slide mm\n0;0,5\n1;1,25\n",
        "time s\tslide mm\n0\t0,5\n1\t1,25\n",
        "time s;slide mm\n0;0.5\n1;1.25\n",
        "time s,slide mm\n0,0.5\n1,1.25\n",
    ],
)
def test_columns_may_be_parted_in_other_ways_and_decimals_then_have_a_comma(text: str) -> None:
    assert read_csv("a.csv", text.encode(), FPS).axes["slide"].positions.tolist() == [0.5, 1.25]


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("time s;slide mm\n0;1.234,5\n1;2\n", "a.csv:2:3: error: '1.234,5' is not a number"),
        (
            "time s;slide mm\n0;1.5\n1;2,5\n",
            "a.csv:3:3: error: '2,5' has a decimal ',', and the numbers before it a '.'",
        ),
        ("time s,slide mm\n0,5,1\n1,2,3\n", "a.csv:2:1: error: this line has 3 values, the header has 2 columns"),
    ],
)
def test_numbers_that_can_be_read_in_two_ways_are_refused(text: str, problem: str) -> None:
    with pytest.raises(ProblemsFound) as caught:
        read_csv("a.csv", text.encode(), FPS)
    assert str(caught.value).startswith(problem)
