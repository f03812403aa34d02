"""Streaming ACN on a network, to receivers that are not ours or are written from the standard alone."""

from __future__ import annotations

import json
import os
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random
from uuid import UUID

import pytest
import sacn

from cuedeck.output.base import Line
from cuedeck.output.e131 import SacnSource
from cuedeck.output.sacn import Destination, Sacn
from tests.output.namespace import ADDRESS, FAR_ADDRESS, INTERFACE, NETWORK, Namespace, Talking, namespace
from tests.output.ports import packet

RECEIVER, LIBRARY, SOURCE = (
    f"tests.output.{name}" for name in ("sacn_receiver", "sacn_library_receiver", "sacn_source")
)
MAIN, SPARE = "main", "spare"


@pytest.fixture
def network() -> Iterator[Namespace]:
    with namespace() as made:
        yield made


def identity(state: Path) -> str:
    """Return the CID that a source with this folder of states has."""
    return UUID((state / "cuedeck" / "sacn-cid").read_text().strip()).hex


def source(network: Namespace, target: str, state: Path, *options: str) -> Talking:
    """Start a source that is an installation of its own, and wait until it sends."""
    started = network.python(SOURCE, target, *options, environment={"XDG_STATE_HOME": str(state)})
    started.line_with("sending")
    return started


def listening(network: Namespace, *options: str) -> Talking:
    """Start a receiver, and wait until it listens."""
    receiver = network.python(RECEIVER, *options)
    receiver.line_with("ready")
    return receiver


def facts(receiver: Talking) -> list[dict]:
    return [json.loads(line) for line in receiver.lines if line.startswith("{")]


def wait_for(receiver: Talking, **wanted: object) -> dict:
    """Wait for a fact with these values."""

    def is_wanted(line: str) -> bool:
        return line.startswith("{") and json.loads(line).items() >= wanted.items()

    return json.loads(receiver.line(is_wanted, str(wanted)))


@pytest.mark.parametrize("interface", [INTERFACE, ADDRESS, "lo"])
def test_each_universe_reaches_those_who_joined_its_group(network: Namespace, tmp_path: Path, interface: str) -> None:
    """ANSI E1.31-2018, clause 9.1.1: 239.255, high byte, low byte [source seen]; 255, 256 and 257 are the trap."""
    universes = [1, 255, 256, 257, 510, 63_999]
    local = "127.0.0.1" if interface == "lo" else ADDRESS
    apart = [listening(network, "--interface", local, str(universe)) for universe in universes]
    listed = ",".join(map(str, universes))
    one = source(network, f"sacn,interface={interface}", tmp_path, "--universes", listed, "--level", "77")
    for universe, receiver in zip(universes, apart, strict=True):
        wait_for(receiver, what="shown", universe=universe, level=77)
    one.finish()
    for universe, receiver in zip(universes, apart, strict=True):
        wait_for(receiver, what="terminated", universe=universe)
        receiver.finish()
        assert {fact["universe"] for fact in facts(receiver)} == {universe}, "it heard a group that it did not join"


def test_without_an_interface_it_leaves_by_the_only_way_there_is(network: Namespace, tmp_path: Path) -> None:
    network.run("ip", "route", "add", "default", "dev", INTERFACE)
    receiver = listening(network, "--interface", ADDRESS, "1")
    source(network, "sacn", tmp_path, "--level", "5")
    wait_for(receiver, what="shown", level=5)


def test_without_any_network_it_says_so(network: Namespace, tmp_path: Path) -> None:
    network.run("ip", "link", "set", INTERFACE, "down")
    one = network.python(SOURCE, "sacn", environment={"XDG_STATE_HOME": str(tmp_path)})
    one.line_with("sacn cannot be opened: no network leads there: plug it in")


def test_a_network_that_goes_is_told_and_one_that_comes_back_is_used(network: Namespace, tmp_path: Path) -> None:
    receiver = listening(network, "--interface", ADDRESS, "1")
    one = source(network, f"sacn,interface={INTERFACE}", tmp_path)
    network.run("ip", "link", "set", INTERFACE, "down")
    told = one.line_with("lost: ")
    assert f"sacn,interface={INTERFACE} was lost: " in told
    assert "plug it in" in told or "look at the cable" in told
    network.run("ip", "link", "set", INTERFACE, "up")
    one.line_with("back")
    wait_for(receiver, what="shown")


OUTAGES = int(os.environ.get("CUEDECK_OUTAGES", "2"))
"""How many more a source has after the longest one, of random lengths."""
AWAY = {
    "the interface": (("link", "set", INTERFACE, "down"), ("link", "set", INTERFACE, "up")),
    "its address": (
        ("addr", "del", f"{ADDRESS}/24", "dev", INTERFACE),
        ("addr", "add", f"{ADDRESS}/24", "dev", INTERFACE),
    ),
    "the route": (("route", "del", f"{NETWORK}/24"), ("route", "add", f"{NETWORK}/24", "dev", INTERFACE)),
}
"""What may be away, and what takes it away and brings it back."""


@pytest.mark.parametrize("what", AWAY)
@pytest.mark.parametrize("target", [f"sacn,interface={INTERFACE}", f"sacn:{FAR_ADDRESS}"])
def test_a_source_that_is_away_for_two_seconds_is_heard_again_before_it_is_given_up(
    network: Namespace, tmp_path: Path, target: str, what: str
) -> None:
    """ANSI E1.31-2018, appendix A: E131_NETWORK_DATA_LOSS_TIMEOUT is 2.5 s [source seen]."""
    far = network.far_end()
    receiver = listening(far, *(("--interface", FAR_ADDRESS) if ":" not in target else ()), "1")
    source(network, target, tmp_path, "--outlet")
    wait_for(receiver, what="shown")
    luck = Random(f"{target} {what}")  # noqa: S311 - the same every time
    away, back = AWAY[what]
    lengths_s = [2.0, *(luck.uniform(0.5, 2.0) for _ in range(OUTAGES))]
    for length_s in lengths_s:
        began_s = time.monotonic()
        network.run("ip", *away)
        time.sleep(max(0.0, began_s + length_s - time.monotonic()))  # it is the length of what is tried
        network.run("ip", *back)
        lasted_s = time.monotonic() - began_s
        shown = wait_for(receiver, what="shown")
        while shown["time_s"] < began_s + lasted_s:
            shown = wait_for(receiver, what="shown")
        if lasted_s < 2.2:  # where this computer was busy, it was away for longer than was asked
            assert not [fact for fact in facts(receiver) if fact["what"] in ("lost", "dark")], receiver.lines[-3:]


def test_while_its_network_is_away_the_light_does_not_wander_to_another(network: Namespace, tmp_path: Path) -> None:
    network.run("ip", "link", "add", "office", "type", "veth", "peer", "name", "hall")
    network.run("ip", "link", "set", "hall", "up")
    network.run("ip", "addr", "add", "198.51.100.1/24", "dev", "office")
    network.run("ip", "link", "set", "office", "up")
    studio = ("ip", "route", "add", "default", "dev", INTERFACE, "metric", "1")
    network.run(*studio)
    network.run("ip", "route", "add", "default", "dev", "office", "metric", "2")
    receiver = listening(network.far_end(), "--interface", FAR_ADDRESS, "1")
    one = source(network, "sacn", tmp_path, "--outlet")
    wait_for(receiver, what="shown")
    network.run("ip", "link", "set", INTERFACE, "down")
    one.line_with("sacn was lost: ")
    time.sleep(1)  # it is tried again some ten times meanwhile, and the office would do
    network.run("ip", "link", "set", INTERFACE, "up")
    network.run(*studio)
    one.line_with("sacn is back")
    since_s = time.monotonic()
    while wait_for(receiver, what="shown")["time_s"] < since_s:
        pass


def test_a_general_library_hears_it_by_multicast(network: Namespace, tmp_path: Path) -> None:
    receiver = network.python(LIBRARY, ADDRESS, "1", "256")
    receiver.line_with("ready")
    target = f"sacn,interface={INTERFACE},priority=150,name=Harröw"
    one = source(network, target, tmp_path, "--universes", "1,256", "--level", "200")
    for universe in (1, 256):
        heard = wait_for(receiver, universe=universe, level=200)
        expected = {"universe": universe, "level": 200, "priority": 150, "name": "Harröw", "cid": identity(tmp_path)}
        assert heard == expected
    one.finish()
    wait_for(receiver, universe=256, changed="timeout")


def test_a_general_library_hears_it_by_unicast() -> None:
    """On 127.0.0.1, in this process: every slot of every packet, then the end."""
    heard: list[tuple[int, ...]] = []
    changes: list[str] = []
    there, ended = threading.Semaphore(0), threading.Event()

    def hear(one: sacn.DataPacket) -> None:
        heard.append(one.dmxData)
        there.release()

    def change(universe: int, changed: str) -> None:
        changes.append(f"{universe} {changed}")
        if changed == "timeout":
            ended.set()

    receiver = sacn.sACNreceiver(bind_port=0)
    receiver._handler.socket._socket.close()  # on Linux it listens to every network, whatever it is told
    receiver._handler.socket._socket = here = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    here.bind(("127.0.0.1", 0))
    receiver.register_listener("universe", hear, universe=7)
    receiver.register_listener("availability", change)
    receiver.start()
    output = Sacn(SacnSource(UUID(int=1), "harrow"), Destination("127.0.0.1", here.getsockname()[1]))
    try:
        output.open(Line((7,), 512, 44.0))
        for number in range(5):
            output.send(packet(number))
            assert there.acquire(timeout=60)
        output.close()
        assert ended.wait(60)
    finally:
        receiver.stop()
    assert heard == [tuple(packet(number).slots[0].tolist()) for number in range(5)]
    assert changes[:2] == ["7 available", "7 timeout"]


def test_a_receiver_holds_the_light_of_a_killed_source_and_then_has_that_of_the_spare(
    network: Namespace, tmp_path: Path
) -> None:
    """ANSI E1.31-2018, 6.7.1 and appendix A: 2.5 s; 6.2.3: the highest priority [source seen]."""
    receiver = listening(network, "--interface", ADDRESS, "1")
    main = source(network, f"sacn,interface={INTERFACE},priority=100", tmp_path / MAIN, "--level", "100")
    spare = source(network, f"sacn,interface={INTERFACE},priority=90", tmp_path / SPARE, "--level", "90")
    a, b = identity(tmp_path / MAIN), identity(tmp_path / SPARE)
    assert a != b
    wait_for(receiver, what="shown", cid=a, level=100)
    wait_for(receiver, what="heard", cid=b)
    main.kill()
    lost = wait_for(receiver, what="lost", cid=a)
    assert lost["time_s"] - lost["heard_s"] >= 2.5
    wait_for(receiver, what="shown", cid=b, level=90)
    spare.finish()
    wait_for(receiver, what="terminated", cid=b)
    receiver.finish()
    shown = [(fact["cid"], fact["level"]) for fact in facts(receiver) if fact["what"] == "shown"]
    assert shown == [(a, 100), (b, 90)]
    first_dark = next(fact for fact in facts(receiver) if fact["what"] == "dark")
    assert first_dark["cid"] == b, "there was a source at all times, until the last one ended"


def test_the_receiver_of_a_general_library_goes_over_to_the_spare_too(network: Namespace, tmp_path: Path) -> None:
    receiver = network.python(LIBRARY, ADDRESS, "1")
    receiver.line_with("ready")
    main = source(network, f"sacn,interface={INTERFACE},priority=100", tmp_path / MAIN)
    source(network, f"sacn,interface={INTERFACE},priority=90", tmp_path / SPARE)
    a, b = identity(tmp_path / MAIN), identity(tmp_path / SPARE)
    wait_for(receiver, cid=a, priority=100)
    main.kill()
    wait_for(receiver, cid=b, priority=90)
    told = facts(receiver)
    sources = [fact["cid"] for fact in told if "cid" in fact]
    went_over = len(sources) - 1
    # The library takes what comes first, before it knows of a higher priority.
    assert set(sources[sources.index(a) : went_over]) == {a}
    assert not [fact for fact in told if fact.get("changed") == "timeout"], "the universe was never without a source"


def test_the_spare_takes_over_at_once_where_the_first_says_that_it_ends(network: Namespace, tmp_path: Path) -> None:
    receiver = listening(network, "--interface", ADDRESS, "1")
    main = source(network, f"sacn,interface={INTERFACE},priority=100", tmp_path / MAIN, "--level", "100")
    source(network, f"sacn,interface={INTERFACE},priority=90", tmp_path / SPARE, "--level", "90")
    a, b = identity(tmp_path / MAIN), identity(tmp_path / SPARE)
    wait_for(receiver, what="heard", cid=b)
    main.finish()
    wait_for(receiver, what="terminated", cid=a)
    wait_for(receiver, what="shown", cid=b, level=90)
    assert not [fact for fact in facts(receiver) if fact["what"] in ("lost", "dark")]


def test_a_receiver_with_synchronisation_shows_all_universes_of_a_packet(network: Namespace, tmp_path: Path) -> None:
    """ANSI E1.31-2018, clause 11.1 [source seen]: the group of the synchronisation address is that of a universe."""
    receiver = listening(network, "--interface", ADDRESS, "3", "4")
    source(network, f"sacn,interface={INTERFACE}", tmp_path, "--universes", "3,4", "--packets", "30").line_with("ended")
    wait_for(receiver, what="terminated", universe=4)
    levels = {
        universe: [
            fact["level"] for fact in facts(receiver) if fact["what"] == "shown" and fact["universe"] == universe
        ]
        for universe in (3, 4)
    }
    assert levels[3] == levels[4] == list(range(30))


def test_these_tests_leave_no_process_behind(network: Namespace) -> None:
    one = network.python(SOURCE, "sacn:127.0.0.1")
    one.line_with("sending")
    assert one.finish() == 0
    with pytest.raises(ProcessLookupError):
        os.kill(one.number, 0)
