"""Two machines with the same show, of which one is killed: what a receiver on the same network sees.

Whole commands with their players, real signals, streaming ACN by multicast, and a receiver that was written from
ANSI E1.31-2018 alone: the highest priority wins (6.2.3), a source is lost after 2.5 s (6.7.1) [source seen].
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from itertools import groupby

import pytest

from cuedeck.player.channel.client import find_player
from cuedeck.player.channel.events import LastTake
from cuedeck.takes.take import Status
from tests.output.namespace import PATIENCE_S, Talking
from tests.output.test_sacn_network import facts, wait_for
from tests.player.machines import SLOTS, THIRD, Machine, Studio, two_machines

WHOLE = (Status.COMPLETE, Status.INCOMPLETE)
"""Of a take that ran to its end; on a machine with a lot to do it may have missed a packet."""


@pytest.fixture
def studio() -> Iterator[Studio]:
    with two_machines() as made:
        yield made


def shown(receiver: Talking) -> list[tuple[str, str]]:
    """Return who lit the lamp, and how, from look to look."""
    return [(fact["cid"], fact["slots"]) for fact in facts(receiver) if fact["what"] == "shown"]


def in_turn(cids: list[str]) -> list[str]:
    """Return who lit the lamp, one after the other."""
    return [cid for cid, _ in groupby(cids)]


def missed_take(machine: Machine) -> LastTake:
    """Wait until the player of a machine has a take behind it, and return what it tells a new window of it."""
    client = find_player(machine.show)
    assert client is not None
    with client:
        while client.snapshot is None or client.snapshot.last_take is None:
            assert client.next(PATIENCE_S) is not None
        return client.snapshot.last_take


def wait_for_looks(receiver: Talking, cid: str, how_many: int = 5) -> None:
    for _ in range(how_many):
        wait_for(receiver, what="shown", cid=cid)


def assert_only_goes_forward(receiver: Talking, looks: list[str]) -> None:
    """See that the lamp showed looks of the shot and nothing else, none of them twice, and was never left alone."""
    places = [looks.index(slots) for _, slots in shown(receiver)]
    assert places == sorted(set(places))
    assert not [fact for fact in facts(receiver) if fact["what"] == "dark"]


def test_where_the_first_machine_is_killed_in_a_take_the_lamp_goes_on_with_the_take_of_the_second(
    studio: Studio,
) -> None:
    receiver, takes = studio.receiver(), studio.armed("long")
    studio.start(takes)
    a, b = studio.first.cid, studio.spare.cid
    assert a != b
    wait_for_looks(receiver, a)
    takes[0].kill()
    studio.first.kill_player()
    lost = wait_for(receiver, what="lost", cid=a)
    assert lost["time_s"] - lost["heard_s"] >= 2.5
    wait_for_looks(receiver, b)
    receiver.finish()
    # While both were armed, either may have been heard first.
    assert in_turn([cid for cid, _ in shown(receiver)[1:]]) == [a, b]
    assert_only_goes_forward(receiver, studio.looks_of("long"))


def test_where_only_the_window_of_the_first_machine_is_killed_its_player_lights_the_lamp_to_the_end(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    receiver, takes = studio.receiver(), studio.armed("short")
    studio.start(takes[:1])  # the window has to be killed before the take is over
    takes[0].kill()
    looks = studio.looks_of("short")
    a, b = studio.first.cid, studio.spare.cid
    wait_for(receiver, what="shown", cid=a, slots=looks[-1])
    assert takes[1].finish() == 0, takes[1].lines
    wait_for(receiver, what="terminated", cid=b)
    receiver.finish()
    assert in_turn([cid for cid, _ in shown(receiver)[1:]]) == [a], "the last look stands, though the second is out"
    assert_only_goes_forward(receiver, looks)
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(studio.first.runtime))
    take = missed_take(studio.first)
    assert (take.was_watched, take.status in WHOLE) == (False, True)


def test_where_only_the_player_of_the_first_machine_is_killed_its_still_look_lets_the_second_go_before_it(
    studio: Studio,
) -> None:
    receiver, takes = studio.receiver(), studio.armed("long")
    studio.start(takes)
    a, b = studio.first.cid, studio.spare.cid
    wait_for_looks(receiver, a)
    studio.first.kill_player()
    takes[0].line_with("a second machine in the same take goes before it")
    wait_for_looks(receiver, b)
    so_far = shown(receiver)
    assert in_turn([cid for cid, _ in so_far[1:]]) == [a, b]
    assert_only_goes_forward(receiver, studio.looks_of("long"))
    os.kill(takes[1].number, signal.SIGINT)
    wait_for(receiver, what="terminated", cid=b)
    held = wait_for(receiver, what="shown", cid=a)
    assert held["slots"] == [slots for cid, slots in so_far if cid == a][-1], "where nobody goes before it, it is lit"
    studio.first.said("player", studio.first.show, "release")
    wait_for(receiver, what="terminated", cid=a)


CUT: dict[str, Callable[[Machine, Talking], object]] = {
    "Ctrl-C": lambda _, take: os.kill(take.number, signal.SIGINT),
    "stop": lambda first, _: first.said("player", first.show, "stop", "--take-over"),
    "quit": lambda first, _: first.said("player", first.show, "quit", "--take-over"),
    "SIGTERM": lambda first, _: first.kill_player(signal.SIGTERM),
}
"""The ways to cut the take of the first machine."""


def assert_never_dark(receiver: Talking, looks: list[str]) -> None:
    assert {slots for _, slots in shown(receiver)} <= set(looks), "a look that is not one of the shot"
    assert not [fact for fact in facts(receiver) if fact["what"] == "dark"], "no source was left"


@pytest.mark.parametrize(("cut", "is_named"), [("Ctrl-C", False), ("quit", False), ("stop", True), ("SIGTERM", True)])
def test_where_the_take_of_the_first_machine_is_cut_the_lamp_goes_over_to_the_second_without_a_dark_packet(
    studio: Studio, cut: str, is_named: bool
) -> None:
    if is_named:  # to one address, where neither hears the other
        studio.first.output = f"sacn:{THIRD},priority=100,spare=yes"
        studio.spare.output = f"sacn:{THIRD},priority=90"
    receiver, takes = studio.receiver(), studio.armed("long")
    studio.start(takes)
    a, b = studio.first.cid, studio.spare.cid
    wait_for_looks(receiver, a)
    CUT[cut](studio.first, takes[0])
    ended = wait_for(receiver, what="terminated", cid=a)
    wait_for_looks(receiver, b)
    takes[0].finish()
    receiver.finish()
    assert ended["time_s"] - ended["heard_s"] < 2.5, "it was lost, and did not end"
    assert in_turn([cid for cid, _ in shown(receiver)[1:]]) == [a, b], "the first began again"
    assert_never_dark(receiver, studio.looks_of("long"))
    assert any("the lights follow the second computer now" in line for line in takes[0].lines) or cut == "SIGTERM"


def test_a_blackout_on_the_first_machine_hands_nothing_over_before_it_is_let_go_of(studio: Studio) -> None:
    receiver, takes = studio.receiver(), studio.armed("long")
    studio.start(takes)
    a, b = studio.first.cid, studio.spare.cid
    wait_for_looks(receiver, a)
    studio.first.said("player", studio.first.show, "blackout")
    dark = wait_for(receiver, what="shown", cid=a, slots="00" * SLOTS)
    os.kill(takes[0].number, signal.SIGINT)
    takes[0].finish()
    assert "BLACKOUT" in studio.first.said("player", studio.first.show)
    studio.first.said("player", studio.first.show, "release")
    ended = wait_for(receiver, what="terminated", cid=a)
    wait_for_looks(receiver, b)
    receiver.finish()
    meanwhile = [fact for fact in facts(receiver) if dark["time_s"] < fact["time_s"] < ended["time_s"]]
    assert not [fact for fact in meanwhile if fact["what"] == "shown"], "the lamp was lit in a blackout"


def test_a_look_that_is_held_at_the_end_goes_over_to_the_second_machine_when_it_is_released(studio: Studio) -> None:
    file = studio.first.show / "show.yaml"
    file.write_text(file.read_text().replace("slots:", "on stop: hold\nslots:", 1))
    receiver, takes = studio.receiver(), studio.armed("long")
    studio.start(takes)
    a, b = studio.first.cid, studio.spare.cid
    wait_for_looks(receiver, a)
    os.kill(takes[0].number, signal.SIGINT)
    takes[0].finish()
    assert not [fact for fact in facts(receiver) if fact["what"] == "terminated"]
    studio.first.said("player", studio.first.show, "release")
    wait_for(receiver, what="terminated", cid=a)
    wait_for_looks(receiver, b)
    receiver.finish()
    assert in_turn([cid for cid, _ in shown(receiver)[1:]]) == [a, b]
    assert_never_dark(receiver, studio.looks_of("long"))
