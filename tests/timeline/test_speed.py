"""Off-speed: a shot that runs at a factor of itself, and a camera that plays at another rate than it takes."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.report.cue_sheet import cue_rows
from cuedeck.timeline.opening import OpenedShow
from cuedeck.timeline.plan import FiredCue
from tests.timeline.shows import HEAD, opened, show_text
from tests.tools import times

MOVE = "    move: {keys: [{time: 0 s, slide: 0 mm}, {time: 2 s, slide: 100 mm}, {time: 5 s, slide: 20 mm}]}\n"
CUES = (
    "cue: 1, at: 0 s, look: warm",
    "cue: 2, at: slide 40 mm, look: key, fade: 1 s, curve: even stops",
    "cue: 3, at: 50 % of the move, look: half, fade: 500 ms",
    "cue: 4, at: 80 frames, look: old, fade: 1 s",
    'cue: 5, at: "00:00:04:00", look: cool, fade: 1 s, curve: ease',
    "cue: 6, after: 5, wait: 0.5 s, look: black, fade: 2 s",
    "cue: 7, with: 6, wait: 1 s, look: dim",
)


def show(camera: str = "fps: 25", refresh: str = "40 Hz", *cues: str) -> OpenedShow:
    head = HEAD.replace("refresh: 40 Hz", f"refresh: {refresh}\ncamera: {{{camera}}}")
    found = opened(show_text(*(cues or CUES), shot=MOVE, head=head))
    assert found.errors == ()
    return found


@pytest.mark.parametrize("speed", [Fraction(1, 4), Fraction(1, 2), Fraction(2)])
def test_packets_of_a_shot_at_a_factor_are_those_of_the_shot_with_time_stretched(speed: Fraction) -> None:
    """At a quarter of the speed and of the refresh, packet n is for the same place of the move, byte for byte."""
    at_speed = show("fps: 25", f"{40 * speed} Hz").plan("1", speed).timeline()
    as_written = show().plan("1").timeline()
    assert at_speed.packet_count == as_written.packet_count
    packets = range(as_written.packet_count)
    assert np.array_equal(at_speed.slots(packets), as_written.slots(packets))


@given(st.fractions(min_value=Fraction(1, 20), max_value=20, max_denominator=100))
@settings(max_examples=times(30))
def test_every_start_and_the_length_are_divided_by_the_speed(speed: Fraction) -> None:
    slow, written = show().plan("1", speed), show().plan("1")
    for cue, start_s in written.start_times().items():
        assert start_s is not None
        assert float(slow.start_times()[cue] or 0) == pytest.approx(float(start_s / speed), abs=1e-9)
    assert slow.timeline().length_s == pytest.approx(float(written.timeline().length_s / speed))
    assert [cue.fade_s * speed for cue in slow.timeline().cues] == [cue.fade_s for cue in written.timeline().cues]


def test_the_light_is_the_same_at_each_place_of_the_move() -> None:
    slow, written = show().plan("1", Fraction(1, 3)), show().plan("1")
    assert slow.move is not None
    assert written.move is not None
    times_s = np.linspace(0, 5, 200)
    assert slow.move.axes["slide"].at(times_s * 3) == pytest.approx(written.move.axes["slide"].at(times_s), abs=1e-9)
    inside = times_s + 1e-4
    assert slow.timeline().levels(inside * 3) == pytest.approx(written.timeline().levels(inside), abs=1e-4)


def test_what_the_operator_fires_starts_at_its_packet_and_its_fade_is_stretched() -> None:
    plan = show("fps: 25", "40 Hz", "cue: 1, at: operator, look: key, fade: 1 s", "cue: 2, after: 1, look: black").plan(
        "1", Fraction(1, 4)
    )
    assert plan.start_times([FiredCue("1", 7)]) == {"1": Fraction(7, 40), "2": Fraction(7, 40) + 4}


def test_the_sheet_shows_time_on_set_and_on_the_screen() -> None:
    # 100 frames a second played at 25: a second on set is four on the screen. Common practice, no source.
    rows = {row.cue: row for row in cue_rows(show("shoot fps: 100, play fps: 25").plan("1"))}
    frames, fade = rows["4"].moment, rows["6"]
    assert frames is not None
    assert (frames.set_s, frames.screen_s, frames.frame) == (Fraction(4, 5), Fraction(16, 5), 80)
    assert frames.timecode == "00:00:03:05"
    assert (fade.fade_set_s, fade.fade_screen_s) == (2, 8)
    place = rows["2"].moment
    assert place is not None
    assert place.axes[0].position == pytest.approx(40)
    assert place.screen_s == 4 * place.set_s


def test_the_sheet_of_a_shot_at_a_factor_counts_the_frames_that_the_camera_takes() -> None:
    (row,) = cue_rows(show("fps: 25", "40 Hz", "cue: 1, at: 50 frames, look: key, fade: 1 s").plan("1", Fraction(1, 4)))
    assert row.moment is not None
    assert (row.moment.set_s, row.moment.screen_s, row.moment.frame, row.fade_set_s) == (8, 8, 200, 4)


def test_a_quarter_of_the_speed_at_a_quarter_of_the_frames_looks_as_written_on_the_screen() -> None:
    rows = cue_rows(show("shoot fps: 6.25, play fps: 25").plan("1", Fraction(1, 4)))
    written = cue_rows(show().plan("1"))
    off = {row.cue: row.moment.screen_s for row in rows if row.moment}
    on = {row.cue: row.moment.screen_s for row in written if row.moment}
    # Cues at frames and timecode count the frames of the camera on set, of which there are fewer.
    assert off["2"] == pytest.approx(float(on["2"]))
    assert off["3"] == on["3"]


def test_cues_that_wait_stand_at_the_end_of_the_sheet() -> None:
    cues = ("cue: 1, at: operator, look: key", "cue: 2, at: 2 s, look: old", "cue: 3, at: 1 s, look: key")
    rows = cue_rows(show("fps: 25", "40 Hz", *cues).plan("1"))
    assert [row.cue for row in rows] == ["3", "2", "1"]
    assert rows[-1].moment is None
