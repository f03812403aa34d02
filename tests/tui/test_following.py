"""A playhead that the player leads, and light that is what is on the line."""

from __future__ import annotations

from fractions import Fraction

from cuedeck.player.channel.events import Snapshot
from cuedeck.tui.rehearsal import Rehearsal
from tests.tui.shows import opened

LINE = (1,)


def rehearsal_of(shot: str) -> Rehearsal:
    return Rehearsal(opened().plan(shot))


def rolling(shot: str, packet: int, *fired: tuple[str, int]) -> Snapshot:
    return Snapshot(state="rolling", shot=shot, slate=f"{shot}-A", packet=packet, fired=fired)


def levels(rehearsal: Rehearsal) -> dict[str, float]:
    return {state.name: round(state.level, 2) for state in rehearsal.moment().states}


def test_the_playhead_is_where_the_take_is_and_heeds_no_clock() -> None:
    """Also past the length of the shot, where the operator is waited for."""
    rehearsal = rehearsal_of("2")
    assert not rehearsal.follow(rolling("2", 50))
    rehearsal.tick(99_000_000_000)
    assert rehearsal.playhead.at_s == Fraction(50, 40)
    assert rehearsal.playhead.is_running
    rehearsal.follow(rolling("2", 4000))
    assert rehearsal.moment().time_s == 100


def test_what_was_fired_in_the_take_makes_the_timeline_another() -> None:
    rehearsal = rehearsal_of("2")
    assert rehearsal.follow(rolling("2", 50, ("go", 40)))
    assert not rehearsal.follow(rolling("2", 51, ("go", 40)))
    assert rehearsal.starts["go"] == 1
    assert rehearsal.waiting_cues == ()


def test_cues_that_no_operator_fires_are_left_to_the_show() -> None:
    """On a live axis the player fires cues of positions, too."""
    rehearsal = rehearsal_of("1")
    assert not rehearsal.follow(rolling("1", 90, ("2", 85)))
    assert rehearsal.fired == ()


def test_a_take_that_is_counted_or_held_stands() -> None:
    rehearsal = rehearsal_of("1")
    rehearsal.follow(rolling("1", 20).changed(state="holding", is_held=True))
    assert not rehearsal.moment().is_running
    rehearsal.follow(Snapshot(state="counting", shot="1", packet=-1))
    assert rehearsal.playhead.at_s == 0


def test_the_light_is_what_is_on_the_line_until_the_playhead_is_moved() -> None:
    """Whatever the show says at that place."""
    rehearsal = rehearsal_of("1")
    full = opened().plan("1").timeline().slots([160])[0].tobytes()
    rehearsal.follow(rolling("1", 0))
    rehearsal.hear(LINE, full)
    assert levels(rehearsal) == {"left": 1.0, "right": 0.5, "wall": 0.4, "rider": 0.0}
    rehearsal.end_following()
    assert not rehearsal.playhead.is_running
    assert levels(rehearsal)["left"] == 1
    rehearsal.step(1)
    assert levels(rehearsal) == {"left": 0.0, "right": 0.0, "wall": 0.0, "rider": 0.0}


def test_a_line_on_which_nothing_is_sent_is_dark() -> None:
    rehearsal = rehearsal_of("1")
    rehearsal.go_to(rehearsal.playhead.length_s)
    assert levels(rehearsal)["left"] == 1
    rehearsal.hear((), b"")
    assert levels(rehearsal)["left"] == 0


def test_a_line_of_another_rig_is_not_read_as_this_one() -> None:
    """As when the show was changed since: then the light is that of the packets as they would be here."""
    rehearsal = rehearsal_of("1")
    rehearsal.follow(rolling("1", 160))
    rehearsal.hear((1, 2), bytes([255] * 1024))
    assert levels(rehearsal) == {"left": 1.0, "right": 0.5, "wall": 0.4, "rider": 0.0}


def test_a_run_on_the_line_begins_where_the_playhead_is_and_with_what_was_fired() -> None:
    """At the start and at the end it begins anew, with nothing fired."""
    rehearsal = rehearsal_of("2")
    rehearsal.follow(rolling("2", 50, ("go", 40)))
    rehearsal.end_following()
    packet, fired = rehearsal.place_to_run_from()
    assert (packet, [one.cue for one in fired]) == (50, ["go"])
    rehearsal.go_to(rehearsal.playhead.length_s)
    assert rehearsal.place_to_run_from() == (0, ())
    rehearsal.go_to(Fraction(0))
    assert rehearsal.place_to_run_from() == (0, ())
