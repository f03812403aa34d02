"""The thread that sends, with real outputs and a real clock: looks, takes and blackouts without a gap between them."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from cuedeck.clock import MonotonicClock
from cuedeck.output.base import Line, OutputLost, Packet
from cuedeck.output.e131 import OPTIONS_AT, SEQUENCE_AT, Options
from cuedeck.output.handlers import receiver_of
from cuedeck.player.line.blackout import Blackout
from cuedeck.player.line.blackout_page import made_page
from cuedeck.player.line.last_look import read_last_look
from cuedeck.player.line.routes import Route
from cuedeck.player.session import Session
from cuedeck.player.state_folder import StateFolder
from cuedeck.player.states import NotNow, PlayerState, Transition
from cuedeck.player.take.control import TakeControl
from tests.output.udp import UdpPort
from tests.player.line.test_hold import slots
from tests.waiting import LONGEST_WAIT_S, wait_until

PRIORITY_AT = 108
LINE = Line((1,), 24, 200.0, 24)


class Stage:
    """A session that runs, with the first slot of every packet that left."""

    def __init__(self, folder: Path, blackout: Blackout | None = None) -> None:
        self.told: list[str] = []
        self.session = Session(MonotonicClock(), folder / "look", self.told.append, blackout)
        self.route = self.session.routes.ready(["simulator"], None, LINE, slots(0))
        self.firsts: list[int] = []
        self.thread = threading.Thread(target=self.session.run)

    def note(self, packet: Packet) -> None:
        self.firsts.append(int(packet.slots[0, 0]))


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    one = Stage(tmp_path)
    keep = one.session.line_out.send

    def send(packet: Packet) -> Packet:
        left = keep(packet)
        one.note(left)
        return left

    one.session.line_out.send = send  # type: ignore[method-assign]
    one.thread.start()
    yield one
    one.session.end()
    one.thread.join(LONGEST_WAIT_S)
    one.session.close()


def shown(stage: Stage, first: int) -> Route:
    stage.session.show(stage.route, slots(first))
    return stage.route


def test_a_look_is_on_the_line_when_it_is_said_to_be(stage: Stage) -> None:
    shown(stage, 7)
    assert stage.firsts[-1] == 7
    assert stage.session.machine.state is PlayerState.HOLDING


def test_one_look_follows_the_other_with_nothing_in_between(stage: Stage) -> None:
    for first in (10, 20, 30):
        shown(stage, first)
    assert sorted(stage.firsts) == stage.firsts
    assert set(stage.firsts) == {10, 20, 30}


def test_letting_go_leaves_darkness_and_then_nothing(stage: Stage) -> None:
    shown(stage, 9)
    stage.session.let_go()
    count = len(stage.firsts)
    assert stage.firsts[-3:] == [0, 0, 0]
    assert stage.session.machine.state is PlayerState.IDLE
    shown(stage, 5)
    assert stage.firsts[count] == 5, "nothing was sent while it was idle"


def test_the_last_look_is_in_its_file_until_it_is_let_go_of(stage: Stage, tmp_path: Path) -> None:
    shown(stage, 99)
    found = read_last_look(tmp_path / "look")
    assert found is not None
    assert (found[0].targets, found[0].line, int(found[1][0, 0])) == (("simulator",), LINE, 99)
    stage.session.let_go()
    assert read_last_look(tmp_path / "look") is None


def kept_blackout(folder: Path) -> Blackout:
    return Blackout(StateFolder(folder), made_page(folder / "page")[0])


def test_a_blackout_that_was_on_the_line_is_there_again_when_another_player_resumes(tmp_path: Path) -> None:
    first = Stage(tmp_path, kept_blackout(tmp_path))
    first.thread.start()
    first.session.line_out.is_blacked_out = True
    shown(first, 50)
    first.session.end()
    first.thread.join(LONGEST_WAIT_S)
    kept = read_last_look(tmp_path / "look")
    assert kept is not None
    second = Session(MonotonicClock(), tmp_path / "look", first.told.append, kept_blackout(tmp_path))
    second.resume(*kept)
    assert second.line_out.last is not None
    assert int(second.line_out.last.slots[0, 0]) == 0
    assert second.line_out.look is not None
    assert int(second.line_out.look[0, 0]) == 50, "and the look under it is not forgotten"
    assert second.routes.current is not None
    assert second.routes.current.line == replace(LINE, is_resumed=True)
    second.close()
    first.session.close()


def test_a_take_that_breaks_leaves_its_last_packet_on_the_line(stage: Stage) -> None:
    has_broken = threading.Event()

    def run() -> None:
        stage.session.machine.happened(Transition.STARTED)
        stage.session.line_out.send(Packet(0, stage.session.clock.now_ns(), slots(44)))
        has_broken.set()
        raise ZeroDivisionError("a bug")

    stage.session.take(stage.route, TakeControl(stage.session.machine), run)
    assert has_broken.wait(10)
    shown_state(stage, PlayerState.FAULTED)
    assert "the light is held as it was" in stage.told[0]
    assert stage.firsts[-1] == 44
    shown(stage, 45)
    assert stage.session.machine.state is PlayerState.HOLDING, "and it can go on"


def shown_state(stage: Stage, state: PlayerState) -> None:
    """Wait until the player is in a state."""
    wait_until(lambda: stage.session.machine.state is state, f"the state {state}")


def test_what_cannot_be_is_refused_and_the_light_stays(stage: Stage) -> None:
    stage.session.let_go()
    shown(stage, 3)
    stage.session.machine.happened(Transition.STOOD_BY)
    with pytest.raises(NotNow, match="not while the player is standing by"):
        stage.session.show(stage.route, slots(4))
    assert 4 not in stage.firsts
    assert np.array_equal(stage.session.line_out.look, slots(3))


def test_an_output_that_is_asked_for_in_another_way_goes_over_to_that_and_does_not_let_go(stage: Stage) -> None:
    with UdpPort() as far:
        heard: list[bytes] = []
        for priority in (100, 150):
            target = f"sacn:127.0.0.1,port={far.number},priority={priority}"
            stage.session.show(stage.session.routes.ready([target], None, LINE, slots(0)), slots(priority))
            heard += far.read(1)
            while heard[-1][PRIORITY_AT] != priority:
                assert len(heard) < 100, "it goes on with the old priority"
                heard += far.read(1)
        sequences = [one[SEQUENCE_AT] for one in heard]
        assert sequences == [number % 256 for number in range(len(sequences))], "it is one stream"
        assert not [one for one in heard if one[OPTIONS_AT] & Options.STREAM_TERMINATED]


def test_all_of_the_last_dark_packets_reach_a_line_that_is_slower_than_the_refresh(stage: Stage) -> None:
    """512 slots take 22.7 ms on the line, so that at 200 Hz each packet takes the place of one that waits."""
    line = Line((1,), 512, 200.0)
    route = stage.session.routes.ready(["serial:simulator://calm"], None, line, slots(0))
    stage.session.show(route, slots(9))
    stage.session.let_go()
    stage.session.after.submit(lambda: None).result(10)  # the port is closed, and what it had is out
    receiver = receiver_of("calm")
    heard = [packet.slots[0] for packet in (*receiver.packets, receiver.last) if packet is not None]
    assert 9 in heard
    assert heard[-3:] == [0] * 3
    assert heard.count(0) == 3


# --- a spare --------------------------------------------------------------------------------------------------------


def test_a_stream_with_a_spare_ends_with_its_look_while_all_others_go_dark(stage: Stage) -> None:
    with UdpPort() as far, UdpPort() as other:
        targets = [f"sacn:127.0.0.1,port={far.number},spare=yes", f"sacn:127.0.0.1,port={other.number}"]
        stage.session.show(stage.session.routes.ready(targets, None, LINE, slots(0)), slots(9))
        stage.session.let_go()
        heard = {port: until_the_end(port) for port in (far, other)}
    assert {packet[126] for packet in heard[far]} == {9}
    assert [packet[126] for packet in heard[other]][-6:] == [0] * 6, "three that are dark, three that end"


def test_a_stream_with_a_spare_goes_dark_in_a_blackout_and_stays_until_it_is_let_go_of(stage: Stage) -> None:
    with UdpPort() as far:
        target = f"sacn:127.0.0.1,port={far.number},spare=yes"
        stage.session.show(stage.session.routes.ready([target], None, LINE, slots(0)), slots(9))
        stage.session.line_out.is_blacked_out = True
        assert stage.session.line_out.before_out() == ()
        stage.session.let_go()
        heard = [packet[126] for packet in until_the_end(far)]
    assert heard[-6:] == [0] * 6


def test_a_stream_that_was_left_to_the_spare_begins_again_with_the_next_look(stage: Stage) -> None:
    with UdpPort() as far:
        target = f"sacn:127.0.0.1,port={far.number},spare=yes"
        for first in (9, 12):
            stage.session.show(stage.session.routes.ready([target], None, LINE, slots(0)), slots(first))
            stage.session.let_go()
            assert {packet[126] for packet in until_the_end(far)} == {first}


def until_the_end(port: UdpPort) -> list[bytes]:
    """Return what comes until a stream has ended."""
    heard: list[bytes] = []
    while sum(bool(one[OPTIONS_AT] & Options.STREAM_TERMINATED) for one in heard) < 3:
        heard += port.read(1)
        assert len(heard) < 10_000, "the stream does not end"
    return heard


# --- what is made ready and not taken up yet ----------------------------------------------------------------------


def test_an_output_that_was_made_ready_is_not_let_go_of_before_it_is_taken_up(stage: Stage) -> None:
    shown(stage, 3)
    with UdpPort() as receiver:
        route = stage.session.routes.ready([f"sacn:127.0.0.1,port={receiver.number}"], None, LINE, slots(0))
        stage.session.routes.let_go_of_unused()  # as it is called after the take before
        stage.session.show(route, slots(9))
        assert receiver.read(1)[0][126] == 9


def test_an_output_that_was_made_ready_for_nothing_is_let_go_of(stage: Stage) -> None:
    shown(stage, 3)
    with UdpPort() as receiver:
        route = stage.session.routes.ready([f"sacn:127.0.0.1,port={receiver.number}"], None, LINE, slots(0))
        stage.session.routes.forget()
        stage.session.routes.let_go_of_unused()
        with pytest.raises(OutputLost, match="was closed"):
            route.outlets[0].open(LINE)


def test_an_output_that_waited_on_another_line_changes_over_when_it_is_taken_up(stage: Stage) -> None:
    with UdpPort() as receiver:
        target = f"sacn:127.0.0.1,port={receiver.number}"
        stage.session.routes.ready([target], None, LINE, slots(0))
        two = replace(LINE, universes=(1, 2))
        looks = np.concatenate([slots(4), slots(5)])
        stage.session.show(stage.session.routes.ready([target], None, two, 0 * looks), looks)
        assert {packet[126] for packet in receiver.read(2)} == {4, 5}


def test_what_comes_as_the_session_ends_is_refused_and_not_waited_for(stage: Stage) -> None:
    shown(stage, 3)
    stage.session.end()
    stage.thread.join(LONGEST_WAIT_S)
    with pytest.raises(NotNow, match="just ending"):
        stage.session.show(stage.route, slots(4))
    with pytest.raises(NotNow, match="just ending"):
        stage.session.take(stage.route, TakeControl(stage.session.machine), lambda: None)
    assert stage.firsts[-1] == 3
