"""A port that vanished is found again by the serial number of its adapter, whatever its name is then."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from cuedeck.clock import ManualClock
from cuedeck.output.base import OutputLost
from cuedeck.output.framed import FramedSerial
from cuedeck.output.serial_line import SerialLine
from cuedeck.output.serial_output import SerialOutput
from cuedeck.output.usb_ports import ListPorts, OtherAdapter, UsbPort, listed_ports
from tests.output.ports import FULL, Pty, packet

needs_a_pty = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are not on Windows")


@dataclass
class Port:
    device: str
    serial_number: str | None


def known(*ports: Port, port: str = "/dev/ttyU0") -> tuple[UsbPort, list[Port]]:
    """Return a port whose adapter was open once, and the list of ports that it looks at."""
    there = list(ports)
    usb = UsbPort(port, lambda: there)
    usb.remember()
    return usb, there


def test_a_port_is_opened_by_its_name_before_anything_is_known_of_it() -> None:
    assert UsbPort("/dev/ttyU0", list).current_name() == "/dev/ttyU0"


@pytest.mark.parametrize(
    ("now", "found"),
    [
        ([Port("/dev/ttyU0", "A1")], "/dev/ttyU0"),
        ([Port("/dev/ttyU1", "A1")], "/dev/ttyU1"),
        ([Port("/dev/ttyU0", "B2"), Port("/dev/ttyU1", "A1")], "/dev/ttyU1"),
        ([Port("/dev/ttyU0", "A1"), Port("/dev/ttyU1", "A1")], "/dev/ttyU0"),
        ([], "/dev/ttyU0"),
        ([Port("/dev/ttyU3", "B2")], "/dev/ttyU0"),
    ],
)
def test_an_adapter_is_looked_for_by_its_number_and_a_name_alone_is_the_last_resort(
    now: list[Port], found: str
) -> None:
    usb, there = known(Port("/dev/ttyU0", "A1"), Port("/dev/ttyU9", "B2"))
    there[:] = now
    assert usb.current_name() == found


@pytest.mark.parametrize(
    "now",
    [
        [Port("/dev/ttyU0", "B2")],
        [Port("/dev/ttyU0", None)],
        [Port("/dev/ttyU0", "B2"), Port("/dev/ttyU1", "A1"), Port("/dev/ttyU2", "A1")],
    ],
)
def test_another_adapter_under_the_old_name_is_never_sent_to(now: list[Port]) -> None:
    usb, there = known(Port("/dev/ttyU0", "A1"))
    there[:] = now
    with pytest.raises(OtherAdapter, match=r"^another adapter is there now; plug in the one with serial number A1$"):
        usb.current_name()


def test_a_number_that_two_adapters_share_is_not_kept() -> None:
    usb, there = known(Port("/dev/ttyU0", "0000"), Port("/dev/ttyU1", "0000"))
    assert usb.serial_number is None
    there[:] = [Port("/dev/ttyU1", "0000")]
    assert usb.current_name() == "/dev/ttyU0"


def test_the_number_of_the_first_time_stays() -> None:
    usb, there = known(Port("/dev/ttyU0", "A1"))
    there[:] = [Port("/dev/ttyU0", "B2"), Port("/dev/ttyU1", "A1")]
    usb.remember()
    assert usb.current_name() == "/dev/ttyU1"


def test_a_link_to_a_port_is_known_by_what_it_leads_to(tmp_path: Path) -> None:
    device, link = tmp_path / "ttyU0", tmp_path / "by-id"
    device.touch()
    link.symlink_to(device)
    usb, _ = known(Port(str(device), "A1"), port=str(link))
    assert usb.serial_number == "A1"


def test_a_url_has_no_adapter_to_look_for() -> None:
    def never() -> list[Port]:
        raise AssertionError

    usb = UsbPort("simulator://bench", never)
    usb.remember()
    assert usb.current_name() == "simulator://bench"


def test_the_ports_of_this_machine_can_be_listed() -> None:
    for one in listed_ports():
        assert one.device
        assert one.serial_number is None or isinstance(one.serial_number, str)


def _line(port: str, list_ports: ListPorts) -> SerialOutput:
    return SerialLine(port, ManualClock(), list_ports=list_ports)


def _framed(port: str, list_ports: ListPorts) -> SerialOutput:
    return FramedSerial(port, ManualClock(), list_ports=list_ports)


@needs_a_pty
@pytest.mark.parametrize(("made", "head"), [(_line, b"\0"), (_framed, b"\x7e\x06\x01\x02\0")])
def test_an_output_goes_on_where_its_adapter_turned_up_under_another_name(
    made: Callable[[str, ListPorts], SerialOutput], head: bytes
) -> None:
    with Pty() as old, Pty() as new:
        there = [Port(old.port, "A1"), Port("/dev/ttyU9", "B2")]
        output = made(old.port, lambda: there)
        output.open(FULL)
        output.send(packet(0))
        name = output.name
        old.unplug()
        there[:] = [Port("/dev/ttyU9", "B2")]
        with pytest.raises(OutputLost, match="was lost: input/output error"):
            output.send(packet(1))
        with pytest.raises(OutputLost, match="is not open"):
            output.send(packet(1))
        with pytest.raises(OutputLost, match="cannot be opened"):
            output.open(FULL)
        there.append(Port(new.port, "A1"))
        output.open(FULL)
        output.send(packet(2))
        content = head + packet(2).slots.tobytes()
        assert new.read(len(content)) == content
        assert (output.name, output.port) == (name, old.port)
        output.close()


@needs_a_pty
def test_an_output_does_not_take_the_port_of_another_adapter_for_its_own() -> None:
    with Pty() as pty:
        there = [Port(pty.port, "A1")]
        output = _line(pty.port, lambda: there)
        output.open(FULL)
        output.close()
        there[:] = [Port(pty.port, "B2")]
        with pytest.raises(OutputLost, match=rf"^serial:{pty.port} cannot be opened: another adapter is there now"):
            output.open(FULL)
