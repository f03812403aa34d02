"""A timeline that is compiled again from one much like it is the one that is compiled from nothing."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.draft.incremental import changed
from cuedeck.show.yamltext.changes import SetValue
from cuedeck.timeline.opening import OpenedShow, open_show
from tests.tui.shows import RIG, SHOTS

TEXT = (RIG + SHOTS).encode()


def opened() -> OpenedShow:
    return open_show({"show.yaml": TEXT}.__getitem__)


CHANGES = st.sampled_from(
    [
        SetValue(("shots", "1", "cues", 0, "at"), "0.2 s"),
        SetValue(("shots", "1", "cues", 1, "at"), "1 s"),
        SetValue(("shots", "1", "cues", 1, "fade"), "0.3 s"),
        SetValue(("shots", "1", "cues", 1, "curve"), "ease"),
        SetValue(("shots", "1", "cues", 2, "look"), "black"),
        SetValue(("looks", "edges", "left"), "-3 stop"),
        SetValue(("looks", "dusk", "wall", "level"), "80 %"),
        SetValue(("rig", "left", "address"), "1.101"),
    ]
)


@given(st.lists(CHANGES, min_size=1, max_size=4), st.sampled_from([Fraction(1), Fraction(1, 4)]))
def test_it_renders_the_same_bytes(changes: list[SetValue], speed: Fraction) -> None:
    """Whatever was changed, in one step or several, and at another speed than before."""
    show, before = opened(), opened().plan("1").timeline()
    for change in changes:
        show = changed(show, [change])
        before = show.plan("1", speed).timeline(like=before)
    anew = show.plan("1", speed).timeline()
    packets = np.arange(anew.packet_count)
    assert before.packet_count == anew.packet_count
    assert before.slots(packets).tobytes() == anew.slots(packets).tobytes()


def test_up_to_a_time_it_is_the_same_light() -> None:
    """After that it stays as it was."""
    plan = opened().plan("1")
    whole, part = plan.timeline(), plan.timeline(until_s=Fraction(2))
    assert part.slots([80]).tobytes() == whole.slots([80]).tobytes()
    assert part.packet_count == whole.packet_count
    assert len(part.spans) < len(whole.spans)


def test_what_comes_before_the_first_difference_is_taken_over() -> None:
    """The spans are the very same."""
    before = opened().plan("1")
    other = replace(before, targets={**before.targets, "dusk": before.targets["dusk"] * 1.0})
    first = before.timeline()
    second = other.timeline(like=first)
    assert [one is two for one, two in zip(first.spans, second.spans, strict=True)] == [True, True, False]
