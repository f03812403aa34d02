"""What clients ask at awkward moments, with the service in this process: real shows, a real clock, no channel."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from cuedeck.clock import MonotonicClock
from cuedeck.errors import Refusal
from cuedeck.output.base import Packet
from cuedeck.player.channel.events import AnyEvent, Ended, Notice
from cuedeck.player.channel.requests import Begin, Quit, Stop
from cuedeck.player.service import Service
from cuedeck.player.session import Session
from cuedeck.player.show_keeper import ShowKeeper
from cuedeck.player.states import NotNow, PlayerState
from cuedeck.player.take.preparing import Prepared
from cuedeck.takes.store import TakeStore
from cuedeck.takes.take import Status
from cuedeck.timeline.opening import OpenedShow
from tests.player.test_process import UP, written
from tests.waiting import LONGEST_WAIT_S

BEGIN = Begin(shot="1", to=("simulator",))


class Keeper(ShowKeeper):
    """Reads the show as ever, and lets something happen just before a take is prepared from it."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.before: Callable[[], None] = lambda: None

    def opened(self) -> OpenedShow:
        self.before()
        return super().opened()


class Here:
    """A player's service and session in this process."""

    def __init__(self, show: Path) -> None:
        self.show = show
        self.events: list[AnyEvent] = []
        self.news = threading.Condition()
        self.session = Session(MonotonicClock(), show / "look", lambda what: self.hear(Notice(text=what)))
        self.keeper = Keeper(show)
        self.service = Service(self.session, self.keeper, self.hear)
        self.thread = threading.Thread(target=self.session.run)
        self.thread.start()
        self.service.came(1)

    def hear(self, event: AnyEvent) -> None:
        with self.news:
            self.events.append(event)
            self.news.notify_all()

    def ended(self, how_many: int = 1) -> Ended:
        def found() -> list[Ended]:
            return [event for event in self.events if isinstance(event, Ended)]

        with self.news:
            assert self.news.wait_for(lambda: len(found()) >= how_many, LONGEST_WAIT_S)
        return found()[-1]

    def rolls(self) -> Prepared:
        """Wait until a packet of the shot has left."""
        running, end_s = self.service.running, time.monotonic() + LONGEST_WAIT_S
        assert running is not None
        while not running.control.is_rolling and time.monotonic() < end_s:
            self.session.line_out.has_sent.wait(0.05)
            self.session.line_out.has_sent.clear()
        assert running.control.is_rolling
        return running

    @property
    def first(self) -> int:
        look = self.session.line_out.look
        return -1 if look is None else int(look[0, 0])


@pytest.fixture
def here(tmp_path: Path) -> Iterator[Here]:
    one = Here(written(tmp_path / "small", length=0.2))
    yield one
    one.session.end()
    one.thread.join(LONGEST_WAIT_S)
    one.session.close()


def taken(here: Here) -> Status:
    with TakeStore(here.show) as store:
        return store.takes()[-1].status


def test_a_take_of_a_client_that_is_lost_while_it_is_prepared_is_not_begun(here: Here) -> None:
    here.keeper.before = lambda: here.service.left(1, on_purpose=False)
    with pytest.raises(NotNow, match="nobody waits for it any more"):
        here.service.answer(1, BEGIN)
    assert_nothing_is_left(here)


def assert_nothing_is_left(here: Here) -> None:
    """Of a take that could not begin: in the player, in the log, of threads and of outputs."""
    assert here.service.running is None
    assert here.session.control is None
    assert here.session.machine.state is PlayerState.IDLE
    assert here.first == -1
    here.session.after.submit(lambda: None).result(LONGEST_WAIT_S)  # what is let go of is let go of there
    with TakeStore(here.show) as store:
        assert store.takes() == []


def test_a_client_that_is_gone_has_no_control(here: Here) -> None:
    here.service.clients.controller = 7  # it asked as it was lost
    here.service.answer(1, BEGIN)
    assert here.service.clients.controller == 1


def test_a_show_that_was_saved_as_a_take_is_prepared_waits_for_the_end_of_the_take(here: Here) -> None:
    written(here.show, length=0.2, extra="on stop: hold\n")
    here.service.answer(1, BEGIN)
    here.ended()
    written(here.show, level="40 %", length=600, extra="on stop: hold\n")
    refreshing = threading.Thread(target=here.service.refresh)

    def saved_and_seen() -> None:
        refreshing.start()
        end_s = time.monotonic() + LONGEST_WAIT_S
        while not is_in(refreshing, "refresh") and time.monotonic() < end_s:
            time.sleep(0.001)  # until it waits for the take to be prepared

    here.keeper.before = saved_and_seen
    here.service.answer(1, BEGIN)
    refreshing.join(LONGEST_WAIT_S)
    assert not refreshing.is_alive(), "it keeps nothing waiting while the take rolls"
    here.rolls()
    assert here.first == 102


def is_in(thread: threading.Thread, name: str) -> bool:
    frame = sys._current_frames().get(thread.ident or 0)
    return frame is not None and frame.f_code.co_name == name


def test_a_take_that_breaks_is_over_and_the_next_can_begin(here: Here) -> None:
    send, sent = here.session.line_out.send, []

    def breaking(packet: object) -> object:
        sent.append(packet)
        if len(sent) == 3:
            raise ZeroDivisionError("a bug")
        return send(packet)  # type: ignore[arg-type]

    here.session.line_out.send = breaking  # type: ignore[method-assign, assignment]
    here.service.answer(1, BEGIN)
    assert here.ended().was_cut
    with TakeStore(here.show) as store:
        (take,) = store.takes()
    assert (take.status, take.packets_sent) == (Status.CUT, 2), "the log says what was on the line"
    assert here.first == UP[0]
    here.service.answer(1, BEGIN)
    here.ended(2)
    assert taken(here) is Status.COMPLETE


def test_whatever_fails_after_a_take_the_next_can_begin(here: Here) -> None:
    written(here.show, length=600)
    here.service.answer(1, BEGIN)
    running = here.rolls()

    def fail() -> None:
        raise ZeroDivisionError("a bug")

    running.inputs.callback(fail)
    here.service.answer(1, Stop())
    assert here.ended().lost == {"floor": "internal error, please report it: ZeroDivisionError: a bug"}
    assert taken(here) is Status.CUT, "it is logged all the same"
    written(here.show, length=0.2)
    here.service.answer(1, BEGIN)
    here.ended(2)


def test_quitting_in_a_take_logs_it_puts_the_light_out_and_ends(here: Here) -> None:
    written(here.show, length=600, extra="on stop: hold\n")
    here.service.answer(1, BEGIN)
    here.rolls()
    here.service.answer(1, Quit())
    assert here.ended().was_cut
    here.thread.join(LONGEST_WAIT_S)
    assert here.session.machine.state is PlayerState.IDLE
    assert here.session.line_out.look is None
    with pytest.raises(NotNow, match="the player is just ending"):
        here.service.answer(1, BEGIN)
    assert taken(here) is Status.CUT, "no other take was begun"


def test_a_held_light_goes_on_though_a_packet_of_it_failed(here: Here) -> None:
    written(here.show, length=0.2, extra="on stop: hold\n")
    here.service.answer(1, BEGIN)
    here.ended()
    send, has_recovered, failures = here.session.line_out.send, threading.Event(), iter(range(3))

    def failing(packet: Packet) -> Packet:
        if next(failures, None) is not None:
            raise ZeroDivisionError("a bug")
        has_recovered.set()
        return send(packet)

    here.session.line_out.send = failing  # type: ignore[method-assign]
    assert has_recovered.wait(LONGEST_WAIT_S)
    assert here.session.machine.state is PlayerState.FAULTED
    assert here.first == UP[0]
    told = [event.text for event in here.events if isinstance(event, Notice)]
    assert told == ["internal error, please report it: ZeroDivisionError: a bug; the light is held as it was"]


def test_a_take_that_is_refused_on_the_port_of_a_held_look_leaves_the_player_to_its_lamps(here: Here) -> None:
    written(here.show, length=0.2, limit=", never below: 20 %")
    target = "serial:simulator://refused"
    here.service.answer(1, Begin(shot="1", to=(target,)))
    here.ended()
    assert here.session.is_needed, "a lamp of the rig must not go out"
    with pytest.raises(Refusal):
        here.service.answer(1, Begin(shot="9", to=(f"{target},universe=1",)))
    with pytest.raises(Refusal):
        here.service.answer(1, Begin(shot="1", to=(f"{target},universe=7",)))
    assert here.session.routes.current is not None
    assert here.session.is_needed
