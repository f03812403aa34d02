"""Undo and redo: every step leads back, and forth again."""

from __future__ import annotations

import gc
import tracemalloc
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.bench.shows import cue_list_text
from cuedeck.draft.cues import lengthen_fade, toggle_skip
from cuedeck.draft.draft import Draft
from cuedeck.draft.nudges import Nudges
from cuedeck.timeline.opening import OpenedShow, open_show
from tests.tools import times
from tests.tui.shows import RIG, SHOTS

OPENED = open_show({"show.yaml": (RIG + SHOTS).encode()}.__getitem__)
DOINGS = st.lists(st.sampled_from(["fade", "skip", "nudge", "drop", "undo", "redo"]), max_size=14)


def state(draft: Draft) -> tuple[object, object]:
    return draft.opened.show, draft.nudges


def do(draft: Draft, what: str) -> None:
    match what:
        case "fade":
            draft.make(lengthen_fade(draft.opened, "1", "2", Fraction(1, 10)))
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


@settings(max_examples=times(25))
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
    draft.saved()
    assert draft.is_saved
    draft.undo()
    assert not draft.is_saved
    draft.redo()
    assert draft.is_saved


def test_a_nudge_changes_no_file() -> None:
    draft = Draft(OPENED)
    do(draft, "nudge")
    assert draft.is_saved
    assert draft.done[0].difference.data is None
    assert draft.shown.targets["edges"] is not OPENED.targets["edges"]


def reread(old: str, new: str, text: str = RIG + SHOTS) -> OpenedShow:
    """Return the show as it reads from a changed text, with no object of the other."""
    assert old in text
    return open_show({"show.yaml": text.replace(old, new, 1).encode()}.__getitem__)


def test_what_was_undone_can_be_done_again_after_the_show_was_read_again() -> None:
    """The background reads the text anew after each pause: that is no edit."""
    draft = Draft(OPENED)
    do(draft, "fade")
    do(draft, "skip")
    there = state(draft)
    draft.undo()
    between = state(draft)
    draft.undo()
    draft.read_again(open_show({"show.yaml": (RIG + SHOTS).encode()}.__getitem__), is_saved=True)
    assert draft.is_saved
    draft.redo()
    assert state(draft) == between
    assert not draft.is_saved
    draft.redo()
    assert state(draft) == there


def test_undo_leads_behind_what_another_program_changed_and_redo_before_it() -> None:
    """Its moves come and go with it."""
    draft = Draft(OPENED)
    do(draft, "fade")
    mine = state(draft)
    draft.take_in("theirs")
    theirs = "keys: [{time: 0 s, slide: -100 mm}"
    draft.read_again(reread("keys: [{time: 0 s, slide: -300 mm}", theirs), is_saved=True)
    assert draft.is_saved
    assert draft.opened.moves["1"].axes["slide"].positions[0] == -100
    draft.undo()
    assert state(draft) == mine
    assert draft.opened.moves["1"].axes["slide"].positions[0] == -300
    assert not draft.is_saved
    draft.redo()
    assert draft.opened.moves["1"].axes["slide"].positions[0] == -100
    assert draft.is_saved


def test_a_step_that_the_files_refuse_goes_and_what_was_undone_before_it_can_be_done_again() -> None:
    """Another program saved half a file: that costs nobody a step."""
    draft = Draft(OPENED)
    do(draft, "fade")
    there = state(draft)
    draft.undo()
    refused = draft.take_in("theirs")
    draft.forget(refused.number)
    assert draft.redo() is not None
    assert state(draft) == there


def test_a_refused_step_takes_what_it_changed_with_it_also_from_under_later_ones() -> None:
    """Once the text was read again, undo of what came after leads to what was before it."""
    draft = Draft(OPENED)
    do(draft, "fade")
    first = state(draft)
    refused = draft.make(toggle_skip(draft.opened, "1", "3"))
    do(draft, "nudge")
    draft.forget(refused.number)
    assert [step.name for step in draft.done] == ["fade of cue 2: 1.1 s", "nudge"]
    draft.read_again(reread("look: edges, fade: 1 s", "look: edges, fade: 1.1 s"))
    draft.undo()
    assert state(draft) == first


def test_a_day_of_saves_of_another_program_leaves_little_more_than_what_they_changed() -> None:
    """A show of this size takes 500 kB in memory; a step may keep a fiftieth of that."""
    text = cue_list_text(20, 30)
    draft = Draft(open_show({"show.yaml": text.encode()}.__getitem__))
    most_bytes = 10_000
    steps = 10
    tracemalloc.start()
    try:
        for number in range(steps + 1):
            draft.take_in("theirs")
            draft.read_again(reread("look 7: {light 1: -4 stop", f"look 7: {{light 1: {number} %", text))
            if number == 0:
                gc.collect()
                first = tracemalloc.get_traced_memory()[0]
        gc.collect()
        grown = tracemalloc.get_traced_memory()[0] - first
    finally:
        tracemalloc.stop()
    assert grown / steps < most_bytes
    while draft.undo() is not None:
        pass
    assert draft.opened.source.node(("looks", "look 7", "light 1")) == "-4 stop"
