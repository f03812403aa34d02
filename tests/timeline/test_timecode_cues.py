"""Cues at timecode: the packet they fire in, and what is said about those that stand for no frame."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.show.frame_rates import DROP_FRAME, RATES, TimecodeRate
from cuedeck.timing.timecode import Timecode
from tests.timeline.shows import HEAD, first_packet_lit, opened, plan, show_text
from tests.timeline.test_opening import line_of, told
from tests.tools import times

START = '    starts at: "01:00:00:00"\n'
RATE_NAMES = [*RATES, *DROP_FRAME]
EVEN_MOVE = "    move: {ease: linear, keys: [{time: 0 s, slide: 0 mm}, {time: 2 s, slide: 100 mm}]}\n"


def head(camera: str, refresh: str = "40 Hz") -> str:
    return HEAD.replace("refresh: 40 Hz", f"refresh: {refresh}\ncamera: {{{camera}}}")


def test_a_cue_starts_at_its_label_counted_from_the_timecode_of_the_shot() -> None:
    shot = plan("cue: 1, at: 01:00:04:12, look: key", shot=START)
    assert shot.start_times() == {"1": Fraction(112, 25)}


def test_without_a_timecode_of_its_own_the_shot_starts_at_zero() -> None:
    assert plan("cue: 1, at: 00:00:04:12, look: key").start_times() == {"1": Fraction(112, 25)}


def test_drop_frame_labels_leave_frames_where_they_are() -> None:
    # SMPTE ST 12-1: 00:01:00;02 is frame 1800 at 29.97, whatever its label says.
    camera = "fps: 29.97, timecode: 29.97df"
    shot = plan("cue: 1, at: 00:01:00;02, look: key", head=head(camera))
    assert shot.start_times() == {"1": 1800 * Fraction(1001, 30000)}
    without = plan("cue: 1, at: 00:01:00:02, look: key", head=head("fps: 29.97"))
    assert without.start_times() == {"1": 1802 * Fraction(1001, 30000)}


REFRESHES = st.one_of(
    st.fractions(min_value=1, max_value=800, max_denominator=1001),
    st.builds(Fraction, st.integers(10**8, 10**9), st.integers(10**7, 10**8)),
)


@given(st.sampled_from(RATE_NAMES), REFRESHES, st.integers(0, 10**6), st.integers(0, 10**6))
@settings(max_examples=times(80))
def test_a_cue_fires_in_the_first_packet_at_or_after_its_label_at_every_rate_and_refresh(
    name: str, refresh: Fraction, frame: int, first: int
) -> None:
    """The packet is counted in whole numbers: beside it doubles could not tell two instants apart."""
    rate = TimecodeRate.parse(name)
    start, label = Timecode(first, rate), Timecode(first + frame, rate)
    camera = f"fps: {name.removesuffix('df')}, timecode: {name}"
    shot = plan(
        f'cue: 1, at: "{label}", look: key',
        shot=f'    starts at: "{start}"\n',
        head=head(camera, f"{refresh.numerator}/{refresh.denominator} Hz"),
    )
    exact_s = frame / rate.frames_per_second
    packet = ceil(exact_s * refresh)
    assert Fraction(packet) / refresh >= exact_s > Fraction(packet - 1) / refresh
    around = [number for number in (packet - 1, packet) if number >= 0]
    lit = shot.timeline().slots(around)[:, 0, 0].tolist()
    assert lit == ([0, 255] if packet else [255])


def test_packets_that_share_a_double_with_the_start_of_a_cue_are_told_apart() -> None:
    # Packet 1 is for 0.04 s; one cue is a trifle before it, the other a trifle after it.
    shot = plan("cue: 1, at: 99999999999.999999999999/2500000000000 s, look: key", head=head("fps: 25", "25 Hz"))
    late = plan("cue: 1, at: 100000000000.000000000001/2500000000000 s, look: key", head=head("fps: 25", "25 Hz"))
    assert float(shot.start_times()["1"] or 0) == float(late.start_times()["1"] or 0) == 1 / 25
    assert first_packet_lit(shot) == 1
    assert first_packet_lit(late) == 2


@pytest.mark.parametrize(
    ("camera", "shot", "label", "what", "cure"),
    [
        (
            "fps: 29.97, timecode: 29.97df",
            "",
            "00:01:00;01",
            "cue 1 never happens: '00:01:00;01' is left out in drop-frame",
            "this minute begins with 00:01:00;02",
        ),
        (
            "fps: 29.97",
            "",
            "00:01:00;02",
            "cue 1 never happens: '00:01:00;02' is drop-frame, and 29.97 is not",
            "write a colon before the frames",
        ),
        (
            "fps: 25",
            "",
            "00:01:00:25",
            "cue 1 never happens: '00:01:00:25' is out of range",
            "at 25 it ends at 23:59:59:24",
        ),
        (
            "fps: 25",
            START,
            "00:59:59:24",
            "cue 1 never happens: 00:59:59:24 is before the start of the shot, 01:00:00:00",
            "write 01:00:00:00 or a later timecode",
        ),
        (
            "fps: 12",
            "",
            "00:00:01:00",
            "cue 1 never happens: 00:00:01:00 stands for no frame: 12 frames a second is no rate of timecode",
            "count from the start of the shot, such as '50 frames', or film at one of 23.976, 24, 25, 29.97, 30,"
            " 47.952, 48, 50, 59.94, 60",
        ),
    ],
)
def test_a_label_that_is_no_frame_of_the_shot_is_reported_at_its_cue(
    camera: str, shot: str, label: str, what: str, cure: str
) -> None:
    text = show_text(f"cue: 1, at: {label}, look: key", head=head(camera), shot=shot)
    assert told(opened(text).problems) == [(f"{line_of(text, 'at: ' + label)}:22", "error", what, cure)]


def test_a_start_that_is_no_label_is_reported_once_and_the_cues_are_not() -> None:
    text = show_text("cue: 1, at: 01:00:00:05, look: key", shot='    starts at: "01:00:00:99"\n')
    assert told(opened(text).problems) == [
        (f"{line_of(text, 'starts at')}:16", "error", "'01:00:00:99' is out of range", "at 25 it ends at 23:59:59:24")
    ]


def test_a_timecode_an_hour_into_a_shot_without_one_is_a_warning() -> None:
    text = show_text("cue: 1, at: 01:00:04:12, look: key")
    assert told(opened(text).problems) == [
        (
            f"{line_of(text, 'cue: 1')}:22",
            "warning",
            "cue 1 starts an hour or more into shot 1, which starts at no timecode of its own",
            "say which timecode its first frame has: 'starts at: 01:00:00:00'",
        )
    ]


@pytest.mark.parametrize(
    ("camera", "what", "cure"),
    [
        (
            "fps: 25, timecode: 29.97df",
            "timecode 29.97df does not count the frames of a camera at 25 frames a second",
            "write 'fps: 29.97', or 'timecode: 25'",
        ),
        (
            "fps: 12, timecode: 24",
            "timecode 24 does not count the frames of a camera at 12 frames a second",
            "write 'fps: 24'",
        ),
    ],
)
def test_timecode_at_another_rate_than_the_camera_is_refused(camera: str, what: str, cure: str) -> None:
    (problem,) = opened(show_text(head=head(camera))).errors
    assert (problem.what, problem.cure) == (what, cure)
    assert problem.place.line == 3


def test_a_cue_at_a_timecode_keeps_its_frame_where_the_camera_is_over_cranked() -> None:
    # Frame 50 is taken half a second into the take at 100 frames a second, and played at 2 s.
    shot = plan("cue: 1, at: 00:00:02:00, look: key", head=head("shoot fps: 100, play fps: 25"))
    assert shot.start_times() == {"1": Fraction(1, 2)}
    assert shot.labels.label(50) == "00:00:02:00"
