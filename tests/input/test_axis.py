"""A rig that tells its positions: what is followed, from when on, and what is ignored."""

from __future__ import annotations

import os

import pytest

from cuedeck.clock import ManualClock, MonotonicClock
from cuedeck.input.axis import LONGEST_LINE, AxisFollower, AxisSerialPort, parse_reading
from cuedeck.input.base import InputUnusable
from cuedeck.input.serial_input import RETRY_NS
from cuedeck.show.model import Cue
from tests.input.takes import Asked
from tests.output.ports import Pty

WAIT_S = 10
CUES = [
    Cue.model_validate({"cue": name, "at": at, "look": "any"})
    for name, at in (("1", "slide 60 mm"), ("2", "slide 60 mm falling"), ("3", "arm left 10 deg"))
]


def test_passes_count_from_the_start_of_the_take() -> None:
    take = Asked(is_rolling=False)
    follower = AxisFollower(CUES, take, ManualClock(), print)
    for position in (0, 80, 0, 50):
        assert follower.moved("slide", position)
    assert take.asked == []
    take.is_rolling = True
    follower.moved("slide", 59)
    assert take.asked == []
    follower.moved("slide", 61)
    follower.moved("slide", 59)
    assert take.asked == ["cue 1", "cue 2"]


def test_a_pass_between_the_last_position_before_the_start_and_the_first_after_it_counts() -> None:
    take = Asked(is_rolling=False)
    follower = AxisFollower(CUES, take, ManualClock(), print)
    follower.moved("slide", 50)
    take.is_rolling = True
    follower.moved("slide", 70)
    assert take.asked == ["cue 1"]


def test_an_axis_that_no_cue_is_tied_to_is_not_followed() -> None:
    assert not AxisFollower(CUES, Asked(), ManualClock(), print).moved("tilt", 5)


def test_a_position_that_the_axis_cannot_have_reached_fires_nothing_and_is_told_once_and_counted() -> None:
    take, told = Asked(), []
    follower = AxisFollower(CUES, take, ManualClock(), told.append, greatest={"slide": 100, "arm left": 10})
    for position in (50, 51, 5000, 52, -900, 53):
        assert follower.moved("slide", position)
    assert take.asked == []
    assert told == ["slide is said to be at 5000, which it cannot have reached: not believed"]
    assert list(follower.lines()) == [
        "2 positions of slide not believed, the worst 5000: that is 98980 a second, and it goes 100 at most"
        " (see 'top speed')"
    ]
    for position in (70, 71, 72):
        follower.moved("slide", position)
    assert take.asked == ["cue 1"]


@pytest.mark.parametrize("position", [float("nan"), float("inf"), -2e9])
def test_what_is_no_position_is_refused(position: float) -> None:
    with pytest.raises(ValueError, match="is no position"):
        AxisFollower(CUES, Asked(), ManualClock(), print).moved("slide", position)


@pytest.mark.parametrize(
    ("line", "reading"),
    [
        ("slide 60.25", ("slide", 60.25)),
        ("  arm left   -.5 ", ("arm left", -0.5)),
        ("slide 6e1", ("slide", 60.0)),
        ("slide +60.", ("slide", 60.0)),
        ("slide", None),
        ("60.25", None),
        ("slide 60 mm", None),
        ("slide nan", None),
        ("slide 1e999", None),
        ("slide 60,25", None),
        ("", None),
    ],
)
def test_a_line_is_a_name_and_a_number(line: str, reading: tuple[str, float] | None) -> None:
    assert parse_reading(line) == reading


def on_a_loop(take: Asked) -> AxisSerialPort:
    line = AxisSerialPort("loop://", 115_200, AxisFollower(CUES, take, ManualClock(), print), ManualClock(), print)
    line.open()
    return line


def feed(line: AxisSerialPort, content: bytes) -> None:
    """Send bytes round the loop and have them read."""
    line._serial.write(content)
    while line._serial.in_waiting:
        line.poll()


def test_positions_on_a_line_fire_cues_however_they_are_cut_up() -> None:
    take = Asked()
    line = on_a_loop(take)
    for part in (b"slide 5", b"0\r\nslide 59", b".5\n", b"slide 61\rarm left 0\narm left 1", b"5\n"):
        feed(line, part)
    assert take.asked == ["cue 1", "cue 3"]
    assert str(line) == "5 positions from serial:loop://"


def test_what_is_no_position_is_counted_and_ignored() -> None:
    take = Asked()
    line = on_a_loop(take)
    feed(line, b"lide 50\nslide 50\n\xff\xfe\n\nslide 9e99\ntilt 5\n" + b"x" * (LONGEST_LINE + 1))
    feed(line, b"y" * 20 + b"\nslide 70\n")
    assert take.asked == ["cue 1"]
    assert (line.taken, line.ignored) == (2, 6)
    assert str(line).startswith("2 positions from serial:loop://; 6 lines ignored")


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are those of POSIX")
def test_a_rig_on_a_port_is_followed() -> None:
    take = Asked()
    with (
        Pty() as pty,
        AxisSerialPort(pty.port, 9600, AxisFollower(CUES, take, MonotonicClock(), print), MonotonicClock(), print),
    ):
        pty.write(b"slide 50\nslide 61\n")
        assert take.has_been_asked.wait(WAIT_S)
    assert take.asked == ["cue 1"]


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are those of POSIX")
def test_a_lost_port_is_told_once_and_tried_again() -> None:
    clock, told, pty = ManualClock(), [], Pty()
    line = AxisSerialPort(pty.port, 9600, AxisFollower(CUES, Asked(), ManualClock(), print), clock, told.append)
    line.open()
    pty.unplug()
    for _ in range(5):
        line.poll()
        clock.spin_ns(RETRY_NS)
    assert len(told) == 1
    assert told[0].startswith(f"the axis on {pty.port} was lost: ")


def test_a_port_that_is_not_there_is_refused() -> None:
    line = AxisSerialPort(
        "/nowhere/at/all", 9600, AxisFollower(CUES, Asked(), ManualClock(), print), ManualClock(), print
    )
    with pytest.raises(InputUnusable, match="the axis on /nowhere/at/all cannot be followed: there is no such port"):
        line.__enter__()
    line.close()
