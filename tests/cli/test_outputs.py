"""What commands that send say about their outputs."""

from __future__ import annotations

import pytest

from cuedeck.cli.opening import print_left_out_universes
from cuedeck.rig.patch import Patch, build_patch
from cuedeck.show.load import load_show


def patch_of(*universes: int) -> Patch:
    lights = ", ".join(f"light {universe}: {{type: dimmer, address: {universe}.1}}" for universe in universes)
    return build_patch(load_show(f"cuedeck: 2\nrig: {{{lights}}}\n".encode()).show)


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (
            "serial:x,universe=7",
            "serial:x,universe=7 carries universe 7, not 3, 9: add --to serial:PORT,universe=3 for another interface",
        ),
        (
            "framed:x,universe=3",
            "framed:x,universe=3 carries universe 3, not 7, 9: add --to framed:PORT,universe=7 for another interface",
        ),
        ("serial:x", "serial:x carries universe 3, not 7, 9: add --to serial:PORT,universe=7 for another interface"),
    ],
)
def test_the_universes_that_a_port_leaves_out_are_told(
    capsys: pytest.CaptureFixture[str], target: str, words: str
) -> None:
    print_left_out_universes([target], patch_of(3, 7, 9))
    assert capsys.readouterr().err == f"{words}\n"


def test_a_port_that_carries_the_whole_rig_is_not_talked_about(capsys: pytest.CaptureFixture[str]) -> None:
    print_left_out_universes(["serial:x"], patch_of(7))
    assert capsys.readouterr().err == ""
