"""What differs between two pieces of data: it makes one of the other, and holds little more than what differs."""

from __future__ import annotations

import json

from hypothesis import given
from hypothesis import strategies as st

from cuedeck.draft.delta import ChangedEntries, ChangedEntry, Replaced, apply_delta, delta_between

KEYS = st.sampled_from(["a", "b", "c", "d", "e"])
DATA = st.recursive(
    st.none() | st.sampled_from(["", "x", "y"]),
    lambda inner: st.lists(inner, max_size=6) | st.dictionaries(KEYS, inner, max_size=5),
    max_leaves=20,
)


@given(DATA, DATA)
def test_the_one_is_made_of_the_other_and_back_again_with_its_order(one: object, other: object) -> None:
    """Compared as text, so that the order of keys counts."""
    delta = delta_between(one, other)
    assert json.dumps(apply_delta(one, delta, back=False)) == json.dumps(other)
    assert json.dumps(apply_delta(other, delta, back=True)) == json.dumps(one)
    assert (delta is None) == (json.dumps(one) == json.dumps(other))


def test_only_what_differs_is_kept_wherever_it_stands() -> None:
    """The first cue and the last, of a thousand, and one that went from one end to the other."""
    cues = [{"cue": str(number), "fade": "1 s"} for number in range(1000)]
    other = [dict(cue) for cue in cues]
    other[0]["fade"] = other[-1]["fade"] = "2 s"
    fade = ChangedEntry(1, Replaced("1 s", "2 s"))
    assert delta_between(cues, other) == (ChangedEntry(0, (fade,)), ChangedEntry(999, (fade,)))
    moved = [*map(dict, cues[1:]), dict(cues[0])]
    assert delta_between(cues, moved) == (
        ChangedEntries(0, ((None, cues[0]),), ()),
        ChangedEntries(1000, (), ((None, cues[0]),)),
    )


def test_what_is_alike_stays_the_very_same_object() -> None:
    """So only what a step touched is read again."""
    old = {"looks": {"a": {"left": "full"}, "b": {"left": "out"}}, "shots": {"1": {"cues": []}}}
    new = {"looks": {"a": {"left": "50 %"}, "b": {"left": "out"}}, "shots": {"1": {"cues": []}}}
    made = apply_delta(old, delta_between(old, new), back=False)
    assert made == new
    assert made["looks"]["b"] is old["looks"]["b"]
    assert made["shots"] is old["shots"]
