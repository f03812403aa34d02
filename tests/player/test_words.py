"""What is said of the player: each text once."""

from __future__ import annotations

import pytest

from cuedeck.output.tally import Tally
from cuedeck.player import words
from cuedeck.player.channel.events import Ended, LastTake, OutputState, Snapshot
from cuedeck.player.take.report import not_there, output_state

ROLLING = Snapshot(
    state="rolling",
    shot="1",
    slate="1-C",
    packet=40,
    packet_count=161,
    time_s=1.0,
    late_ms=0.2,
    controller=1,
    has_control=True,
    outputs=(OutputState(name="serial:/dev/line", refresh_hz=43.96), OutputState(name="sacn")),
)


def now(**others: object) -> Snapshot:
    return ROLLING.changed(**others)


@pytest.mark.parametrize(
    ("snapshot", "text"),
    [
        (Snapshot(state="idle"), "player sends nothing"),
        (Snapshot(state="holding", is_lit=True), "player holds a look"),
        (Snapshot(state="holding"), "player holds the lights out"),
        (Snapshot(state="holding", is_blacked_out=True), "BLACKOUT · player holds a look"),
        (Snapshot(state="faulted"), "player BROKE, the light is held"),
        (ROLLING, "take 1-C rolls 1.0/4.0 s"),
        (now(waits_for="4"), "take 1-C waits for cue 4 · 1.0 s"),
        (now(slate=""), "rehearsal rolls 1.0/4.0 s"),
        (now(state="holding", is_held=True), "take 1-C held at 1.0/4.0 s"),
        (now(state="holding"), "take 1-C is over"),
        (now(state="counting", counting_s=2.14), "take 1-C starts in 2.1 s"),
        (now(state="standing by"), "take 1-C stands by"),
        (now(packet=0, time_s=0.0), "take 1-C rolls 0.0 s"),
        (now(chased="01:00:00:12 runs"), "take 1-C rolls 1.0/4.0 s · 01:00:00:12 runs"),
        (now(log_problem="it is locked"), "take 1-C rolls 1.0/4.0 s · log: it is locked"),
    ],
)
def test_what_the_player_does(snapshot: Snapshot, text: str) -> None:
    assert words.state_text(snapshot) == text


def test_a_log_that_cannot_be_written_alarms() -> None:
    assert not words.is_alarming(ROLLING)
    assert words.is_alarming(now(log_problem="it is locked"))


def test_outputs_lateness_and_control_in_shorter_and_shorter_texts() -> None:
    assert words.right_texts(ROLLING)[0] == "serial:/dev/line 44.0 Hz · sacn · on time · control here"
    assert words.right_texts(ROLLING)[1] == "serial 44, sacn 0 Hz · on time · control here"
    assert words.right_texts(ROLLING)[2:4] == ("2 outputs · on time · control here", "2 outputs · control here")
    assert words.right_texts(ROLLING)[-1] == ""


def test_outputs_of_one_kind_are_told_apart_where_room_is_short() -> None:
    """By the end of their names."""
    names = ("serial:/dev/line0", "serial:/dev/line1", "sacn:127.0.0.1")
    outputs = [OutputState(name=name, is_lost=name[-1] == "1", refresh_hz=44) for name in names]
    assert words.short_outputs_text(outputs) == "serial line0 44, serial line1 LOST, sacn LOST"
    assert words.short_outputs_text(outputs[:1]) == "serial 44 Hz"
    assert words.short_outputs_text([]) == ""


def test_an_output_that_is_lost_is_named_as_long_as_there_is_room_and_counted_after_that() -> None:
    lost = now(outputs=(OutputState(name="serial:/dev/line", is_lost=True), OutputState(name="sacn")))
    texts = words.right_texts(lost)
    assert texts[0].startswith("serial:/dev/line LOST · sacn · ")
    assert texts[3] == "1 of 2 outputs LOST · control here"
    assert texts[-1] == "1 LOST"
    assert words.is_alarming(lost)
    assert not words.is_alarming(ROLLING)


def test_an_output_is_lost_by_a_fact_of_its_own() -> None:
    told = output_state(Tally("sacn", 9, 1, 1, "sacn was lost: the network is down", 44.0))
    assert (told.is_lost, told.is_there, told.why) == (True, True, "sacn was lost: the network is down")
    assert not output_state(Tally("sacn", 9, 1, 1, "", 44.0)).is_lost
    assert (not_there("serial:X").is_lost, not_there("serial:X").is_there) == (True, False)


def test_an_output_that_does_not_reach_its_refresh_says_which() -> None:
    slow = now(refresh_hz=44.0, outputs=(OutputState(name="framed:/dev/line", refresh_hz=31.04),))
    assert words.right_texts(slow)[0].startswith("framed:/dev/line 31.0 of 44 Hz · ")
    assert not words.is_alarming(slow)
    assert words.right_texts(now(refresh_hz=44.0))[0].startswith("serial:/dev/line 44.0 Hz · ")


def test_how_everything_stands_in_full() -> None:
    last = LastTake(slate="1-B", status="complete", was_watched=False)
    outputs = (
        OutputState(name="serial:/dev/line", is_lost=True, why="serial:/dev/line was lost: it was pulled", sent=9),
        OutputState(name="serial:/dev/none", is_lost=True, is_there=False, why="it is not there"),
        OutputState(name="sacn", refresh_hz=44.0, sent=100, missed=2),
    )
    snapshot = now(outputs=outputs, last_take=last, has_control=False, priority="real-time", refresh_hz=44.0)
    assert list(words.status_lines(snapshot)) == [
        ("player", "take 1-C rolls 1.0/4.0 s, packet 41 of 161"),
        ("output", "serial:/dev/line: LOST: it was pulled · 9 packets sent · on time"),
        ("output", "serial:/dev/none: it is not there · 0 packets sent · on time"),
        ("output", "sacn: well, 44.0 Hz · 100 packets sent, 2 missed · on time"),
        ("last take", "1-B (complete), ended while nobody watched"),
        ("control", "another window or command has it; --take-over takes it"),
        ("priority", "real-time"),
    ]
    idle = Snapshot(state="idle", is_blacked_out=True, priority="ordinary")
    assert list(words.status_lines(idle)) == [("player", "BLACKOUT · sends nothing"), ("priority", "ordinary")]


@pytest.mark.parametrize(
    ("snapshot", "text"),
    [
        (ROLLING, "on time"),
        (now(late_ms=3.21), "3.2 ms late"),
        (now(state="counting"), ""),
        (Snapshot(state="holding", late_ms=3.0), ""),
    ],
)
def test_lateness_is_told_while_a_shot_rolls(snapshot: Snapshot, text: str) -> None:
    assert words.lateness_text(snapshot) == text


@pytest.mark.parametrize(
    ("controller", "has_control", "text"),
    [(None, False, "control free"), (2, False, "control elsewhere"), (2, True, "control here")],
)
def test_who_has_control(controller: int | None, has_control: bool, text: str) -> None:
    assert words.control_text(now(controller=controller, has_control=has_control)) == text


MISSED = LastTake(slate="1-B", status="complete", was_watched=False)


@pytest.mark.parametrize(
    ("snapshot", "text"),
    [
        (Snapshot(state="holding", last_take=MISSED, is_lit=True), "complete, its last look still holds"),
        (Snapshot(state="idle", last_take=MISSED), "complete, the lights are out"),
        (Snapshot(state="holding", is_blacked_out=True, last_take=MISSED), "complete, the line is blacked out"),
        (now(last_take=MISSED), "complete, take 1-C has begun since"),
    ],
)
def test_a_take_that_was_missed(snapshot: Snapshot, text: str) -> None:
    assert words.missed_text(snapshot) == f"take 1-B ended unwatched: {text}"


def test_a_take_that_was_watched_is_not_told_of() -> None:
    watched = MISSED.changed(was_watched=True)
    assert words.missed_text(now(last_take=watched)) == ""
    assert words.missed_text(ROLLING) == ""


@pytest.mark.parametrize(
    ("ended", "text"),
    [
        (Ended(take=1, slate="1-A"), "take 1-A is complete"),
        (Ended(take=1, slate="1-A", was_cut=True), "take 1-A is cut"),
        (Ended(take=1, slate="1-A", was_cut=True, counting_was_cut=True), "stopped before the start: no take was kept"),
        (Ended(take=0, slate=""), ""),
        (
            Ended(take=1, slate="1-A", missed=1, lost={"sacn": "why"}, missed_on={"framed:X": 2}),
            "take 1-A is incomplete: sacn was lost, 1 packet missed, 2 packets missed on framed:X",
        ),
    ],
)
def test_how_a_take_ended(ended: Ended, text: str) -> None:
    assert words.ended_text(ended) == text


def test_a_player_that_is_gone_and_the_one_after_it() -> None:
    assert words.gone_text("it is gone", ROLLING, has_light=True) == (
        "take 1-C is over: the player is gone; a new one is being started with its last look"
    )
    assert words.gone_text("it is gone", None, has_light=False) == "it is gone; it left no light on the line"
    assert words.resumed_text(7, ROLLING, is_lit=True) == (
        "the player is gone; a new one (process 7) holds the last look; take 1-C is over, and kept as broken"
    )


@pytest.mark.parametrize(
    ("snapshot", "lines"),
    [
        (Snapshot(state="idle"), []),
        (
            ROLLING,
            [
                "take 1-C goes on; its last look will hold",
                "'cuedeck open day' comes back to it, 'cuedeck player day stop' stops it",
            ],
        ),
        (
            Snapshot(state="holding", is_lit=True),
            ["the player holds the look that is on the line; 'cuedeck player day release' lets go of it"],
        ),
        (
            Snapshot(state="holding", is_blacked_out=True),
            ["the line stays blacked out; 'cuedeck player day release' ends that"],
        ),
    ],
)
def test_what_goes_on_without_the_screen(snapshot: Snapshot, lines: list[str]) -> None:
    assert [*words.farewell_lines(snapshot, "day")] == lines
