"""Edits made in memory at once are those that the changed file reads as."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.draft.incremental import changed
from cuedeck.errors import Refusal
from cuedeck.show.yamltext.changes import Append, Change, Insert, Remove, Rename, SetValue
from cuedeck.show.yamltext.edit import apply_changes
from cuedeck.timeline.opening import OpenedShow, open_show
from tests.tools import times

DEMO = Path(__file__).parents[2] / "shows" / "barometer"


def read_demo(relative: str) -> bytes:
    return (DEMO / relative).read_bytes()


def reread(changes: Sequence[Change]) -> OpenedShow:
    """Return the demo show with changes made in its text."""
    raw = apply_changes("show.yaml", read_demo("show.yaml"), changes)
    return open_show(lambda name: raw if name == "show.yaml" else read_demo(name))


CUES = ("shots", "1", "cues")
CHANGES = st.sampled_from(
    [
        SetValue((*CUES, 1, "at"), "slide 12 mm"),
        SetValue((*CUES, 1, "fade"), "0.9 s"),
        SetValue((*CUES, 2, "look"), "dial"),
        SetValue((*CUES, 2, "skip"), "yes"),
        Append(CUES, {"cue": "9", "at": "9 s", "look": "all out", "fade": "1 s"}),
        Insert((*CUES, 1), {"cue": "1.5", "with": "1", "wait": "0.4 s", "look": "dial"}),
        Remove((*CUES, 4)),
        SetValue(("shots", "1", "length"), "12 s"),
        SetValue(("shots", "2", "length"), "300 frames"),
        SetValue((*CUES, 3, "fade"), "20 frames"),
        SetValue(("looks", "lamplight", "table"), "-2 stop"),
        SetValue(("looks", "left edge", "rim left"), {"level": "-1.5 stop", "colour": "5000 K"}),
        SetValue(("looks", "new"), {"fill": "20 %"}),
        Insert(("looks", "between"), {"like": "morning", "rider": "full"}, 3),
        SetValue(("groups", "sides"), ["rim left", "rim top"]),
        SetValue(("rig", "fill", "address"), "1.101"),
        SetValue(("rig", "fill", "never above"), "50 %"),
        SetValue(("camera", "fps"), "24"),
        SetValue(("title",), "another"),
    ]
)


@settings(max_examples=times(25))
@given(st.lists(CHANGES, min_size=1, max_size=4, unique_by=lambda change: (type(change), change.path)))
def test_the_show_is_the_one_that_the_changed_text_reads_as(changes: list[Change]) -> None:
    """The model, the targets of its looks, and every packet of its shots."""
    slow = reread(changes)
    if slow.errors:  # some of these changes contradict each other: what the file would refuse is refused, or told
        with suppress(Refusal):
            changed(reread(()), changes)
        return
    quick = changed(reread(()), changes)
    assert quick.show == slow.show
    assert quick.source.data == slow.source.data
    assert quick.targets.keys() == slow.targets.keys()
    for look, target in slow.targets.items():
        np.testing.assert_array_equal(quick.targets[look], target)
    for shot in slow.show.shots:
        one, other = quick.plan(shot).timeline(), slow.plan(shot).timeline()
        packets = np.arange(0, other.packet_count, 7)
        assert one.slots(packets).tobytes() == other.slots(packets).tobytes()


def test_what_is_not_touched_is_taken_over() -> None:
    """The very objects: that is what makes it quick."""
    before = reread(())
    after = changed(before, [SetValue((*CUES, 1, "fade"), "0.9 s")])
    assert after.show.looks is before.show.looks
    assert after.show.shots["2"] is before.show.shots["2"]
    assert after.show.shots["1"].cues[0] is before.show.shots["1"].cues[0]
    assert after.patch is before.patch
    assert all(after.targets[look] is target for look, target in before.targets.items())


def test_looks_that_are_like_one_that_changed_are_worked_out_anew() -> None:
    """Blue hour is like morning, which is like lamplight."""
    before = reread(())
    after = changed(before, [SetValue(("looks", "lamplight", "background", "level"), "50 %")])
    other = {look for look, target in before.targets.items() if after.targets[look] is not target}
    assert other == {"lamplight", "morning", "blue hour"}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (SetValue((*CUES, 1, "fade"), "two"), "'two' is not a time"),
        (SetValue((*CUES, 1, "curve"), "steep"), "'curve' does not know this word"),
        (SetValue(("looks", "left edge", "rim left"), "45"), "'45' has no unit"),
        (SetValue(("rig", "fill", "address"), "1.513"), "slot 513 is out of range"),
    ],
)
def test_what_cannot_be_read_is_refused_in_the_words_of_the_show(change: Change, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        changed(reread(()), [change])


def test_a_look_that_is_renamed_keeps_its_place() -> None:
    after = changed(reread(()), [Rename(("looks", "dial"), "face"), SetValue((*CUES, 5, "look"), "face")])
    assert list(after.show.looks).index("face") == list(reread(()).show.looks).index("dial")
    assert "face" in after.targets
