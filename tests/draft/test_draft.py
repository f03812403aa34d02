"""Undo and redo: every step leads back, and forth again."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.draft.cues import stretch_fade, toggle_skip
from cuedeck.draft.draft import Draft
from cuedeck.draft.nudges import Nudges
from cuedeck.timeline.opening import open_show
from tests.tui.shows import RIG, SHOTS

OPENED = open_show({"show.yaml": (RIG + SHOTS).encode()}.__getitem__)
DOINGS = st.lists(st.sampled_from(["fade", "skip", "nudge", "drop", "undo", "redo"]), max_size=14)


def state(draft: Draft) -> tuple[object, object]:
    return draft.opened.show, draft.nudges


def do(draft: Draft, what: str) -> None:
    match what:
        case "fade":
            draft.make(stretch_fade(draft.opened, "1", "2", Fraction(1, 10)))
        case "skip":
            draft.make(toggle_skip(draft.opened, "1", "3"))
        case "nudge":
            draft.nudge("nudge", draft.nudges.with_parts("edges", "left", {"level": f"{len(draft.done)} %"}))
        case "drop":
            draft.nudge("drop", Nudges())
        case "undo":
            draft.undo()
        case "redo":
            draft.redo()


@settings(max_examples=60, deadline=None)
@given(DOINGS)
def test_undoing_everything_is_the_beginning_and_doing_it_again_the_end(doings: list[str]) -> None:
    draft = Draft(OPENED)
    first = state(draft)
    for what in doings:
        do(draft, what)
    last = state(draft)
    count = 0
    while draft.undo() is not None:
        count += 1
    assert state(draft) == first
    assert draft.is_saved
    for _ in range(count):
        draft.redo()
    assert state(draft) == last


def test_steps_of_a_held_key_are_one_until_something_else_is_done() -> None:
    draft = Draft(OPENED)
    do(draft, "fade")
    do(draft, "fade")
    do(draft, "skip")
    do(draft, "fade")
    assert [step.name for step in draft.done] == ["fade of cue 2: 1.2 s", "leave cue 3 out", "fade of cue 2: 1.3 s"]
    draft.undo()
    do(draft, "fade")
    assert [step.name for step in draft.done][-1] == "fade of cue 2: 1.3 s"
    assert not draft.undone


def test_what_was_saved_is_known_wherever_undo_goes() -> None:
    draft = Draft(OPENED)
    do(draft, "fade")
    draft.saved(draft.opened)
    assert draft.is_saved
    draft.undo()
    assert not draft.is_saved
    draft.redo()
    assert draft.is_saved


def test_a_nudge_changes_no_file() -> None:
    draft = Draft(OPENED)
    do(draft, "nudge")
    assert draft.is_saved
    assert not draft.done[0].changes_files
    assert draft.shown.targets["edges"] is not OPENED.targets["edges"]
