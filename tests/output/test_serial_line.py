"""The serial line, on pseudo-terminals and through pyserial's own spy."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from cuedeck.clock import ManualClock
from cuedeck.output.base import Line, OutputLost
from cuedeck.output.serial_line import BREAK_BAUD, SerialLine
from cuedeck.output.targets import UnknownTarget, output_for
from cuedeck.rig.patch import build_patch
from cuedeck.show.load import load_show
from tests.output.ports import FULL, Pty, packet, wire
from tests.output.receiver import Break, Data, Event, receive
from tests.system_calls import before_it_prints, system_calls

needs_a_pty = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are not on Windows")


def opened(port: str, line: Line = FULL, universe: int | None = None) -> SerialLine:
    output = SerialLine(port, ManualClock(), universe)
    output.open(line)
    return output


def spied(log: str) -> list[Event]:
    """Return what pyserial's spy wrote down, as events of a line. Its times are whole milliseconds."""
    events: list[Event] = []
    for line in log.splitlines():
        time_s, label, rest = re.fullmatch(r"(\S+) (\S+)\s+(.*)", line).groups()  # type: ignore[union-attr]
        time_ns = round(float(time_s) * 1e9)
        if label == "BRK":
            events.append(Break(time_ns, {"active": True, "inactive": False}[rest]))
        elif label == "TX":
            offset, hexadecimal = int(rest[:4], 16), rest[6:56]
            content = bytes.fromhex(hexadecimal)
            if offset and isinstance(events[-1], Data):
                content = events.pop().content + content  # type: ignore[union-attr]
            events.append(Data(time_ns, content))
    return events


@needs_a_pty
def test_a_start_code_of_0_and_512_slots_leave_for_each_packet() -> None:
    with Pty() as pty:
        output = opened(pty.port)
        for number in range(5):
            output.send(packet(number))
            assert pty.read(513) == b"\x00" + packet(number).slots.tobytes()
        assert pty.is_empty()
        output.close()


@needs_a_pty
def test_24_slots_are_25_bytes_on_the_line() -> None:
    with Pty() as pty:
        output = opened(pty.port, Line((1,), 24, 830.0))
        for number in range(3):
            output.send(packet(number))
            assert pty.read(25) == b"\x00" + packet(number).slots.tobytes()[:24]
        assert pty.is_empty()
        output.close()


@needs_a_pty
def test_a_line_carries_the_first_universe_or_the_one_it_was_given() -> None:
    two = Line((3, 7), 512, 44.0)
    for universe, index in ((None, 0), (3, 0), (7, 1)):
        with Pty() as pty:
            output = opened(pty.port, two, universe)
            output.send(packet(1, universes=2))
            assert pty.read(513) == b"\x00" + packet(1, universes=2).slots[index].tobytes()
            output.close()


@needs_a_pty
@pytest.mark.filterwarnings("ignore:unclosed file:ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("slots", [24, 512])
def test_break_mark_and_packet_leave_in_this_order_through_the_spy(tmp_path: Path, slots: int) -> None:
    log = tmp_path / "spy.txt"
    with Pty() as pty:
        output = opened(f"spy://{pty.port}?file={log}", Line((1,), slots, 44.0))
        for number in range(4):
            output.send(packet(number))
            pty.read(slots + 1)
        output.close()
    events = spied(log.read_text())
    order = ["data" if isinstance(event, Data) else "break" if event.is_on else "mark" for event in events]
    assert order == ["break", "mark", "data"] * 4
    heard = receive(events)
    assert [(one.start_code, one.slots) for one in heard] == [
        (0, packet(number).slots.tobytes()[:slots]) for number in range(4)
    ]


REQUESTS = {"TCSBRK, 1": "flush", "TIOCSBRK": "break", "TIOCCBRK": "mark", "TCSETS2": "speed"}
"""Of a terminal; the first waits until all is out. [Linux, TIOCSBRK(2const), TCSBRK(2const), TCSETS2]"""


def asked_of_the_driver(*arguments: object) -> list[str]:
    """Return what a process asked of its port for three packets and the end; writing, by the number of bytes."""
    calls = system_calls("-m", "tests.output.packets_on_a_pty", *arguments)
    asked = [call for call in calls[len(before_it_prints("opened", calls)) :] if call.path.startswith("/dev/pts/")]
    words = (
        call.more.rpartition(", ")[2] if call.name == "write" else REQUESTS.get(call.more.partition(", {")[0])
        for call in asked
    )
    return [word for word in words if word]


@needs_a_pty
def test_the_driver_is_flushed_before_each_break_and_before_the_port_is_closed() -> None:
    """A break cuts into what the driver still has: E1.11 wants the packet whole. 25 bytes are 24 slots."""
    assert asked_of_the_driver() == ["flush", "break", "mark", "25"] * 3 + ["flush"]


@needs_a_pty
def test_the_driver_is_flushed_before_and_behind_each_break_that_is_a_slow_zero_byte() -> None:
    """What is still in the driver when the baud rate changes leaves at the wrong one."""
    assert asked_of_the_driver(BREAK_BAUD) == ["flush", "speed", "1", "flush", "speed", "25"] * 3 + ["flush"]


@needs_a_pty
def test_a_port_that_vanishes_is_lost_in_words_and_can_still_be_closed() -> None:
    with Pty() as pty:
        output = opened(pty.port)
        output.send(packet(0))
        pty.unplug()
        with pytest.raises(OutputLost, match=rf"^serial:{pty.port} was lost: input/output error$"):
            output.send(packet(1))
        output.close()
        output.close()


@needs_a_pty
def test_a_port_that_is_open_carries_another_universe_and_other_slots_without_being_let_go_of() -> None:
    with Pty() as pty:
        output = opened(pty.port, Line((3, 7), 512, 44.0))
        output.send(packet(0, universes=2))
        pty.read(513)
        handle = output._serial
        output.open(Line((7,), 512, 44.0, slots_needed=30))
        assert (output.universe, output._serial) == (7, handle)
        output.send(packet(1))
        assert pty.read(31) == b"\0" + packet(1).slots.tobytes()[:30]
        with pytest.raises(OutputLost, match="the rig uses only 8"):
            SerialLine(pty.port, ManualClock(), 7).open(Line((8,), 512, 44.0))
        output.close()


@needs_a_pty
def test_a_port_that_another_has_is_refused_in_words() -> None:
    with Pty() as pty:
        output = opened(pty.port)
        words = rf"^serial:{pty.port} cannot be opened: another program has it, or the player of another show: end that"
        with pytest.raises(OutputLost, match=words):
            opened(pty.port)
        output.send(packet(0))
        assert len(pty.read(513)) == 513
        output.close()
        opened(pty.port).close()


def test_an_adapter_that_cannot_run_at_the_lower_baud_rate_says_so_when_it_is_opened(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    line = wire("refuses", ManualClock(), monkeypatch)
    line.refused_baud = 50_000
    output = SerialLine("recording://refuses", line.clock, break_baud=50_000)
    with pytest.raises(OutputLost, match="cannot be opened: the baud rate is out of range"):
        output.open(FULL)
    opened("recording://refuses").close()


def test_no_more_slots_leave_than_the_rig_needs_unless_it_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    few = Line((1,), 512, 44.0, slots_needed=30)
    for slots, sent in ((None, 30), (512, 512), (100, 100)):
        line = wire("slots", ManualClock(), monkeypatch)
        output = SerialLine("recording://slots", line.clock, slots=slots)
        output.open(few)
        output.send(packet(0))
        output.close()
        assert [len(one.slots) for one in receive(line.events)] == [sent]


def test_a_packet_is_refused_before_the_line_is_opened_and_after_it_is_closed() -> None:
    output = SerialLine("nowhere", ManualClock())
    with pytest.raises(OutputLost, match=r"^serial:nowhere is not open$"):
        output.send(packet(0))
    output.close()
    with pytest.raises(OutputLost, match=r"^serial:nowhere is not open$"):
        output.send(packet(0))


def test_a_port_that_is_not_there_is_told_with_the_way_to_list_those_that_are(tmp_path: Path) -> None:
    port = tmp_path / "ttyNONE"
    words = rf"^serial:{port} cannot be opened: there is no such port; 'cuedeck ports' lists those there are$"
    with pytest.raises(OutputLost, match=words):
        opened(str(port))


def test_a_file_that_is_no_port_and_a_protocol_that_is_none_cannot_be_opened(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.touch()
    with pytest.raises(OutputLost, match=r"cannot be opened: "):
        opened(str(file))
    with pytest.raises(OutputLost, match=r"cannot be opened: invalid URL, protocol 'carrier' not known"):
        opened("carrier://pigeon")


def test_a_universe_that_the_rig_has_not_is_refused_before_the_port_is_touched() -> None:
    with pytest.raises(
        OutputLost, match=r"^serial:nowhere,universe=2 is to carry universe 2, and the rig uses only 1, 3$"
    ):
        opened("nowhere", Line((1, 3), 512, 44.0), 2)


def test_a_break_waits_until_the_packet_before_it_is_out(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = ManualClock()
    line = wire("waits", clock, monkeypatch)
    output = SerialLine("recording://waits", clock)
    output.open(FULL)
    for number in range(3):
        output.send(packet(number))
    output.close()
    heard = receive(line.events)
    assert [one.slots for one in heard] == [packet(number).slots.tobytes() for number in range(3)]
    assert [one.faults for one in heard] == [(), (), ()]
    assert clock.now_ns() == line.free_ns


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (
            "lamp",
            "'lamp' is no output: write simulator, serial:PORT[,universe=N], framed:PORT[,universe=N],"
            " or sacn[:ADDRESS]",
        ),
        ("serial:", "which port? write --to serial:PORT ('cuedeck ports' lists them)"),
        ("serial", "which port? write --to serial:PORT ('cuedeck ports' lists them)"),
        ("simulator:x", "the simulator takes nothing behind its name: write --to simulator"),
    ],
)
def test_a_text_that_names_no_output_is_refused(target: str, words: str) -> None:
    with pytest.raises(UnknownTarget) as caught:
        output_for(target, build_patch(load_show(b"cuedeck: 1\n").show), ManualClock())
    assert str(caught.value) == words


@needs_a_pty
def test_a_text_names_a_port_and_a_universe() -> None:
    with Pty() as pty:
        output = output_for(
            f"serial:{pty.port},universe=7", build_patch(load_show(b"cuedeck: 1\n").show), ManualClock()
        )
        assert output.name == f"serial:{pty.port},universe=7"
        output.open(Line((3, 7), 512, 44.0))
        output.send(packet(0, universes=2))
        assert pty.read(513)[1:] == packet(0, universes=2).slots[1].tobytes()
        output.close()
