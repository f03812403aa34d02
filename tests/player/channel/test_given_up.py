"""What was given up is never done later, unasked; and a take that could not begin leaves nothing."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from cuedeck.errors import Refusal
from cuedeck.player.channel.requests import (
    AnyRequest,
    Begin,
    Control,
    Fire,
    Hold,
    Quit,
    Release,
    Reload,
    ShowLook,
    Start,
    StartBlackout,
    Stop,
)
from cuedeck.player.line.routes import Routes
from cuedeck.player.session import LONGEST_WAIT_S as SESSION_WAITS_S
from cuedeck.player.states import NotNow, PlayerState
from cuedeck.takes.store import TakeStore
from tests.player.line.test_hold import slots
from tests.player.test_process import UP, written
from tests.player.test_service import BEGIN, Here, assert_nothing_is_left, here
from tests.player.test_session import Stage, shown, stage
from tests.waiting import LONGEST_WAIT_S

__all__ = ["here", "stage"]
LATE_MS = 1
"""Since this computer was switched on: long ago."""
LIT = ShowLook(to=("simulator",), universes=(1,), slots=bytes([77]) + bytes(511))


def late(request: AnyRequest) -> AnyRequest:
    return request.changed(until_ms=LATE_MS)


# --- too late -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "request_",
    [BEGIN, LIT, StartBlackout(), Release(), Quit(), Stop(), Start(), Fire(), Hold(), Reload(), Control()],
    ids=lambda request: request.ask,
)
def test_what_comes_after_whoever_asked_has_given_up_is_not_done(here: Here, request_: AnyRequest) -> None:
    with pytest.raises(NotNow, match="nobody waits for it any more"):
        here.service.answer(1, late(request_))
    assert_nothing_is_left(here)
    assert not here.session.line_out.is_blacked_out
    assert here.service.clients.controller is None
    assert not here.session.is_over.is_set()


def test_a_late_release_leaves_a_look_and_a_blackout_as_they_are(here: Here) -> None:
    here.service.answer(1, LIT)
    with pytest.raises(NotNow):
        here.service.answer(1, late(Release()))
    assert here.session.machine.state is PlayerState.HOLDING
    here.service.answer(1, StartBlackout())
    with pytest.raises(NotNow):
        here.service.answer(1, late(Release()))
    assert here.session.line_out.is_blacked_out


@pytest.mark.parametrize("asked", [BEGIN, LIT], ids=["take", "look"])
def test_what_was_given_up_while_it_was_prepared_is_not_done(here: Here, asked: AnyRequest) -> None:
    soon = asked.changed(until_ms=time.monotonic_ns() // 1_000_000 + 300)

    def slow() -> None:
        while time.monotonic_ns() // 1_000_000 <= (soon.until_ms or 0):
            time.sleep(0.01)

    here.keeper.before = slow
    with pytest.raises(NotNow, match="nobody waits for it any more"):
        here.service.answer(1, soon)
    assert_nothing_is_left(here)


@pytest.mark.parametrize("asked", [BEGIN, LIT], ids=["take", "look"])
def test_what_a_client_asked_that_left_while_it_was_prepared_is_not_done(here: Here, asked: AnyRequest) -> None:
    here.service.came(2)  # so that the player stays
    here.keeper.before = lambda: here.service.left(1, on_purpose=True)
    with pytest.raises(NotNow, match="nobody waits for it any more"):
        here.service.answer(1, asked)
    assert_nothing_is_left(here)


def test_a_job_that_was_given_up_as_its_turn_came_is_done_or_given_up_and_never_both(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown(stage, 1)
    monkeypatch.setattr("cuedeck.player.session.LONGEST_WAIT_S", 0.1)
    assert SESSION_WAITS_S > 1
    is_busy, may_go_on = threading.Event(), threading.Event()

    def keeps_busy() -> None:
        is_busy.set()
        may_go_on.wait(LONGEST_WAIT_S)

    stage.session.do(keeps_busy, waits=False)
    assert is_busy.wait(LONGEST_WAIT_S)
    with pytest.raises(Refusal, match="busy: try again"):
        stage.session.show(stage.route, slots(9))
    may_go_on.set()
    monkeypatch.undo()
    stage.session.show(stage.route, slots(2))
    assert 9 not in stage.firsts


def test_a_release_that_a_take_has_overtaken_does_not_put_its_last_look_out(here: Here) -> None:
    """It waits behind the take in the line of jobs, and its look is long gone when its turn comes."""
    here.service.answer(1, LIT)
    rehearsal = BEGIN.changed(is_rehearsal=True)
    taking = threading.Thread(target=here.service.answer, args=(1, rehearsal))
    let_go = here.session.let_go

    def first_a_take_begins(*, waits: bool = True, is_wanted: Callable[[], bool] = lambda: True) -> None:
        taking.start()
        taking.join(LONGEST_WAIT_S)
        let_go(waits=waits, is_wanted=is_wanted)

    here.session.let_go = first_a_take_begins  # type: ignore[method-assign]
    here.service.answer(1, Release())
    here.ended()
    here.session.do(lambda: None)
    assert here.first == UP[0], "the last look of the rehearsal stands"


# --- a take that cannot begin -------------------------------------------------------------------------------------


def descriptors() -> set[str]:
    """Return what this process has open, without what the log of a take leaves to the system's own time."""
    places = Path("/proc/self/fd")
    found = set()
    for one in places.iterdir() if places.exists() else ():
        try:
            found.add(str(one.readlink()))
        except OSError:
            continue
    return found


def threads() -> set[str]:
    return {thread.name for thread in threading.enumerate()}


def a_port_that_is_taken(here: Here, holds: socket.socket) -> Begin:
    written(here.show, extra=f"osc: {{port: {holds.getsockname()[1]}}}\n")
    return Begin(shot="1", to=("simulator",), osc=True)


def a_log_that_is_a_folder(here: Here, _: socket.socket) -> Begin:
    (here.show / "takes.sqlite").mkdir()
    return BEGIN


FAULTS: dict[str, Callable[[Here, socket.socket], Begin]] = {
    "no such shot": lambda *_: Begin(shot="9", to=("simulator",)),
    "no such output": lambda *_: Begin(shot="1", to=("simulator", "candle:1")),
    "no such port": lambda *_: Begin(shot="1", to=("simulator", "serial:/dev/nowhere")),
    "no such speed": lambda *_: Begin(shot="1", to=("simulator",), speed="backwards"),
    "no such contacts": lambda *_: Begin(shot="1", to=("simulator",), contacts="/dev/nowhere"),
    "no such timecode": lambda *_: Begin(shot="1", to=("simulator",), chase="ltc:/nowhere.wav"),
    "no such axis": lambda *_: Begin(shot="1", to=("simulator",), axis_from="/dev/nowhere"),
    "OSC on a port that is taken": a_port_that_is_taken,
    "a log that cannot be": a_log_that_is_a_folder,
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_take_that_could_not_begin_leaves_nothing(here: Here, fault: str) -> None:
    holds = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    holds.bind(("127.0.0.1", 0))
    asked = FAULTS[fault](here, holds)
    here.session.after.submit(lambda: None).result(LONGEST_WAIT_S)
    files, open_before, running = set(here.show.rglob("*")), descriptors(), threads()
    with pytest.raises(Refusal):
        here.service.answer(1, asked)
    if fault != "a log that cannot be":
        assert_nothing_is_left(here)
    assert here.service.running is None
    assert here.session.control is None
    assert here.session.machine.state is PlayerState.IDLE
    here.session.after.submit(lambda: None).result(LONGEST_WAIT_S)
    assert threads() <= running
    assert {one for one in set(here.show.rglob("*")) - files if not one.name.startswith("takes.sqlite")} == set()
    assert descriptors() <= open_before
    holds.close()


def test_a_take_whose_outputs_break_as_they_are_taken_up_is_refused_and_the_next_begins(
    here: Here, monkeypatch: pytest.MonkeyPatch
) -> None:
    take_up = Routes.take_up

    def breaks(*_: object) -> None:
        monkeypatch.setattr(Routes, "take_up", take_up)
        raise RuntimeError("the cable turned into a snake")

    monkeypatch.setattr(Routes, "take_up", breaks)
    with pytest.raises(Refusal, match="internal error, please report it: RuntimeError"):
        here.service.answer(1, BEGIN)
    assert_nothing_is_left(here)
    here.service.answer(1, BEGIN)
    here.ended()


def test_a_take_that_comes_as_the_player_ends_leaves_nothing(here: Here) -> None:
    here.keeper.before = here.session.end
    with pytest.raises(NotNow, match="just ending"):
        here.service.answer(1, BEGIN)
    assert here.service.running is None
    here.thread.join(LONGEST_WAIT_S)
    with TakeStore(here.show) as store:
        assert store.takes() == []
