"""What is asked of the player, in its order, the newest look only."""

from __future__ import annotations

import threading

from cuedeck.player.channel.requests import AnyRequest, Begin, Release, ShowLook
from cuedeck.tui.lane import Lane


def look(level: int) -> ShowLook:
    return ShowLook(to=("simulator",), universes=(1,), slots=bytes([level] * 512))


def test_of_looks_that_wait_only_the_newest_is_shown_and_never_two_at_once() -> None:
    """What was asked for between two looks keeps its place."""
    asked: list[AnyRequest] = []
    has_begun, may_go_on, is_done = threading.Event(), threading.Event(), threading.Event()

    def carry_out(request: AnyRequest) -> None:
        has_begun.set()
        assert may_go_on.wait(60)
        asked.append(request)
        if isinstance(request, Release):
            is_done.set()

    lane = Lane("a lane", carry_out)
    assert not lane.is_busy
    begin = Begin(shot="1", to=("simulator",))
    lane.put(look(1))
    assert has_begun.wait(60)
    for request in (look(2), look(3), begin, look(4), look(5), Release()):
        lane.put(request)
    assert lane.is_busy
    may_go_on.set()
    assert is_done.wait(60)
    assert asked == [look(1), look(3), begin, look(5), Release()]
    lane.end()


def test_a_lane_that_has_ended_forgets_what_waits() -> None:
    asked: list[AnyRequest] = []
    has_begun, may_go_on = threading.Event(), threading.Event()

    def carry_out(request: AnyRequest) -> None:
        has_begun.set()
        assert may_go_on.wait(60)
        asked.append(request)

    lane = Lane("a lane", carry_out)
    lane.put(look(1))
    assert has_begun.wait(60)
    lane.put(look(2))
    lane.end()
    lane.end()
    may_go_on.set()
    thread = next((one for one in threading.enumerate() if one.name == "a lane"), None)
    if thread is not None:
        thread.join(60)
    assert asked == [look(1)]
