"""Framed serial, on pseudo-terminals: an interface that takes packets in frames."""

from __future__ import annotations

import os

import pytest

from cuedeck.clock import ManualClock
from cuedeck.output.base import Line, OutputLost
from cuedeck.output.framed import Frame, FramedSerial
from tests.output.frame_parser import FrameParser
from tests.output.ports import FULL, Pty, packet

pytestmark = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are not on Windows")


def test_each_packet_is_one_frame_with_a_start_code_of_0() -> None:
    parser = FrameParser()
    with Pty() as pty:
        output = FramedSerial(pty.port, ManualClock())
        output.open(FULL)
        for number in range(3):
            output.send(packet(number))
            assert parser.feed(pty.read(518)) == [Frame(6, b"\0" + packet(number).slots.tobytes())]
        output.close()
    assert parser.skipped == 0


def test_a_line_of_24_slots_is_a_payload_of_25_bytes() -> None:
    with Pty() as pty:
        output = FramedSerial(pty.port, ManualClock(), universe=7)
        output.open(Line((3, 7), 24, 830.0))
        output.send(packet(1, universes=2))
        assert pty.read(30) == b"\x7e\x06\x19\x00\x00" + packet(1, universes=2).slots[1, :24].tobytes() + b"\xe7"
        assert pty.is_empty()
        output.close()
        assert output.name == f"framed:{pty.port},universe=7"


def test_an_interface_that_vanishes_is_lost_in_words() -> None:
    with Pty() as pty:
        output = FramedSerial(pty.port, ManualClock())
        output.open(FULL)
        pty.unplug()
        with pytest.raises(OutputLost, match=rf"^framed:{pty.port} was lost: input/output error$"):
            output.send(packet(1))


class Stuck:
    """A port whose far end has stopped fetching."""

    out_waiting = 518
    is_dropped = False

    def reset_output_buffer(self) -> None:
        self.is_dropped = True

    def close(self) -> None:
        assert self.is_dropped


def test_an_interface_that_takes_no_more_is_lost_after_a_second_and_does_not_hold_up_the_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clock = ManualClock()
    output = FramedSerial("stuck", clock)
    monkeypatch.setattr("serial.serial_for_url", lambda *_, **__: Stuck())
    output.open(FULL)
    with pytest.raises(OutputLost, match=r"^framed:stuck was lost: the interface takes no more frames$"):
        output.send(packet(0))
    assert clock.now_ns() == 1_000_000_000
    output.close()
