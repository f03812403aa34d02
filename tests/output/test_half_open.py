"""Outputs that fail half way through their opening: nothing of them is left open.

Which files this process has open is what Linux says of it.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from cuedeck.clock import ManualClock
from cuedeck.input.axis import AxisSerialPort
from cuedeck.input.base import InputUnusable
from cuedeck.input.contacts import ContactPort
from cuedeck.output.base import Line, OutputLost, line_of
from cuedeck.output.framed import FramedSerial
from cuedeck.output.outlet import Outlet
from cuedeck.output.serial_line import SerialLine
from cuedeck.output.usb_ports import PortRecord
from cuedeck.player.line.line_out import LineOut
from cuedeck.player.line.routes import Route, Routes
from cuedeck.player.take.control import TakeControl
from tests.output.outputs import WAIT_S, Driven
from tests.output.ports import FULL, Pty, packet
from tests.player.line.test_hold import slots
from tests.timeline.shows import plan

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="what is open is listed on Linux only")
OPEN_FILES = Path("/proc/self/fd")


def times_open(port: str) -> int:
    """Return how often this process has a port open."""
    found = 0
    for file in OPEN_FILES.iterdir():
        try:
            found += str(file.readlink()) == port
        except FileNotFoundError:  # closed meanwhile, as the list itself is
            continue
    return found


def refused(*_: object) -> None:
    """Fail as the start of a thread does where there are too many."""
    raise RuntimeError("can't start new thread")


def nobody_knows() -> list[PortRecord]:
    raise OSError(5, "Input/output error")


def broken() -> list[PortRecord]:
    raise ZeroDivisionError("a bug")


@pytest.mark.parametrize("kind", [SerialLine, FramedSerial])
@pytest.mark.parametrize(
    ("listing", "raised"), [(nobody_knows, OutputLost), (broken, ZeroDivisionError)], ids=["the system", "a bug"]
)
def test_a_port_that_fails_after_it_was_opened_is_closed_again(
    kind: type[SerialLine], listing: Callable[[], list[PortRecord]], raised: type[Exception]
) -> None:
    with Pty() as pty:
        before = times_open(pty.port)
        output = kind(pty.port, ManualClock(), list_ports=listing)
        with pytest.raises(raised) as caught:
            output.open(FULL)
        # While the error is kept, so is the port in it: nobody else closes it.
        assert caught.value is not None
        assert times_open(pty.port) == before


def test_where_no_thread_can_begin_the_output_is_refused_and_may_be_opened_later(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    output = Driven()
    outlet = Outlet(output, ManualClock(), lambda _: None)
    with monkeypatch.context() as patch:
        patch.setattr(threading.Thread, "start", refused)  # a system without room for one cannot be had in a test
        with pytest.raises(OutputLost, match="driven cannot be opened: the system lets no more threads begin"):
            outlet.open(FULL)
    assert outlet.line is None
    outlet.open(FULL)
    outlet.send(packet(0))
    assert outlet.settle(WAIT_S)
    outlet.close()
    assert output.sent == [0]


def ready(folder: Path, *targets: str) -> Route:
    """Make the outputs of a player ready."""
    return Routes(LineOut(), ManualClock(), folder / "look", lambda _: None).ready(targets, None, FULL, slots(0))


def test_where_the_second_output_does_not_open_the_first_is_closed_again(tmp_path: Path) -> None:
    with Pty() as pty:
        before, threads = times_open(pty.port), threading.active_count()
        with pytest.raises(OutputLost, match="there is no such port"):
            ready(tmp_path, f"serial:{pty.port}", f"serial:{tmp_path / 'nothing'}")
        assert (times_open(pty.port), threading.active_count()) == (before, threads)


def test_a_port_that_is_asked_for_in_another_way_is_let_go_of_first(tmp_path: Path) -> None:
    routes = Routes(LineOut(), ManualClock(), tmp_path / "look", lambda _: None)
    with Pty() as pty:
        before = times_open(pty.port)
        routes.ready([f"serial:{pty.port}"], None, FULL, slots(0))
        routes.ready([f"framed:{pty.port}"], None, FULL, slots(0))
        assert times_open(pty.port) == before + 1
        routes.close()
        assert times_open(pty.port) == before


def test_where_something_breaks_at_the_second_output_the_first_is_closed_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def break_at_the_second(outlet: Outlet, line: Line, *, must: bool = True) -> None:
        if outlet.name == "simulator":
            raise ZeroDivisionError("a bug")
        opening(outlet, line, must=must)

    opening = Outlet.open
    monkeypatch.setattr(Outlet, "open", break_at_the_second)
    with Pty() as pty:
        before, threads = times_open(pty.port), threading.active_count()
        with pytest.raises(ZeroDivisionError):
            ready(tmp_path, f"serial:{pty.port}", "simulator")
        assert (times_open(pty.port), threading.active_count()) == (before, threads)


def test_one_that_opens_after_it_was_given_up_is_closed_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cuedeck.output.outlet.PATIENCE_S", 0.05)
    output = Driven("late")
    output.gate.clear()
    outlet = Outlet(output, ManualClock(), lambda _: None)
    with pytest.raises(OutputLost, match="has not answered"):
        outlet.open(FULL)
    [thread] = [thread for thread in threading.enumerate() if thread.name == "late"]
    outlet.close()
    output.gate.set()
    thread.join(WAIT_S)
    assert output.lines == [FULL]
    assert output.closes >= 1


@pytest.mark.parametrize("kind", ["contacts", "axis"])
def test_a_port_of_the_floor_whose_thread_cannot_begin_is_closed_again(
    kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(threading.Thread, "start", refused)
    clock = ManualClock()
    closed: list[str] = []
    ways: dict[str, Callable[[], ContactPort | AxisSerialPort]] = {
        "contacts": lambda: ContactPort("loop://", [], None, TakeControl(), clock, closed.append),
        "axis": lambda: AxisSerialPort("loop://", 9600, None, clock, closed.append),  # type: ignore[arg-type]
    }
    way = ways[kind]()
    with pytest.raises(InputUnusable, match="the system lets no more threads begin"):
        way.__enter__()
    assert way._serial is None


# --- fewer slots than the show sends -------------------------------------------------------------------------------


def needs(last_slot: int) -> Line:
    """Return the line of a show that says nothing of slots, with a light at the last one that it needs."""
    shot = plan(
        "cue: 1, at: 0 s, look: key",
        head=f"cuedeck: 2\nrig: {{key: {{type: dimmer, address: 1.{last_slot}}}}}\n",
        looks="looks: {key: {key: full}}\n",
    )
    return line_of(shot.patch, shot.refresh_hz)


@pytest.mark.parametrize(("asked", "sent"), [(None, 24), (24, 24), (100, 100), (512, 512)])
def test_a_port_may_be_asked_for_fewer_slots_where_the_show_says_nothing_of_them(asked: int | None, sent: int) -> None:
    line = needs(1)
    assert (line.slots_sent, line.refresh_hz) == (512, 44)
    with Pty() as pty:
        output = SerialLine(pty.port, ManualClock(), slots=asked)
        output.open(line)
        output.send(packet(3))
        assert pty.read(1 + sent) == b"\x00" + packet(3).slots.tobytes()[:sent]
        assert pty.is_empty()
        output.close()


def test_fewer_slots_than_the_rig_needs_are_refused_before_the_port_is_opened() -> None:
    with Pty() as pty:
        before = times_open(pty.port)
        with pytest.raises(OutputLost, match="is to send 24 slots, and the show has use and time for 30 to 512"):
            SerialLine(pty.port, ManualClock(), slots=24).open(needs(30))
        assert times_open(pty.port) == before
