"""A shot compiled: when cues start, how light fades, and that the same input gives the same packets."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.light.curves import CURVES
from cuedeck.timeline.plan import FiredCue, ShotPlan
from cuedeck.timeline.timeline import RenderedAhead
from tests.timeline.shows import HEAD, first_packet_lit, plan, slots_of
from tests.tools import times

EVEN_MOVE = (
    "    move: {ease: linear, keys: [{time: 0 s, slide: 0 mm}, {time: 2 s, slide: 100 mm}, {time: 4 s, slide: 0 mm}]}\n"
)


def level(plan: ShotPlan, light: str, time_s: float, attribute: str = "intensity") -> float:
    timeline = plan.timeline()
    columns = [(parameter.fixture, parameter.attribute) for parameter in plan.patch.parameters]
    return float(timeline.levels(np.array([time_s]))[0, columns.index((light, attribute))])


# When a cue starts. Packet n is for n x 25 ms.


@pytest.mark.parametrize(
    ("start", "packet"),
    [
        ("at: 0 s", 0),
        ("at: 1 s", 40),
        ("at: 1001 ms", 41),
        ("at: 999 ms", 40),
        ("at: 1/3 s", 14),
        ("at: 10 frames", 16),
        ("at: 25 % of the move", 40),
        ("at: 100 %", 160),
        ("at: slide 50 mm", 40),
        ("at: slide 51 mm", 41),
        ("at: slide 5 cm rising", 40),
        ("at: slide 50 mm falling", 120),
        ("at: slide 50 mm pass 2", 120),
        ("at: slide 100 mm", 80),
    ],
)
def test_a_cue_fires_in_the_first_packet_at_or_after_its_start(start: str, packet: int) -> None:
    assert first_packet_lit(plan(f"cue: 1, {start}, look: key", shot=EVEN_MOVE)) == packet


@given(st.integers(0, 5000))
@settings(max_examples=times(40))
def test_a_cue_at_exactly_the_time_of_a_packet_fires_in_that_packet(packet: int) -> None:
    assert first_packet_lit(plan(f"cue: 1, at: {packet * 25} ms, look: key")) == packet


@given(st.integers(0, 5000))
@settings(max_examples=times(40))
def test_frames_at_23_976_fall_on_the_packets_of_the_same_rate_exactly(frame: int) -> None:
    # SMPTE ST 12-1: 23.976 is 24000/1001 frames a second, so frame n is packet n.
    head = HEAD.replace("refresh: 40 Hz", "refresh: 24000/1001 Hz\ncamera: {fps: 23.976}")
    shot = plan(f"cue: 1, at: {frame} frames, look: key", head=head)
    assert shot.start_times() == {"1": Fraction(frame * 1001, 24000)}
    assert first_packet_lit(shot) == frame


def test_after_counts_from_the_end_of_the_fade_and_with_from_the_start() -> None:
    shot = plan(
        "cue: 1, at: 0.5 s, look: black, fade: 1 s",
        "cue: 2, after: 1, look: key",
        "cue: 3, after: 1, wait: 0.25 s, look: old",
        "cue: 4, with: 1, look: warm",
        "cue: 5, with: 1, wait: 0.1 s, look: cool",
        "cue: 6, after: 5, wait: 1 s, look: black",
    )
    assert shot.start_times() == {
        "1": Fraction(1, 2),
        "2": Fraction(3, 2),
        "3": Fraction(7, 4),
        "4": Fraction(1, 2),
        "5": Fraction(3, 5),
        "6": Fraction(8, 5),
    }


def test_a_cue_may_wait_for_one_that_stands_below_it() -> None:
    shot = plan("cue: a, after: b, look: key", "cue: b, after: c, look: old", "cue: c, at: 1 s, look: dim, fade: 2 s")
    assert shot.start_times() == {"a": 3, "b": 3, "c": 1}


def test_cues_that_start_together_take_effect_in_the_order_of_the_file() -> None:
    assert slots_of(plan("cue: 1, at: 0 s, look: black", "cue: 2, at: 0 s, look: key"), [0]) == [[255]]
    assert slots_of(plan("cue: 1, at: 0 s, look: key", "cue: 2, at: 0 s, look: black"), [0]) == [[0]]


def test_an_operator_cue_starts_at_the_packet_it_was_fired_at_and_carries_what_follows_it() -> None:
    shot = plan(
        "cue: 1, at: 0 s, look: black",
        "cue: 2, at: operator, look: key, fade: 1 s",
        "cue: 3, after: 2, wait: 0.5 s, look: old",
    )
    assert shot.operator_cues == ("2",)
    assert shot.start_times() == {"1": 0, "2": None, "3": None}
    fired = [FiredCue("2", 7)]
    assert shot.start_times(fired) == {"1": 0, "2": Fraction(7, 40), "3": Fraction(67, 40)}
    assert slots_of(shot, [7, 27, 47], fired=fired) == [[0], [128], [255]]
    assert first_packet_lit(shot, 2, fired) == 67
    assert shot.timeline(fired).packet_count == 68


@given(st.integers(0, 4000))
@settings(max_examples=times(40))
def test_a_fired_cue_shows_in_the_packet_it_was_fired_at(packet: int) -> None:
    shot = plan("cue: 1, at: operator, look: key", head=HEAD.replace("40 Hz", "43.7 Hz"))
    assert first_packet_lit(shot, fired=[FiredCue("1", packet)]) == packet


# What is on stage.


def test_nothing_is_lit_before_the_first_cue() -> None:
    assert slots_of(plan("cue: 1, at: 1 s, look: full"), [0, 39, 40], 3) == [[0, 0, 0], [0, 0, 0], [255, 255, 255]]


def test_a_light_that_a_look_does_not_name_keeps_what_it_had() -> None:
    shot = plan("cue: 1, at: 0 s, look: half", "cue: 2, at: 1 s, look: key, fade: 1 s")
    assert slots_of(shot, [0, 40, 60, 80], 2) == [[128, 128], [128, 128], [191, 128], [255, 128]]


def test_a_light_that_a_look_does_not_name_goes_on_with_its_fade() -> None:
    shot = plan("cue: 1, at: 0 s, look: full, fade: 2 s", "cue: 2, at: 1 s, look: old")
    assert slots_of(shot, [20, 40, 60, 80], 2) == [[64, 64], [128, 255], [191, 255], [255, 255]]


def test_a_cue_without_a_fade_is_there_at_once_and_stops_a_running_fade() -> None:
    shot = plan("cue: 1, at: 0 s, look: full, fade: 2 s", "cue: 2, at: 1 s, look: dim")
    assert slots_of(shot, [39, 40, 41, 80], 2) == [[124, 124], [64, 128], [64, 128], [64, 128]]


def test_an_interrupted_fade_goes_on_from_where_it_was() -> None:
    shot = plan("cue: 1, at: 0 s, look: key, fade: 2 s", "cue: 2, at: 1 s, look: black, fade: 1 s")
    assert slots_of(shot, [39, 40, 60, 80]) == [[124], [128], [64], [0]]


def test_a_dark_light_takes_its_colour_at_once_and_a_lit_one_fades_it() -> None:
    # 2500 K to 5000 K is 0 to 1 along the mired scale.
    shot = plan("cue: 1, at: 0 s, look: warm", "cue: 2, at: 1 s, look: cool, fade: 1 s")
    assert level(shot, "panel", 1.5, "colour temperature") == 0.5
    dark = plan("cue: 1, at: 0 s, look: warm out", "cue: 2, at: 1 s, look: cool, fade: 1 s")
    assert level(dark, "panel", 0.999, "colour temperature") == 0.0
    assert level(dark, "panel", 1.0, "colour temperature") == 1.0
    assert level(dark, "panel", 1.5) == 0.5


def test_a_light_that_has_just_gone_dark_takes_its_colour_at_once() -> None:
    # In binary 0.1 + 0.2 is a little over 0.3: the end of the fade and the start of the cue are one instant.
    shot = plan(
        "cue: 1, at: 0 s, look: warm",
        "cue: 2, at: 0.1 s, look: panel out, fade: 0.2 s",
        "cue: 3, after: 2, look: cool, fade: 1 s",
    )
    assert level(shot, "panel", 0.3) == 0.0
    assert level(shot, "panel", 0.3, "colour temperature") == 1.0
    assert level(shot, "panel", 0.8, "colour temperature") == 1.0


# Along which curve.


def fade(look: str, curve: str) -> ShotPlan:
    return plan("cue: 1, at: 0 s, look: full", f"cue: 2, at: 1 s, look: {look}, fade: 2 s, curve: {curve}")


def test_a_linear_fade_moves_the_control_value_evenly() -> None:
    assert [level(fade("half", "linear"), "key", time_s) for time_s in (1.0, 1.5, 2.0, 3.0)] == [1, 0.875, 0.75, 0.5]


def test_an_eased_fade_has_moved_a_tenth_after_a_quarter_of_its_time() -> None:
    # Minimum jerk, motion-control literature: 0.25 -> 0.103516, 0.5 -> 0.5 (computed from the polynomial).
    assert level(fade("black", "ease"), "key", 1.5) == pytest.approx(1 - 0.103516, abs=5e-7)
    assert level(fade("black", "ease"), "key", 2.0) == 0.5


def test_an_even_stops_fade_to_two_stops_under_full_is_one_stop_under_full_half_way() -> None:
    # A stop is a factor of two of light; a square-law dimmer gives half the light at the square root of a half.
    shot = fade("dim", "even stops")
    assert level(shot, "key", 2.0) == pytest.approx(0.5, rel=1e-12)
    assert level(shot, "old", 2.0) == pytest.approx(math.sqrt(0.5), rel=1e-12)
    assert level(shot, "key", 1.5) == pytest.approx(2**-0.5, rel=1e-12)
    assert slots_of(shot, [40, 80, 120], 2) == [[255, 255], [128, 180], [64, 128]]


def test_an_even_stops_fade_loses_the_same_stops_in_each_packet() -> None:
    timeline = fade("dim", "even stops").timeline()
    light = timeline.levels(timeline.times_s(range(40, 121)))[:, 0]
    assert np.diff(np.log2(light)) == pytest.approx([-2 / 80] * 80, abs=1e-9)


def test_an_even_lightness_fade_to_black_is_at_l_star_50_half_way() -> None:
    # CIE e-ILV 17-23-076: L* 50 is a relative luminance of 18.4187 %, L* 25 of 4.4155 % (computed).
    shot = fade("black", "even lightness")
    assert level(shot, "key", 2.0) == pytest.approx(0.184187, abs=5e-7)
    assert level(shot, "key", 2.5) == pytest.approx(0.044155, abs=5e-7)
    assert level(shot, "old", 2.0) == pytest.approx(math.sqrt(0.184187), abs=1e-6)


@pytest.mark.parametrize("curve", list(CURVES))
def test_every_curve_reaches_black_and_full_exactly(curve: str) -> None:
    down = fade("black", curve)
    assert [level(down, light, 3.0) for light in ("key", "old", "panel")] == [0, 0, 0]
    assert slots_of(down, [120], 2) == [[0, 0]]
    up = plan("cue: 1, at: 0 s, look: black", f"cue: 2, at: 1 s, look: full, fade: 2 s, curve: {curve}")
    assert [level(up, light, 3.0) for light in ("key", "old", "panel")] == [1, 1, 1]


def test_a_light_that_fades_from_black_to_black_is_black_and_can_still_be_brought_up() -> None:
    shot = plan(
        "cue: 1, at: 0 s, look: black, fade: 1 s, curve: even stops",
        "cue: 2, at: 0.5 s, look: old, fade: 1 s, curve: even stops",
    )
    slots = [slot for _, slot in slots_of(shot, range(61), 2)]
    assert slots[:21] == [0] * 21
    # Half way along the scale of stops that ends at 0 and at black, 11.4427 stops under full; square-law dimmer.
    assert slots[40] == round(255 * 2 ** (-11.4427 / 4))
    assert slots[60] == 255


@pytest.mark.parametrize("curve", ["even stops", "even lightness"])
def test_a_curve_of_light_moves_colours_evenly(curve: str) -> None:
    shot = plan("cue: 1, at: 0 s, look: warm", f"cue: 2, at: 0 s, look: cool, fade: 2 s, curve: {curve}")
    assert level(shot, "panel", 0.5, "colour temperature") == 0.25


# How long a shot is.


@pytest.mark.parametrize(
    ("shot", "cue", "length_s", "packets"),
    [
        ("", "at: 0 s", Fraction(0), 1),
        ("", "at: 1 s", Fraction(1), 41),
        ("", "at: 1 s, fade: 2 s", Fraction(3), 121),
        ("    length: 5 s\n", "at: 1 s, fade: 2 s", Fraction(5), 201),
        ("    length: 2 s\n", "at: 1 s, fade: 2 s", Fraction(3), 121),
        (EVEN_MOVE, "at: 1 s, fade: 2 s", Fraction(4), 161),
        (EVEN_MOVE, "at: slide 50 mm falling, fade: 2 s", Fraction(5), 201),
        ("", "at: 1.01 s", Fraction(101, 100), 42),
    ],
)
def test_a_shot_lasts_as_long_as_its_move_its_cues_and_its_length(
    shot: str, cue: str, length_s: Fraction, packets: int
) -> None:
    timeline = plan(f"cue: 1, {cue}, look: key", shot=shot).timeline()
    assert (timeline.length_s, timeline.packet_count) == (length_s, packets)


def test_blocks_hold_every_packet_once() -> None:
    timeline = plan("cue: 1, at: 0 s, look: full, fade: 110 s").timeline()
    blocks = list(timeline.blocks())
    assert [(first, len(slots)) for first, slots in blocks] == [(0, 4096), (4096, 305)]
    assert np.array_equal(blocks[1][1][:3], timeline.slots([4096, 4097, 4098]))


# What holds for any shot.

LIGHTS = ("key", "old", "panel", "tube")
levels_text = st.sampled_from(["out", "full", "30 %", "71.3 %", "-1 stop", "-2.5 stop", "-9 stop", "-12 stop"])
settings_text = st.one_of(
    st.tuples(st.sampled_from(LIGHTS), levels_text).map(lambda pair: f"{pair[0]}: {pair[1]}"),
    st.tuples(levels_text, st.integers(2500, 5000)).map(
        lambda pair: f"panel: {{level: {pair[0]}, colour: {pair[1]} K}}"
    ),
    st.tuples(levels_text, st.integers(0, 100)).map(lambda pair: f"tube: {{level: {pair[0]}, red: {pair[1]} %}}"),
    levels_text.map(lambda text: f"everything: {text}"),
)
looks_text = st.lists(settings_text, min_size=1, max_size=4, unique_by=lambda text: text.split(":")[0])
starts_text = st.one_of(
    st.integers(0, 2000).map(lambda ms: f"at: {ms} ms"),
    st.integers(0, 100).map(lambda packet: f"at: {packet * 25} ms"),
    st.integers(1, 99).map(lambda mm: f"at: slide {mm} mm"),
    st.just("at: operator"),
)
curves = st.sampled_from(list(CURVES))


@st.composite
def shots(draw: st.DrawFn, shortest_fade_ms: int = 0) -> ShotPlan:
    """Draw a shot of a few cues on four lights, their fades running into each other."""
    looks = draw(st.lists(looks_text, min_size=2, max_size=4))
    cues = []
    for number in range(draw(st.integers(1, 6))):
        wait_ms = draw(st.integers(0, 300))
        follows = f"{draw(st.sampled_from(['after', 'with']))}: c{number - 1}, wait: {wait_ms} ms"
        start = draw(starts_text if number == 0 else st.one_of(starts_text, st.just(follows)))
        fade_ms = draw(st.one_of(st.just(shortest_fade_ms), st.integers(100, 1500)))
        look = draw(st.integers(0, len(looks) - 1))
        cues.append(f"cue: c{number}, {start}, look: l{look}, fade: {fade_ms} ms, curve: {draw(curves)}")
    text = "looks:\n" + "".join(f"  l{n}: {{{', '.join(parts)}}}\n" for n, parts in enumerate(looks))
    return plan(*cues, shot=EVEN_MOVE, looks=text)


@st.composite
def fired_in(draw: st.DrawFn, shot: ShotPlan) -> list[FiredCue]:
    """Draw when an operator fires the cues of a shot, in order, perhaps not all."""
    packets = sorted(draw(st.lists(st.integers(0, 150), max_size=len(shot.operator_cues))))
    return [FiredCue(cue, packet) for cue, packet in zip(shot.operator_cues, packets, strict=False)]


@given(st.data())
@settings(max_examples=times(40))
def test_a_packet_alone_is_the_same_as_among_all_the_others(data: st.DataObject) -> None:
    shot = data.draw(shots())
    timeline = shot.timeline(data.draw(fired_in(shot)))
    numbers = np.arange(timeline.packet_count)
    levels, slots = timeline.levels(timeline.times_s(numbers)), timeline.slots(numbers)
    for number in data.draw(st.lists(st.integers(0, timeline.packet_count - 1), min_size=1, max_size=25)):
        assert np.array_equal(timeline.levels(timeline.times_s([number]))[0], levels[number])
        assert np.array_equal(timeline.slots([number])[0], slots[number])


@given(st.data())
@settings(max_examples=times(40))
def test_packets_that_are_rendered_ahead_are_those_of_the_timeline_that_is_asked_for(data: st.DataObject) -> None:
    shot = data.draw(shots())
    timelines = [shot.timeline(data.draw(fired_in(shot))) for _ in range(2)]
    ahead, number = RenderedAhead(), data.draw(st.integers(0, 150))
    for is_other, step in data.draw(st.lists(st.tuples(st.booleans(), st.integers(-1, 3)), min_size=5, max_size=40)):
        number, timeline = max(number + step, 0), timelines[is_other]
        assert np.array_equal(ahead.slots(timeline, number), timeline.slots([number])[0])


@given(st.data())
@settings(max_examples=times(30))
def test_the_recorded_list_of_fired_cues_gives_the_same_packets_again(data: st.DataObject) -> None:
    shot = data.draw(shots())
    fired = data.draw(fired_in(shot))
    once, again = shot.timeline(fired), shot.timeline(list(fired))
    assert once.packet_count == again.packet_count
    numbers = np.arange(once.packet_count)
    assert once.slots(numbers).tobytes() == again.slots(numbers).tobytes()
    assert once.cues == again.cues


@given(st.data())
@settings(max_examples=times(30))
def test_firing_a_cue_changes_no_packet_before_it(data: st.DataObject) -> None:
    shot = data.draw(shots())
    fired = data.draw(fired_in(shot))
    for count in range(len(fired)):
        before, after = shot.timeline(fired[:count]), shot.timeline(fired[: count + 1])
        numbers = np.arange(min(fired[count].packet, before.packet_count))
        assert np.array_equal(before.slots(numbers), after.slots(numbers))


@given(st.data())
@settings(max_examples=times(40))
def test_levels_stay_between_out_and_full(data: st.DataObject) -> None:
    shot = data.draw(shots())
    timeline = shot.timeline(data.draw(fired_in(shot)))
    starts = [float(cue.start_s) for cue in timeline.cues]
    times = np.sort(np.concatenate([np.linspace(0, float(timeline.length_s) + 1, 400), starts]))
    levels = timeline.levels(times)
    assert np.isfinite(levels).all()
    assert levels.min() >= 0
    assert levels.max() <= 1


# A fade covers at most 11.44 stops or 100 L*, in 0.1 s or more. Its light then moves by at most 79.3 a second
# (even stops, at full: 114.4 ln 2) or 25.9 (even lightness, at full: 1000 x 3 / 116), and its control, on the
# other curves, by 18.75 (ease). Over 2 ns that is 1.6e-7 of light; a square-law dimmer makes of it at most
# the square root, 4e-4, near black.
MOST_IN_2_NS = {"linear": 2e-7, "square": 4.1e-4}


@given(st.data())
@settings(max_examples=times(60))
def test_light_does_not_jump_where_a_cue_interrupts_a_fade(data: st.DataObject) -> None:
    shot = data.draw(shots(shortest_fade_ms=100))
    timeline = shot.timeline(data.draw(fired_in(shot)))
    for cue in timeline.cues:
        start_s = float(cue.start_s)
        if start_s == 0:
            continue
        before, after = timeline.levels(np.array([start_s - 1e-9, start_s + 1e-9]))
        for fixture in shot.patch.fixtures:
            column = fixture.columns["intensity"]
            assert abs(after[column] - before[column]) <= MOST_IN_2_NS[fixture.type.dimmer]
