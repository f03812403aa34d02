"""What is written after --to: outputs, their options, and what is refused in words."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from cuedeck.clock import ManualClock
from cuedeck.output.base import Line, OutputLost
from cuedeck.output.framed import FramedSerial
from cuedeck.output.serial_line import SerialLine
from cuedeck.output.targets import UnknownTarget, output_for, outputs_for
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show

PATCH = build_patch(load_show(b"cuedeck: 1\n").show)


@pytest.mark.parametrize(
    ("target", "kind"),
    [
        ("serial:/dev/ttyU0", SerialLine),
        ("serial:/dev/ttyU0,universe=63999,slots=512,break=50000", SerialLine),
        ("serial:/dev/ttyU0,break=baud", SerialLine),
        ("serial:spy:///dev/ttyU0?file=log.txt,slots=24", SerialLine),
        ("framed:COM3,universe=1,slots=24", FramedSerial),
    ],
)
def test_an_output_is_called_what_the_user_called_it(target: str, kind: type) -> None:
    output = output_for(target, PATCH, ManualClock())
    assert isinstance(output, kind)
    assert output.name == target


def test_a_break_condition_and_90909_baud_are_what_is_meant_without_a_word() -> None:
    assert output_for("serial:x,break=condition", PATCH, ManualClock()).name == "serial:x"
    assert output_for("serial:x,break=90909", PATCH, ManualClock()).name == "serial:x,break=baud"


BREAKS = (
    "makes no break: write --to serial:x,break=condition, break=baud,"
    " or the baud rate of a zero byte, from 9600 to 97826"
)


@pytest.mark.parametrize(
    ("target", "words"),
    [
        ("serial:x,speed=9", "'speed=9' is no option of serial:x: it takes universe=, slots=, break="),
        ("serial:x,universe", "'universe' is no option of serial:x: it takes universe=, slots=, break="),
        ("serial:x,", "'' is no option of serial:x: it takes universe=, slots=, break="),
        ("framed:x,break=baud", "'break=baud' is no option of framed:x: it takes universe=, slots="),
        ("simulator:,universe=1", "'universe=1' is no option of simulator: simulator takes none"),
        ("serial:x,universe=1,universe=2", "universe is written twice behind serial:x: write it once"),
        ("serial:x,universe=", "'' is no universe: write --to serial:x,universe=N with a number from 1 to 63999"),
        ("serial:x,universe=0", "'0' is no universe: write --to serial:x,universe=N with a number from 1 to 63999"),
        ("framed:x,slots=23", "slots=23 cannot be: write --to framed:x,slots=N with a number from 24 to 512"),
        ("framed:x,slots=513", "slots=513 cannot be: write --to framed:x,slots=N with a number from 24 to 512"),
        ("serial:x,break=97827", f"break=97827 {BREAKS}"),
        ("serial:x,break=line", f"break=line {BREAKS}"),
        ("framed:", "which port? write --to framed:PORT ('cuedeck ports' lists them)"),
        ("serial:,universe=2", "which port? write --to serial:PORT ('cuedeck ports' lists them)"),
        ("serial:simulator://", "which line? write --to serial:simulator://NAME, with any name"),
        (
            "framed:simulator://x",
            "simulator://x is a line, and no interface that takes frames: write --to serial:simulator://x",
        ),
    ],
)
def test_an_option_that_cannot_be_is_refused_with_what_can(target: str, words: str) -> None:
    with pytest.raises(UnknownTarget) as caught:
        output_for(target, PATCH, ManualClock())
    assert str(caught.value) == words


@pytest.mark.parametrize(
    "targets",
    [
        ["serial:x", "serial:x,universe=2"],
        ["serial:x,universe=2", "framed:x"],
        ["serial:simulator://a", "serial:simulator://a,break=baud"],
    ],
)
def test_one_port_is_named_once(targets: list[str]) -> None:
    with pytest.raises(UnknownTarget, match=r"is named twice: one port carries one universe$"):
        outputs_for(targets, PATCH, ManualClock())


@pytest.mark.skipif(os.name == "nt", reason="links need rights on Windows")
def test_a_port_and_a_link_to_it_are_one_port(tmp_path: Path) -> None:
    (tmp_path / "ttyU0").touch()
    (tmp_path / "link").symlink_to(tmp_path / "ttyU0")
    with pytest.raises(UnknownTarget, match="is named twice"):
        outputs_for([f"serial:{tmp_path}/ttyU0", f"framed:{tmp_path}/link"], PATCH, ManualClock())


def test_the_same_text_twice_is_one_output() -> None:
    assert len(outputs_for(["serial:x", "simulator", "serial:x", "serial:y"], PATCH, ManualClock())) == 3


@pytest.mark.parametrize(("slots", "is_fit"), [(24, False), (100, True), (256, True), (257, False)])
def test_slots_are_those_that_the_rig_needs_to_those_that_the_refresh_has_time_for(slots: int, is_fit: bool) -> None:
    output = output_for(f"serial:simulator://slots,slots={slots}", PATCH, ManualClock())
    line = Line((1,), 256, 87.0, slots_needed=100)
    if is_fit:
        output.open(line)
    else:
        with pytest.raises(OutputLost, match=f"is to send {slots} slots, and the show has use and time for 100 to 256"):
            output.open(line)
    output.close()
