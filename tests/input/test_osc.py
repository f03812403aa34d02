"""OSC over real UDP sockets, on 127.0.0.1 only: who is heard, what is done, what is counted."""

from __future__ import annotations

import math
import random
import socket
import sys
import threading

import pytest

from cuedeck.clock import ManualClock
from cuedeck.input.axis import AxisFollower
from cuedeck.input.base import InputUnusable
from cuedeck.input.osc import OscServer, Outcome
from cuedeck.show.floor import OscListening
from cuedeck.show.model import Cue
from tests.input.takes import Asked
from tests.input.test_osc_messages import bundle, damaged, datagram

WAIT_S = 10
HERE = "127.0.0.1"


def listening(**more: object) -> OscListening:
    """Return where to listen: on a port that the system picks, which a show cannot ask for."""
    return OscListening.model_validate({**more}).model_copy(update={"port": 0})


def listener(take: Asked, *, armed: bool = True, follower: AxisFollower | None = None, **more: object) -> OscServer:
    return OscServer(listening(**more), take, ("4", "1.10", "go"), waits_for_start=armed, follower=follower)


def send(where: tuple[str, int], raw: bytes) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.bind((HERE, 0))
        sender.sendto(raw, where)


def counted(one: OscServer) -> dict[str, int]:
    return {fate.name: count for fate, count in one.counts.items()}


def test_a_datagram_from_the_network_starts_the_take() -> None:
    take = Asked(is_rolling=False)
    with listener(take) as osc:
        send(osc.address, datagram("/cuedeck/start"))
        assert take.has_been_asked.wait(WAIT_S)
    assert take.asked == ["start"]
    assert str(osc) == "1 taken"


def test_by_default_it_listens_to_this_computer_alone() -> None:
    with listener(Asked()) as osc:
        assert osc.address[0] == HERE
    assert OscListening().allow == [HERE]


def test_after_thousands_of_damaged_datagrams_it_still_listens(capfd: pytest.CaptureFixture[str]) -> None:
    take = Asked()
    dice = random.Random(4)  # noqa: S311 - the same damage every time
    with listener(take) as osc, socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        for number in range(4_000):
            sender.sendto(damaged(dice), osc.address)
            if number % 50 == 0:  # no more than fits into the buffer of the system: each is to be read
                take.has_been_asked.clear()
                sender.sendto(datagram("/cuedeck/cue", "go"), osc.address)
                assert take.has_been_asked.wait(WAIT_S)
        names = {thread.name for thread in threading.enumerate()}
    assert "osc" in names
    assert osc.counts[Outcome.MALFORMED] > 1_000
    assert osc.counts[Outcome.UNKNOWN] > 50
    assert capfd.readouterr() == ("", "")


def test_a_sender_who_is_not_allowed_is_counted_and_ignored() -> None:
    take = Asked()
    osc = listener(take, allow=["192.0.2.7"])
    osc.handle(datagram("/cuedeck/cue", 4), HERE)
    osc.handle(b"nonsense", HERE)
    assert (take.asked, counted(osc)) == ([], {"NOT_ALLOWED": 2})
    osc.handle(datagram("/cuedeck/cue", 4), "192.0.2.7")
    assert take.asked == ["cue 4"]
    assert str(osc) == "1 taken; 2 from senders that are not allowed"


def test_a_sender_on_this_computer_is_ignored_too_where_only_another_is_allowed() -> None:
    take = Asked()
    with listener(take, allow=["192.0.2.7"]) as osc:
        send(osc.address, datagram("/cuedeck/start"))
        for _ in range(WAIT_S * 100):
            if osc.counts:
                break
            threading.Event().wait(0.01)
    assert (take.asked, counted(osc)) == ([], {"NOT_ALLOWED": 1})


@pytest.mark.parametrize(("number", "name"), [(4, "4"), (4.0, "4"), ("4", "4"), ("1.10", "1.10"), ("go", "go")])
def test_a_cue_is_named_by_a_number_or_a_text(number: float | str, name: str) -> None:
    take = Asked()
    osc = listener(take)
    osc.handle(datagram("/cuedeck/cue", number), HERE)
    assert take.asked == [f"cue {name}"]


def test_what_is_out_of_place_is_counted_and_not_done() -> None:
    take = Asked()
    osc = listener(take, armed=False)
    for raw in (datagram("/cuedeck/start"), datagram("/cuedeck/cue", 9), datagram("/cuedeck/axis", "slide", 5.0)):
        osc.handle(raw, HERE)
    take.is_rolling = False
    osc.handle(datagram("/cuedeck/cue", 4), HERE)
    assert (take.asked, counted(osc)) == ([], {"OUT_OF_PLACE": 4})


def test_a_take_starts_once() -> None:
    take = Asked(is_rolling=False)
    osc = listener(take)
    for _ in range(3):
        osc.handle(datagram("/cuedeck/start"), HERE)
    assert (take.asked, counted(osc)) == (["start"], {"TAKEN": 1, "OUT_OF_PLACE": 2})


@pytest.mark.parametrize(
    "raw",
    [
        datagram("/cuedeck/start", 1),
        datagram("/cuedeck/cue"),
        datagram("/cuedeck/cue", 1, 2),
        datagram("/cuedeck/axis", "slide"),
        datagram("/cuedeck/axis", 1.0, "slide"),
    ],
)
def test_wrong_arguments_are_malformed(raw: bytes) -> None:
    take = Asked()
    osc = listener(take)
    osc.handle(raw, HERE)
    assert (take.asked, counted(osc)) == ([], {"MALFORMED": 1})


def test_an_address_is_no_pattern_and_one_that_is_not_known_is_counted() -> None:
    take = Asked(is_rolling=False)
    osc = listener(take)
    for address in ("/cuedeck/*", "/cuedeck/{start,hold}", "/cuedeck/stop", "/", "/CUEDECK/START"):
        osc.handle(datagram(address), HERE)
    assert (take.asked, counted(osc)) == ([], {"UNKNOWN": 5})


def test_a_hold_holds_lets_go_or_does_the_other_of_the_two() -> None:
    take = Asked()
    osc = listener(take)
    for arguments in ((), (1,), (0,), ("soon",), (2,)):
        osc.handle(datagram("/cuedeck/hold", *arguments), HERE)
    assert (take.asked, counted(osc)) == (["hold", "hold True", "hold False"], {"TAKEN": 3, "MALFORMED": 2})


def test_a_hold_before_the_take_rolls_is_out_of_place() -> None:
    take = Asked(is_rolling=False)
    osc = listener(take)
    osc.handle(datagram("/cuedeck/hold"), HERE)
    assert (take.asked, counted(osc)) == ([], {"OUT_OF_PLACE": 1})


def test_the_messages_of_a_bundle_are_done_in_order() -> None:
    take = Asked()
    osc = listener(take)
    osc.handle(bundle(datagram("/cuedeck/cue", "go"), datagram("/cuedeck/oh"), datagram("/cuedeck/cue", 4)), HERE)
    assert (take.asked, counted(osc)) == (["cue go", "cue 4"], {"TAKEN": 2, "UNKNOWN": 1})


def test_an_axis_fires_the_cue_that_it_passes() -> None:
    take = Asked()
    cues = [Cue.model_validate({"cue": "7", "at": "slide 60 mm", "look": "any"})]
    osc = listener(take, follower=AxisFollower(cues, take, ManualClock(), print))
    for position in (50.0, 59, 60.5):
        osc.handle(datagram("/cuedeck/axis", "slide", position), HERE)
    assert take.asked == ["cue 7"]
    osc.handle(datagram("/cuedeck/axis", "pan", 1.0), HERE)
    for odd in (math.nan, math.inf, -1e30):
        osc.handle(datagram("/cuedeck/axis", "slide", odd), HERE)
    assert counted(osc) == {"TAKEN": 3, "OUT_OF_PLACE": 1, "MALFORMED": 3}


def test_a_port_that_is_taken_is_refused_with_a_cure() -> None:
    with listener(Asked()) as osc:
        port = osc.address[1]
        other = OscServer(OscListening(port=port), Asked(), (), waits_for_start=True)
        with pytest.raises(InputUnusable, match=f"OSC cannot be listened for on 127.0.0.1:{port}: .*in use"):
            other.__enter__()
        other.close()


def test_an_address_of_another_computer_is_refused() -> None:
    osc = OscServer(OscListening(bind="192.0.2.7", allow=[HERE]), Asked(), (), waits_for_start=True)
    with pytest.raises(InputUnusable, match="write a free port, or an address of this computer"):
        osc.open()


def test_without_python_osc_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [name for name in sys.modules if name.startswith("pythonosc")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "pythonosc", None)
    with pytest.raises(InputUnusable, match=r"pip install 'cuedeck\[osc\]'"):
        listener(Asked()).open()


def test_closing_twice_and_without_having_opened_is_safe() -> None:
    osc = listener(Asked())
    osc.close()
    with osc:
        osc.close()
