"""What the screen says about the player."""

from __future__ import annotations

import pytest

from cuedeck.player.channel.messages import Ended, LastTake, OutputState, Snapshot
from cuedeck.tui import player_words as words

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
    ("snapshot", "is_lit", "text"),
    [
        (Snapshot(state="idle"), False, "player sends nothing"),
        (Snapshot(state="holding"), True, "player holds a look"),
        (Snapshot(state="holding"), False, "player holds the lights out"),
        (Snapshot(state="holding", is_blacked_out=True), False, "BLACKOUT · player holds a look"),
        (Snapshot(state="faulted"), True, "player BROKE, the light is held"),
        (ROLLING, True, "take 1-C rolls 1.0/4.0 s"),
        (now(waits_for="4"), True, "take 1-C waits for cue 4 · 1.0 s"),
        (now(slate=""), True, "rehearsal rolls 1.0/4.0 s"),
        (now(state="holding", is_held=True), True, "take 1-C held at 1.0/4.0 s"),
        (now(state="holding"), True, "take 1-C is over"),
        (now(state="counting", counting_s=2.14), True, "take 1-C starts in 2.1 s"),
        (now(state="standing by"), True, "take 1-C stands by"),
        (now(packet=0, time_s=0.0), True, "take 1-C rolls 0.0 s"),
        (now(chased="01:00:00:12 runs"), True, "take 1-C rolls 1.0/4.0 s · 01:00:00:12 runs"),
        (now(log_problem="it is locked"), True, "take 1-C rolls 1.0/4.0 s · log: it is locked"),
    ],
)
def test_what_the_player_does(snapshot: Snapshot, is_lit: bool, text: str) -> None:
    assert words.state_text(snapshot, is_lit=is_lit) == text


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
    outputs = [OutputState(name=name, lost="why" * (name[-1] == "1"), refresh_hz=44) for name in names]
    assert words.short_outputs_text(outputs) == "serial line0 44, serial line1 LOST, sacn LOST"
    assert words.short_outputs_text(outputs[:1]) == "serial 44 Hz"
    assert words.short_outputs_text([]) == ""


def test_an_output_that_is_lost_is_named_as_long_as_there_is_room_and_counted_after_that() -> None:
    lost = now(outputs=(OutputState(name="serial:/dev/line", lost="it was pulled"), OutputState(name="sacn")))
    texts = words.right_texts(lost)
    assert texts[0].startswith("serial:/dev/line LOST · sacn · ")
    assert texts[3] == "1 of 2 outputs LOST · control here"
    assert texts[-1] == "1 LOST"
    assert words.is_alarming(lost)
    assert not words.is_alarming(ROLLING)


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
    ("snapshot", "is_lit", "text"),
    [
        (Snapshot(state="holding", last_take=MISSED), True, "complete, its last look still holds"),
        (Snapshot(state="idle", last_take=MISSED), False, "complete, the lights are out"),
        (Snapshot(state="holding", is_blacked_out=True, last_take=MISSED), False, "complete, the line is blacked out"),
        (now(last_take=MISSED), True, "complete, take 1-C has begun since"),
    ],
)
def test_a_take_that_was_missed(snapshot: Snapshot, is_lit: bool, text: str) -> None:
    assert words.missed_text(snapshot, is_lit=is_lit) == f"take 1-B ended unwatched: {text}"


def test_a_take_that_was_watched_is_not_told_of() -> None:
    watched = MISSED.changed(was_watched=True)
    assert words.missed_text(now(last_take=watched), is_lit=True) == ""
    assert words.missed_text(ROLLING, is_lit=True) == ""


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


def test_a_player_that_is_lost_and_the_one_after_it() -> None:
    assert words.lost_text("it is gone", ROLLING, has_light=True) == (
        "take 1-C is over: the player was lost; a new one is being started with its last look"
    )
    assert words.lost_text("it is gone", None, has_light=False) == "it is gone; it left no light on the line"
    assert words.resumed_text(7, ROLLING, is_lit=True) == (
        "the player was lost; a new one (process 7) holds the last look; take 1-C is over, and kept as lost"
    )


@pytest.mark.parametrize(
    ("snapshot", "is_lit", "lines"),
    [
        (Snapshot(state="idle"), False, []),
        (
            ROLLING,
            True,
            [
                "take 1-C goes on; its last look will hold",
                "'cuedeck open day' comes back to it, 'cuedeck player day stop' stops it",
            ],
        ),
        (
            Snapshot(state="holding"),
            True,
            ["the player holds the look that is on the line; 'cuedeck player day release' lets go of it"],
        ),
        (
            Snapshot(state="holding", is_blacked_out=True),
            False,
            ["the line stays blacked out; 'cuedeck player day release' ends that"],
        ),
    ],
)
def test_what_goes_on_without_the_screen(snapshot: Snapshot, is_lit: bool, lines: list[str]) -> None:
    assert [*words.farewell_lines(snapshot, "day", is_lit=is_lit)] == lines
