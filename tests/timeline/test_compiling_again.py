"""A timeline that is compiled from another one is the one that is compiled from nothing, byte for byte."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.draft.quick import changed
from cuedeck.show.changes import SetValue
from cuedeck.timeline.opening import OpenedShow
from cuedeck.timeline.plan import FiredCue, ShotPlan
from cuedeck.timeline.timeline import Timeline
from tests.rig.rigs import MEASURED, emitters_text
from tests.timeline.shows import opened, plan

RANGES = "ranges: {open: 0-10, slow: 11-100, fast: 101-255}"
HEAD = f"""\
cuedeck: 1
refresh: 40 Hz
slots: 64
types:
  panel: {{channels: [intensity 16-bit, colour temperature], colour temperature: {{low: 2500 K, high: 5000 K}}}}
  old: {{channels: [intensity], dimmer: {MEASURED}}}
  wash: {{channels: [red, green 16-bit, blue], {emitters_text("red", "green", "blue")}}}
  spot: {{channels: [intensity, {{channel: wheel, {RANGES}, snap: middle}}, {{channel: prism, {RANGES}, snap: end}}]}}
rig:
  key: {{type: dimmer, address: 1.1}}
  old: {{type: old, address: 1.2}}
  panel: {{type: panel, address: 1.3}}
  twin: {{type: panel, address: 1.11}}
  wash: {{type: wash, address: 1.21}}
  held: {{type: wash, address: 1.31, never below: 20 %, never above: 70 %}}
  spot: {{type: spot, address: 1.41}}
"""
MOVE = (
    "    move: {ease: linear, keys: [{time: 0 s, slide: 0 mm}, {time: 2 s, slide: 100 mm}, {time: 4 s, slide: 0 mm}]}\n"
)
LOOKS = 5
CUES = ("shots", "1", "cues")

levels = st.sampled_from(["out", "full", "30 %", "71.3 %", "-1 stop", "-9 stop"])
settings_of_lights = st.one_of(
    st.tuples(st.sampled_from(["key", "old", "panel", "twin", "wash", "held", "spot"]), levels).map(
        lambda pair: f"{pair[0]}: {pair[1]}"
    ),
    st.tuples(st.sampled_from(["panel", "twin", "wash", "held"]), levels, st.integers(2500, 5000)).map(
        lambda one: f"{one[0]}: {{level: {one[1]}, colour: {one[2]} K}}"
    ),
    st.integers(0, 100).map(lambda share: f"wash: {{red: {share} %}}"),
    st.sampled_from(["open", "slow", "fast"]).map(lambda mode: f"spot: {{wheel: {mode}, prism: {mode}}}"),
)
"""What one look asks of one light, or of a part of one."""
looks = st.lists(settings_of_lights, min_size=1, max_size=2, unique_by=lambda text: text.split(":")[0])
"""Few lights each, so that what a cue left stays on stage through the ones after it."""
ats = st.one_of(
    st.integers(0, 3000).map(lambda ms: f"{ms} ms"),
    st.integers(0, 120).map(lambda packet: f"{packet * 25} ms"),
    st.integers(1, 99).map(lambda mm: f"slide {mm} mm falling"),
    st.just("operator"),
)
fades = st.sampled_from(["0 s", "25 ms", "333 ms", "1 s", "2.5 s"])
curves = st.sampled_from(["linear", "ease", "even stops", "even lightness"])
paths = st.sampled_from(["u'v'", "channels"])
look_names = st.integers(0, LOOKS - 1).map(lambda number: f"l{number}")


@st.composite
def shows(draw: st.DrawFn) -> OpenedShow:
    """Draw a show of one shot with up to ten cues, some of them fired, some that follow others."""
    lines = ["looks:", *(f"  l{number}: {{{', '.join(draw(looks))}}}" for number in range(LOOKS))]
    cues = []
    count = draw(st.integers(2, 10))
    for number in range(count):
        other = draw(st.integers(0, count - 1))
        start = f"at: {draw(ats)}"
        if other < number and draw(st.booleans()):
            start = f"{draw(st.sampled_from(['after', 'with']))}: c{other}, wait: {draw(st.integers(0, 600))} ms"
        rest = f"fade: {draw(fades)}, curve: {draw(curves)}, colour path: {draw(paths)}"
        skip = ", skip: yes" if draw(st.integers(0, 7)) == 0 else ""
        cues.append(f"      - {{cue: c{number}, {start}, look: {draw(look_names)}, {rest}{skip}}}")
    show = opened("\n".join([HEAD, *lines, "shots:", "  1:", f"{MOVE}    cues:", *cues]))
    assert not show.errors_of_all
    return show


@st.composite
def edited(draw: st.DrawFn, show: OpenedShow) -> OpenedShow:
    """Draw a show in which one thing is another."""
    cue = (*CUES, draw(st.integers(0, len(show.show.shots["1"].cues) - 1)))
    one_at = isinstance(show.source.data, dict) and show.show.shots["1"].cues[cue[-1]].at is not None
    change = draw(
        st.one_of(
            st.builds(SetValue, st.just((*cue, "at" if one_at else "wait")), st.integers(0, 900).map("{} ms".format)),
            st.builds(SetValue, st.just((*cue, "fade")), fades),
            st.builds(SetValue, st.just((*cue, "curve")), curves),
            st.builds(SetValue, st.just((*cue, "colour path")), paths),
            st.builds(SetValue, st.just((*cue, "look")), look_names),
            st.builds(SetValue, st.just((*cue, "skip")), st.sampled_from(["yes", "no"])),
            st.builds(SetValue, look_names.map(lambda look: ("looks", look, "old")), levels),
            st.builds(SetValue, st.just(("rig", "twin", "address")), st.sampled_from(["1.11", "1.15"])),
        )
    )
    return changed(show, [change])


@st.composite
def fired_in(draw: st.DrawFn, shot: ShotPlan) -> list[FiredCue]:
    """Draw which of the cues that wait are fired, in any order and each at any packet."""
    waiting = [*shot.operator_cues, *shot.position_cues]
    cues = draw(st.lists(st.sampled_from(waiting), unique=True)) if waiting else []
    return [FiredCue(cue, draw(st.integers(0, 140))) for cue in cues]


def assert_same(one: Timeline, anew: Timeline, packets: Sequence[int] | None = None) -> None:
    """Assert that two timelines are one, in what they say of their cues and in every byte that they render."""
    assert one.cues == anew.cues
    assert one.length_s == anew.length_s
    numbers = np.arange(anew.packet_count + 1) if packets is None else np.array(packets)
    assert one.slots(numbers).tobytes() == anew.slots(numbers).tobytes()
    times_s = one.times_s(numbers) + 1e-3
    assert one.levels(times_s).tobytes() == anew.levels(times_s).tobytes()


@given(st.data())
@settings(max_examples=150)
def test_whatever_is_fired_or_edited_it_renders_the_same_bytes(data: st.DataObject) -> None:
    """From one list of fired cues to any other, at another speed, with what was edited; it may be read in between."""
    show, timeline = data.draw(shows()), None
    for _ in range(data.draw(st.integers(2, 5))):
        show = data.draw(st.one_of(st.just(show), edited(show)))
        shot = show.plan("1", data.draw(st.sampled_from([Fraction(1), Fraction(1), Fraction(1, 4), Fraction(3)])))
        shot = replace(shot, is_axis_live=data.draw(st.booleans()))
        fired = data.draw(fired_in(shot))
        timeline, anew = shot.timeline(fired, like=timeline), shot.timeline(fired)
        if read := data.draw(st.lists(st.integers(0, 140), max_size=3, unique=True)):
            assert_same(timeline, anew, sorted(read))
        else:
            assert_same(timeline, anew)


@given(st.data())
@settings(max_examples=100)
def test_a_take_in_which_one_cue_after_the_other_is_fired_renders_the_same_bytes(data: st.DataObject) -> None:
    """Each is fired with the packet that is next, and what was on the line before stays as it was."""
    show = data.draw(shows())
    shot = replace(show.plan("1"), is_axis_live=data.draw(st.booleans()))
    waiting = data.draw(st.permutations([*shot.operator_cues, *shot.position_cues]))
    packets = sorted(data.draw(st.lists(st.integers(0, 140), min_size=len(waiting), max_size=len(waiting))))
    fired, timeline, sent = list[FiredCue](), shot.timeline(), list[bytes]()
    for cue, packet in zip(waiting, packets, strict=True):
        sent += [timeline.slots([number])[0].tobytes() for number in range(len(sent), packet)]
        fired.append(FiredCue(cue, packet))
        timeline = shot.timeline(fired, like=timeline)
    sent += [timeline.slots([number])[0].tobytes() for number in range(len(sent), timeline.packet_count)]
    anew = shot.timeline(fired)
    assert_same(timeline, anew)
    assert b"".join(sent) == anew.slots(range(len(sent))).tobytes()


LINES = "looks:\n  key: {key: full}\n  old: {old: full}\n"


def test_up_to_a_time_it_is_the_same_light() -> None:
    """After that it stays as it was."""
    shot = plan("cue: 1, at: 1 s, look: key, fade: 2 s", "cue: 2, at: 3 s, look: old", head=HEAD, looks=LINES)
    whole, part = shot.timeline(), shot.timeline(until_s=Fraction(2))
    assert part.slots([80]).tobytes() == whole.slots([80]).tobytes()
    assert part.packet_count == whole.packet_count
    assert len(part.spans) < len(whole.spans)


def test_what_comes_before_the_first_difference_is_taken_over() -> None:
    """The spans are the very same."""
    shot = plan("cue: 1, at: 1 s, look: key, fade: 2 s", "cue: 2, at: operator, look: old", head=HEAD, looks=LINES)
    first = shot.timeline([FiredCue("2", 50)])
    second = shot.timeline([FiredCue("2", 60)], like=first)
    assert [one is two for one, two in zip(first.spans, second.spans, strict=True)] == [True, True, False]
