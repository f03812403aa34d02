"""A timeline that is compiled from another one is the one that is compiled from nothing, byte for byte."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.draft.incremental import changed
from cuedeck.light.curves import CURVES
from cuedeck.rig.patch import Patch
from cuedeck.show.model import Cue
from cuedeck.show.triggers import AfterCue, AtPosition, AtTime
from cuedeck.show.yamltext.changes import SetValue
from cuedeck.timeline.opening import OpenedShow
from cuedeck.timeline.plan import FiredCue, ShotPlan
from cuedeck.timeline.timeline import Span, StartedCue, Timeline
from tests.rig.rigs import MEASURED, emitters_text
from tests.timeline.shows import opened, plan, show_text
from tests.tools import times

RANGES = "ranges: {open: 0-10, slow: 11-100, fast: 101-255}"
HEAD = f"""\
cuedeck: 1
refresh: 40 Hz
slots: 64
types:
  panel: {{channels: [intensity 16-bit, colour temperature], colour temperature: {{low: 2500 K, high: 5000 K}}}}
  old: {{channels: [intensity], dimmer: {MEASURED}}}
  wash: {{channels: [red, green 16-bit, blue], {emitters_text("red", "green", "blue")}}}
  spot: {{channels: [intensity, {{channel: wheel, {RANGES}, snap: middle}}, {{channel: prism, {RANGES}, snap: end}},
    {{channel: fan, default: 20 %}}]}}
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
curves = st.sampled_from(list(CURVES))
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
            st.builds(SetValue, st.tuples(st.just("looks"), look_names, st.sampled_from(["old", "key"])), levels),
            st.builds(SetValue, st.just(("rig", "twin", "address")), st.sampled_from(["1.11", "1.15"])),
            st.builds(SetValue, st.just(("types", "spot", "channels", 3, "default")), st.sampled_from(["0 %", "60 %"])),
        )
    )
    return changed(show, [change])


@st.composite
def fired_in(draw: st.DrawFn, shot: ShotPlan) -> list[FiredCue]:
    """Draw which of the cues that wait are fired, in any order and each at any packet."""
    waiting = [*shot.operator_cues, *shot.position_cues]
    cues = draw(st.lists(st.sampled_from(waiting), unique=True)) if waiting else []
    return [FiredCue(cue, draw(st.integers(0, 140))) for cue in cues]


def start_of(shot: ShotPlan, cue: Cue, fired: Mapping[str, int]) -> Fraction | None:
    """Return when a cue starts, found out for it alone."""
    match cue.trigger:
        case AfterCue(other, wait, from_start):
            before = next(one for one in shot.shot.cues if one.cue == other)
            before_s = start_of(shot, before, fired)
            fade = Fraction(0) if from_start else before.fade.base
            return None if before_s is None else before_s + (wait.base + fade) / shot.speed
        case AtTime(time):
            return time.base / shot.speed
        case AtPosition() as trigger if not shot.is_axis_live:
            return shot.start_of(trigger)
        case _:
            return fired[cue.cue] / shot.refresh_hz if cue.cue in fired else None


def assert_same(one: Timeline, shot: ShotPlan, fired: Sequence[FiredCue], packets: Sequence[int] = ()) -> None:
    """Assert that a timeline is the one from nothing, in its cues and in every byte of all or some packets."""
    anew = replace(shot).timeline(fired)  # a plan that remembers nothing
    assert one.cues == anew.cues
    assert one.length_s == anew.length_s
    by_name = {fire.cue: fire.packet for fire in fired}
    starts = [(start_of(shot, cue, by_name), cue.cue) for cue in shot.shot.cues if not cue.skip]
    expected = sorted(((start_s, name) for start_s, name in starts if start_s is not None), key=lambda pair: pair[0])
    assert [(cue.start_s, cue.name) for cue in one.cues] == expected
    numbers = np.array(packets or range(anew.packet_count + 1))
    assert one.slots(numbers).tobytes() == anew.slots(numbers).tobytes()
    times_s = one.times_s(numbers) + 1e-3
    assert one.levels(times_s).tobytes() == anew.levels(times_s).tobytes()


@given(st.data())
@settings(max_examples=times(40))
def test_whatever_is_fired_or_edited_it_renders_the_same_bytes(data: st.DataObject) -> None:
    """From one list of fired cues to any other, one speed to another, one edit to the next; read in between or not."""
    show, speed, is_live = data.draw(shows()), Fraction(1), False
    fired, timeline = list[FiredCue](), show.plan("1").timeline().compiled()
    for what in data.draw(st.lists(st.sampled_from(["fire", "edit", "edit", "run"]), min_size=1, max_size=5)):
        if what == "edit":
            show = data.draw(edited(show))
        elif what == "run":
            speed, is_live = data.draw(st.sampled_from([Fraction(1), Fraction(1, 4), Fraction(3)])), not is_live
        shot = replace(show.plan("1", speed), is_axis_live=is_live)
        if what == "fire":
            fired = data.draw(fired_in(shot))
        timeline = shot.timeline(fired, like=timeline)
        read = st.sets(st.integers(0, 140), min_size=1, max_size=3).map(sorted)
        assert_same(timeline, shot, fired, data.draw(st.one_of(st.just([]), st.just([]), read)))


@given(st.data())
@settings(max_examples=times(30))
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
    assert_same(timeline, shot, fired)
    assert b"".join(sent) == shot.timeline(fired).slots(range(len(sent))).tobytes()


EDITS = {
    "start": SetValue((*CUES, 1, "at"), "0.9 s"),
    "wait": SetValue((*CUES, 2, "wait"), "0.1 s"),
    "fade": SetValue((*CUES, 1, "fade"), "3 s"),
    "curve": SetValue((*CUES, 1, "curve"), "ease"),
    "colour path": SetValue((*CUES, 1, "colour path"), "channels"),
    "another look": SetValue((*CUES, 1, "look"), "b"),
    "what a look asks": SetValue(("looks", "a", "key"), "30 %"),
    "left out": SetValue((*CUES, 1, "skip"), "yes"),
    "address": SetValue(("rig", "key", "address"), "1.61"),
    "default of a channel": SetValue(("types", "spot", "channels", 3, "default"), "60 %"),
}


@pytest.mark.parametrize("change", EDITS.values(), ids=EDITS)
def test_what_one_edit_changes_is_compiled_again(change: SetValue) -> None:
    """Here the whole timeline was compiled before, so all of it could be taken over."""
    looks = (
        "looks:\n  a: {key: full, wash: {level: full, colour: 3000 K}}\n"
        "  b: {old: full, wash: {level: 20 %, colour: sRGB 0 0 255}}\n"
    )
    cues = (
        "cue: 1, at: 0 s, look: b",
        "cue: 2, at: 0.5 s, look: a, fade: 1 s",
        "cue: 3, after: 2, wait: 0.5 s, look: b, fade: 1 s",
    )
    before = opened(show_text(*cues, head=HEAD, looks=looks))
    shot = changed(before, [change]).plan("1")
    after = shot.timeline(like=before.plan("1").timeline().compiled())
    assert_same(after, shot, ())
    numbers = range(100)
    assert after.slots(numbers).tobytes() != before.plan("1").timeline().slots(numbers).tobytes()


LINES = "looks:\n  key: {key: full}\n  old: {old: full}\n"


def test_what_comes_before_the_first_difference_is_taken_over() -> None:
    """The spans are the very same."""
    shot = plan("cue: 1, at: 1 s, look: key, fade: 2 s", "cue: 2, at: operator, look: old", head=HEAD, looks=LINES)
    first = shot.timeline([FiredCue("2", 50)])
    spans = first.spans
    second = shot.timeline([FiredCue("2", 60)], like=first)
    assert [one is two for one, two in zip(spans, second.spans, strict=True)] == [True, True, False]


def test_no_more_is_compiled_than_what_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """A cue that is fired in a take costs its own span; those after it are compiled as they come."""
    cues = [f"cue: {number}, at: {number} s, look: {'key' if number % 2 else 'old'}, fade: 2 s" for number in range(9)]
    shot = plan(*cues, "cue: by hand, at: operator, look: old", head=HEAD, looks=LINES)
    compiled: list[str] = []
    span = StartedCue.span

    def noted(cue: StartedCue, before: Span, patch: Patch) -> Span:
        compiled.append(cue.name)
        return span(cue, before, patch)

    monkeypatch.setattr(StartedCue, "span", noted)
    first = shot.timeline()
    first.slots([121])
    assert compiled == ["0", "1", "2", "3"]
    second = shot.timeline([FiredCue("by hand", 122)], like=first)
    second.slots([122])
    assert compiled[4:] == ["by hand"]
    second.slots([165, 205])
    assert compiled[5:] == ["4", "5"]
