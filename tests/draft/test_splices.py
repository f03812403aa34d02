"""Text that took the place of other text."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.draft.splices import Splice, inverse, splice_between, spliced, splices_between

TEXTS = st.text(alphabet="abü\n\ufeff", max_size=30)


def test_only_the_stretch_that_differs_is_kept() -> None:
    """What stands before and behind it is not."""
    splice = splice_between("show.yaml", "fade: 2 s, curve: ease", "fade: 2.5 s, curve: ease")
    assert splice == Splice("show.yaml", 7, "", ".5")


@given(TEXTS, TEXTS)
def test_a_splice_makes_one_text_of_the_other_and_its_inverse_the_first_again(one: str, other: str) -> None:
    """Whatever they are."""
    splices = (splice_between("a", one, other),)
    there = spliced({"a": one}, splices)
    assert there == {"a": other}
    assert spliced(there, inverse(splices)) == {"a": one}


@given(st.lists(TEXTS, max_size=40), st.lists(TEXTS, max_size=40))
def test_changes_far_apart_are_stretches_apart_and_make_the_same_text(one: list[str], other: list[str]) -> None:
    """However many lines there are."""
    was, now = "\n".join(one), "\n".join(other)
    splices = splices_between("a", was, now)
    assert spliced({"a": was}, splices) == {"a": now}
    assert spliced({"a": now}, inverse(splices)) == {"a": was}


def test_the_first_line_and_the_last_are_no_reason_to_keep_all_between() -> None:
    """A step of undo is as small as what it changed."""
    lines = [f"  look {number}: {{left: 50 %}}" for number in range(500)]
    was = "\n".join(["title: one", *lines, "length: 1 s"])
    now = was.replace("title: one", "title: two").replace("length: 1 s", "length: 2 s")
    assert splices_between("a", was, now) == (
        Splice("a", len(was) - 3, "1", "2"),
        Splice("a", 7, "one", "two"),
    )


@given(st.lists(TEXTS, min_size=2, max_size=6))
def test_many_splices_are_undone_in_the_other_order(texts: list[str]) -> None:
    """All at once."""
    splices = [splice_between("a", one, other) for one, other in pairwise(texts)]
    assert spliced({"a": texts[0]}, splices) == {"a": texts[-1]}
    assert spliced({"a": texts[-1]}, inverse(splices)) == {"a": texts[0]}


def test_a_text_that_is_not_as_it_was_is_not_changed() -> None:
    """It is said."""
    with pytest.raises(ValueError, match=r"show\.yaml does not hold what was written there"):
        spliced({"show.yaml": "cue: 2"}, [Splice("show.yaml", 5, "3", "4")])
