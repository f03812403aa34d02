"""Contacts on a serial port: pyserial's loop, where RTS is wired to CTS and DTR to DSR, and lines set by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest
import serial

from cuedeck.clock import ManualClock, MonotonicClock
from cuedeck.input.base import InputUnusable
from cuedeck.input.contacts import ContactPort
from cuedeck.input.serial_input import RETRY_NS
from cuedeck.show.floor import ContactTrigger, Signal
from tests.input.handlers.protocol_lines import PORTS, Fluttering, Lines
from tests.input.takes import Asked
from tests.output.ports import Pty

MS = 1_000_000
WAIT_S = 10


def trigger(line: str = "CTS", does: str = "next cue", **more: str) -> ContactTrigger:
    return ContactTrigger.model_validate({"line": line, "does": does, **more})


def signal(line: str = "RTS", **more: str) -> Signal:
    return Signal.model_validate({"line": line, **more})


@dataclass
class Watched:
    """A port with lines that are set by hand, polled on a clock that is moved by hand."""

    triggers: tuple[ContactTrigger, ...] = ()
    signal: Signal | None = None
    take: Asked = field(default_factory=Asked)
    clock: ManualClock = field(default_factory=ManualClock)
    told: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.lines = PORTS["test"] = Lines()
        self.port = ContactPort("lines://test", self.triggers, self.signal, self.take, self.clock, self.told.append)

    def run(self, duration_ms: int, **lines: bool) -> list[str]:
        """Set lines, watch the port for a while, and return what was asked of the take meanwhile."""
        self.lines.inputs.update(lines)
        self.take.asked.clear()
        for _ in range(duration_ms):
            self.port.poll()
            self.clock.spin_ns(MS)
        return list(self.take.asked)


@pytest.fixture
def watched(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Watched]:
    """Return what opens a port with triggers and a signal."""
    handlers = [*serial.protocol_handler_packages, "tests.input.handlers"]
    monkeypatch.setattr(serial, "protocol_handler_packages", handlers)

    def open_port(*triggers: ContactTrigger, signal: Signal | None = None, **more: Any) -> Watched:
        made = Watched(triggers, signal, **more)
        made.port.open()
        return made

    return open_port


@pytest.mark.parametrize(("line", "attribute"), [("CTS", "cts"), ("DSR", "dsr"), ("DCD", "cd"), ("RI", "ri")])
def test_each_line_can_carry_a_contact(watched: Callable[..., Watched], line: str, attribute: str) -> None:
    one = watched(trigger(line))
    assert one.run(40) == []
    assert one.run(19, **{attribute: True}) == []
    assert one.run(10) == ["next cue"]
    others = {name: True for name in ("cts", "dsr", "cd", "ri") if name != attribute}
    assert one.run(40, **others) == []


def test_a_contact_starts_the_take_fires_the_next_cue_or_a_cue_by_name(watched: Callable[..., Watched]) -> None:
    one = watched(trigger("CTS", "start"), trigger("CTS", "next cue", edge="opening"), trigger("DSR", "cue go left"))
    one.run(40)
    assert one.run(40, cts=True) == ["start"]
    assert one.run(40, cts=False) == ["next cue"]
    assert one.run(40, dsr=True) == ["cue go left"]


def test_both_edges_count_where_both_are_asked_for(watched: Callable[..., Watched]) -> None:
    one = watched(trigger(edge="both"))
    one.run(40)
    assert [one.run(40, cts=is_closed) for is_closed in (True, False, True)] == [["next cue"]] * 3


def test_the_debounce_time_of_the_show_counts(watched: Callable[..., Watched]) -> None:
    one = watched(trigger(debounce="100 ms"))
    one.run(200)
    assert one.run(99, cts=True) == []
    assert one.run(40) == ["next cue"]


def test_a_contact_that_is_closed_when_it_is_armed_waits_until_it_has_opened(watched: Callable[..., Watched]) -> None:
    one = watched(trigger())
    assert one.run(200, cts=True) == []
    assert one.run(40, cts=False) == []
    assert one.run(40, cts=True) == ["next cue"]


def test_a_lost_port_is_told_once_tried_again_and_its_contacts_are_armed_anew(watched: Callable[..., Watched]) -> None:
    one = watched(trigger())
    one.run(40)
    one.lines.is_pulled = True
    assert one.run(3000, cts=True) == []
    assert one.told == ["the contacts on lines://test were lost: input/output error; it is tried again every second"]
    one.lines.is_pulled = False
    assert one.run(RETRY_NS // MS + 100) == [], "it came back closed: that is no closing"
    assert one.told[1:] == ["the contacts on lines://test are back, and armed anew"]
    one.run(40, cts=False)
    assert one.run(40, cts=True) == ["next cue"]


# The signal.


def test_the_signal_is_down_from_the_first_and_the_other_output_feeds_the_contact(
    watched: Callable[..., Watched],
) -> None:
    one = watched(signal=signal("RTS"), take=Asked(is_rolling=False))
    one.run(100)
    assert one.lines.outputs[:2] == [("rts", False), ("dtr", True)]
    assert ("rts", True) not in one.lines.outputs


@pytest.mark.parametrize("line", ["RTS", "DTR"])
def test_the_signal_is_raised_while_the_take_rolls(watched: Callable[..., Watched], line: str) -> None:
    one = watched(signal=signal(line), take=Asked(is_rolling=False))
    one.run(10)
    one.lines.outputs.clear()
    one.take.is_rolling = True
    one.run(1000)
    assert one.lines.outputs == [(line.lower(), True)]
    one.take.is_rolling = False
    one.run(10)
    assert one.lines.outputs == [(line.lower(), True), (line.lower(), False)]
    one.port.close()
    one.port.close()


def test_a_signal_may_last_for_a_stated_time(watched: Callable[..., Watched]) -> None:
    one = watched(signal=signal(lasts="500 ms"))
    one.lines.outputs.clear()
    one.run(500)
    assert one.lines.outputs == [("rts", True)]
    one.run(1000)
    assert one.lines.outputs == [("rts", True), ("rts", False)]


def test_a_signal_is_dropped_when_the_port_is_closed_in_the_middle_of_a_take(watched: Callable[..., Watched]) -> None:
    one = watched(signal=signal())
    one.run(10)
    one.port.close()
    assert one.lines.outputs[-1] == ("rts", False)


def test_a_signal_is_not_given_again_after_the_port_was_lost(watched: Callable[..., Watched]) -> None:
    one = watched(signal=signal())
    one.run(10)
    one.lines.is_pulled = True
    one.run(10)
    one.lines.is_pulled = False
    one.lines.outputs.clear()
    one.run(RETRY_NS // MS + 100)
    assert one.told[1:] == ["the contacts on lines://test are back, and armed anew"]
    assert [raised for line, raised in one.lines.outputs if line == "rts"] == [False] * 2


# On its own thread, with real ports.


def test_a_rig_that_is_started_by_the_signal_closes_its_contact() -> None:
    """pyserial's loop wires RTS to CTS: the take starts, the signal rises, the contact closes, the cue fires."""
    take = Asked(is_rolling=False)
    with ContactPort("loop://", [trigger()], signal(), take, MonotonicClock(), print) as port:
        assert take.asked == []
        take.is_rolling = True
        assert take.has_been_asked.wait(WAIT_S)
        port.close()
    assert take.asked == ["next cue"]


def test_a_contact_that_closes_as_soon_as_its_port_is_open_has_closed() -> None:
    """With a debounce time of half a second: opening the port waits until the contact was seen open as long."""
    take = Asked(is_rolling=False)
    with ContactPort("loop://", [trigger(debounce="500 ms")], signal(), take, MonotonicClock(), print):
        take.is_rolling = True
        assert take.has_been_asked.wait(WAIT_S)
    assert take.asked == ["next cue"]


def test_a_contact_that_flutters_while_it_is_armed_is_told(
    watched: Callable[..., Watched], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("cuedeck.input.contacts.RESTLESS_S", 0.01)
    one = watched()
    one.lines.inputs = Fluttering()
    with ContactPort("lines://test", [trigger("DSR")], None, one.take, MonotonicClock(), one.told.append):
        pass
    assert one.told == ["DSR of lines://test does not come to rest and is not armed yet: look at its wiring"]
    assert one.take.asked == []


def test_a_port_that_is_not_there_is_refused() -> None:
    port = ContactPort("/nowhere/at/all", [trigger()], None, Asked(), MonotonicClock(), print)
    with pytest.raises(InputUnusable, match="the contacts on /nowhere/at/all cannot be watched: there is no such port"):
        port.__enter__()
    port.close()


def test_a_terminal_without_control_lines_is_refused() -> None:
    with Pty() as pty:
        port = ContactPort(pty.port, [trigger()], None, Asked(), MonotonicClock(), print)
        with pytest.raises(InputUnusable, match="has no control lines that can be read"):
            port.__enter__()
        port.close()


def test_a_url_that_is_none_is_refused() -> None:
    with pytest.raises(InputUnusable, match="cannot be watched"):
        ContactPort("nonsense://", [trigger()], None, Asked(), MonotonicClock(), print).open()
