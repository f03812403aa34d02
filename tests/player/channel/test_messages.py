"""What player and clients say to each other: whole and in bounds, or refused."""

from __future__ import annotations

import base64
import json
import random
import zlib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.bench.fuzz_inputs import GOOD_REQUESTS, fuzzed_line
from cuedeck.player.channel.events import (
    AnyEvent,
    Done,
    Ended,
    LastTake,
    Notice,
    OutputState,
    Refused,
    Snapshot,
    Welcome,
    event_in,
    packed,
    unpacked,
)
from cuedeck.player.channel.handshake import (
    ANSWER_LENGTH,
    GREETING_LENGTH,
    PROOF_LENGTH,
    ClientProof,
    PlayerProof,
    Stranger,
)
from cuedeck.player.channel.message import LONGEST_WORDS, MOST_TOLD, MOST_UNIVERSES, BadMessage
from cuedeck.player.channel.requests import (
    AnyRequest,
    Begin,
    Quit,
    Reload,
    ShowLook,
    packed_texts,
    request_in,
    unpacked_texts,
)

OUTPUT = OutputState(
    name="sACN universe 1", is_lost=True, why="the network is down", refresh_hz=43.9, sent=1200, missed=3
)
EVENTS: list[AnyEvent] = [
    Done(id=1),
    Refused(id=2, what="there is no shot 9; the show has 1 and 2"),
    Welcome(client=1, version=1),
    Snapshot(state="idle"),
    Snapshot(
        state="running",
        is_blacked_out=True,
        has_control=True,
        controller=3,
        shot="1",
        slate="1-C",
        counting_s=2.5,
        packet=-1,
        packet_count=440,
        time_s=1,
        next_cue="4",
        is_held=True,
        chased="LTC 01:00:04:12",
        fired=(("2", 88), ("3", 132)),
        outputs=(OUTPUT,),
        late_ms=0.2,
        last_take=LastTake(slate="1-B", status="cut", was_watched=False),
        show_problem="show.yaml, line 3: there is no look 'egdes'",
        priority="real time, 20",
        universes=(1, 2),
        slots=packed(bytes(range(256)) * 4),
    ),
    Notice(text="the serial line is back"),
    Ended(take=3, slate="1-C", was_cut=True, missed=2, lost={"line": "unplugged"}, told=("x",), outputs=(OUTPUT,)),
]
GOOD_BEGIN = json.loads(Begin(shot="1", to=("simulator",)).to_line())


@pytest.mark.parametrize("request_", GOOD_REQUESTS, ids=lambda request: request.ask)
def test_a_request_comes_through_as_it_was(request_: AnyRequest) -> None:
    line = request_.to_line()
    assert line.count(b"\n") == 1
    assert line.endswith(b"}\n")
    assert line.startswith(b'{"ask":"%s"' % request_.ask.encode())
    assert request_in(line) == request_


@pytest.mark.parametrize("event", EVENTS, ids=lambda event: event.event)
def test_what_the_player_says_comes_through_as_it_was(event: AnyEvent) -> None:
    line = event.to_line()
    assert line.count(b"\n") == 1
    assert event_in(line) == event


def test_only_what_takes_time_is_slow() -> None:
    assert {type(request) for request in GOOD_REQUESTS if not request.is_immediate} == {Begin, ShowLook, Reload, Quit}


def test_slots_are_base64_in_either_alphabet() -> None:
    slots = bytes([255, 254, 253, 252] * 128)
    words = {"ask": "show", "to": ["simulator"], "universes": [1]}
    for text in (base64.b64encode(slots), base64.urlsafe_b64encode(slots)):
        request = request_in(json.dumps({**words, "slots": text.decode()}).encode())
        assert request == ShowLook(to=("simulator",), universes=(1,), slots=slots)


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"nonsense": 1}, "begin.nonsense: there is no such field"),
        ({"shot": 1}, "begin.shot"),
        ({"shot": "x" * 201}, "begin.shot"),
        ({"count_s": "5"}, "begin.count_s"),
        ({"count_s": 5.0}, "begin.count_s"),
        ({"count_s": 3601}, "begin.count_s"),
        ({"count_s": -1}, "begin.count_s"),
        ({"count_s": True}, "begin.count_s"),
        ({"attended": 1}, "begin.attended"),
        ({"from_packet": 2**53}, "begin.from_packet"),
        ({"to": "simulator"}, "begin.to"),
        ({"to": ["x"] * 65}, "begin.to"),
        ({"to": ["x" * 4097]}, "begin.to.0"),
        ({"chase": []}, "begin.chase"),
        ({"id": -1}, "begin.id"),
        ({"texts": {"show.yaml": ""}}, "begin: a take is of the show as it is saved"),
        ({"texts": {"show.yaml": 1}}, "begin.texts.show.yaml"),
        ({"texts": {"show.yaml": "é"}}, "begin.texts.show.yaml: this is no base64"),
        ({"texts": {"../show.yaml": ""}}, "begin.texts: this leads out of the show folder"),
        ({"texts": {"moves/../../x.csv": ""}}, "begin.texts: this leads out"),
        ({"texts": {"/etc/passwd": ""}}, "begin.texts: this leads out"),
        ({"texts": {"..\\x": ""}}, "begin.texts: this leads out"),
        ({"texts": {str(n): "" for n in range(1_001)}}, "begin.texts: 1000 is the most"),
        ({"ask": "dance"}, "dance"),
        ({"ask": None}, "this is no message"),
    ],
)
def test_a_request_out_of_its_bounds_is_refused_and_told_where(changes: dict[str, Any], where: str) -> None:
    with pytest.raises(BadMessage) as caught:
        request_in(json.dumps({**GOOD_BEGIN, **changes}).encode())
    assert where in str(caught.value)


@pytest.mark.parametrize("missing", ["ask", "shot", "to"])
def test_what_is_needed_is_asked_for(missing: str) -> None:
    with pytest.raises(BadMessage):
        request_in(json.dumps({key: value for key, value in GOOD_BEGIN.items() if key != missing}).encode())


@pytest.mark.parametrize(
    ("universes", "count"), [((1,), 511), ((1,), 1024), ((1, 1), 1024), ((0,), 512), ((64_000,), 512), ((), 512)]
)
def test_slots_that_do_not_fit_their_universes_are_refused(universes: tuple[int, ...], count: int) -> None:
    with pytest.raises(BadMessage):
        ShowLook(to=(), universes=universes, slots=bytes(count))


def test_only_slots_make_a_long_request() -> None:
    most = ShowLook(to=(), universes=tuple(range(1, MOST_UNIVERSES + 1)), slots=bytes(512 * MOST_UNIVERSES))
    assert Quit.longest < len(most.to_line()) <= ShowLook.longest
    assert request_in(most.to_line()) == most
    with pytest.raises(BadMessage, match="too long; 1048576 is the most"):
        request_in(most.to_line() + b" " * ShowLook.longest)
    with pytest.raises(BadMessage, match="too long; 65536 is the most"):
        request_in(Quit().to_line() + b" " * Quit.longest)
    with pytest.raises(BadMessage, match="too long; 65536 is the most"):
        request_in(b" " + most.to_line())


def test_texts_of_a_show_come_through_as_they_were_edited_and_in_bounds() -> None:
    """Several MB of moves fit; more than a line may carry is refused before it is sent."""
    chance = random.Random(3)  # noqa: S311 - no secret
    move = "\n".join(f"{n / 100},{chance.uniform(0, 900):.3f}" for n in range(400_000))
    edited = {"show.yaml": "title: Ünïcode\r\n", "moves/slide-in.csv": move}
    begin = Begin(shot="1", to=(), is_rehearsal=True, texts=packed_texts(edited))
    assert len(move) > 5_000_000
    assert len(begin.to_line()) <= Begin.longest
    read = request_in(begin.to_line())
    assert isinstance(read, Begin)
    assert {name: text.decode() for name, text in unpacked_texts(read.texts).items()} == edited
    with pytest.raises(BadMessage, match="save it, and run it then"):
        begin.changed(texts={str(n): chance.randbytes(1_000_000) for n in range(9)})
    swollen = Begin(shot="1", to=(), is_rehearsal=True, texts=packed_texts({"x": " " * 16_000_001}))
    for spoilt in (swollen.texts, {"x": b"no zlib"}, {"x": begin.texts["moves/slide-in.csv"][:-9]}):
        with pytest.raises(ValueError, match="these are no packed bytes"):
            unpacked_texts(spoilt)


def test_words_of_the_player_are_cut_and_never_stop_it() -> None:
    assert Notice(text="x" * 5000).text == "x" * (LONGEST_WORDS - 1) + "…"
    told = Notice(text="the file \udcff.wav")
    assert event_in(told.to_line()) == Notice(text="the file ?.wav")
    ended = Ended(take=1, slate="1-A", told=("lost", "back") * 2000)
    assert ended.told == ("lost", "back") * (MOST_TOLD // 2)
    assert event_in(ended.to_line()) == ended
    assert event_in(Snapshot(state="x", fired=(("c" * 3000, 1),)).to_line())


def test_a_message_does_not_change() -> None:
    with pytest.raises(AttributeError):
        Done(id=1).id = 2  # type: ignore[misc]


@given(st.integers(0, 4), st.binary(min_size=512, max_size=512))
def test_slots_come_out_as_they_were_packed(count: int, universe: bytes) -> None:
    assert unpacked(packed(universe * count)) == universe * count


@pytest.mark.parametrize(
    "slots", [b"x", packed(bytes(512))[:-3], packed(bytes(511)), zlib.compress(bytes(512 * (MOST_UNIVERSES + 1)))]
)
def test_slots_that_are_spoilt_or_swell_without_end_are_refused(slots: bytes) -> None:
    with pytest.raises(ValueError, match="these are no"):
        unpacked(slots)


def test_80_000_spoilt_requests_are_requests_or_refused() -> None:
    chance = random.Random(1)  # noqa: S311 - no secret
    understood = longest_words = 0
    for _ in range(80_000):
        line = fuzzed_line(chance)
        try:
            request = request_in(line)
        except BadMessage as refusal:
            longest_words = max(longest_words, len(str(refusal)))
        else:
            understood += 1
            assert request_in(request.to_line()) == request
    assert 0 < longest_words < 500
    assert 1_000 < understood < 40_000


def test_20_000_spoilt_handshakes_are_strangers() -> None:
    chance = random.Random(2)  # noqa: S311 - no secret
    for number in range(20_000):
        player, client = PlayerProof("00ff"), ClientProof("00ff")
        good = client.answer_to(player.greeting)
        at = chance.randrange(len(good))
        spoilt = good[:at] + chance.randbytes(chance.choice((0, 1, 2))) + good[at + 1 :]
        if spoilt != good:
            with pytest.raises(Stranger):
                player.answer_to(spoilt if number % 2 else fuzzed_line(chance))
        with pytest.raises(Stranger):
            client.check(spoilt)


def test_a_spoilt_greeting_is_a_stranger() -> None:
    for greeting in (b"", b"cuedeck\n", PlayerProof("00ff").greeting.replace(b"deck 0", b"deck 1"), b"\xff" * 200):
        with pytest.raises(Stranger):
            ClientProof("00ff").answer_to(greeting)


def test_both_sides_know_each_other_by_the_secret_alone() -> None:
    player, client = PlayerProof("00ff"), ClientProof("00ff")
    answer = client.answer_to(player.greeting)
    proof = player.answer_to(answer)
    client.check(proof)
    assert (len(player.greeting), len(answer), len(proof)) == (GREETING_LENGTH, ANSWER_LENGTH, PROOF_LENGTH)
    with pytest.raises(Stranger):
        PlayerProof("00ff").answer_to(answer)  # said before, to another number
    with pytest.raises(Stranger):
        player.answer_to(ClientProof("00fe").answer_to(player.greeting))
    with pytest.raises(Stranger):
        client.check(answer[-PROOF_LENGTH:])  # its own proof, sent back
