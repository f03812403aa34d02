"""What commands that send say about their outputs."""

from __future__ import annotations

import pytest

from cuedeck.cli.outputs import tell_of_universes
from cuedeck.clock import ManualClock
from cuedeck.output.base import Line, Output
from cuedeck.output.framed import FramedSerial
from cuedeck.output.serial_line import SerialLine

LINE = Line((3, 7, 9), 512, 44.0)


@pytest.mark.parametrize(
    ("output", "words"),
    [
        (
            SerialLine("x", ManualClock(), 7),
            "serial:x,universe=7 carries universe 7, not 3, 9: add --to serial:PORT,universe=3 for another interface",
        ),
        (
            FramedSerial("x", ManualClock(), 3),
            "framed:x,universe=3 carries universe 3, not 7, 9: add --to framed:PORT,universe=7 for another interface",
        ),
    ],
)
def test_the_universes_that_a_port_leaves_out_are_told(
    capsys: pytest.CaptureFixture[str], output: Output, words: str
) -> None:
    tell_of_universes([output], LINE)
    assert capsys.readouterr().err == f"{words}\n"


def test_a_port_that_carries_the_whole_rig_is_not_talked_about(capsys: pytest.CaptureFixture[str]) -> None:
    tell_of_universes([SerialLine("x", ManualClock(), 7)], Line((7,), 512, 44.0))
    assert capsys.readouterr().err == ""
