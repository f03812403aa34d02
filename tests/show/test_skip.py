"""A cue that is left out: read, checked, and without effect on light."""

from __future__ import annotations

import pytest

from cuedeck.report.cue_sheet import cue_rows
from cuedeck.timeline.opening import OpenedShow, open_show

SHOW = """cuedeck: 2
rig: {key: {type: dimmer, address: 1.1}}
looks: {lit: {key: full}, dark: {everything: out}}
shots:
  "1":
    cues:
      - {cue: 1, at: 0 s, look: lit, skip: SKIP}
      - {cue: 2, after: 1, wait: 1 s, look: dark}
      - {cue: 3, at: operator, look: lit, skip: SKIP}
      - {cue: 4, after: 3, look: dark}
"""


def opened(skip: str) -> OpenedShow:
    return open_show({"show.yaml": SHOW.replace("SKIP", skip).encode()}.__getitem__)


@pytest.mark.parametrize(("word", "is_out"), [("yes", True), ("no", False), ("true", True), ("No", False)])
def test_it_is_read_from_yes_and_no(word: str, is_out: bool) -> None:
    assert opened(word).show.shots["1"].cues[0].skip is is_out


def test_another_word_is_refused_with_what_to_write() -> None:
    (problem,) = opened("maybe").errors[:1]
    assert (problem.what, problem.cure) == ("'maybe' is neither yes nor no", "write yes or no")


def test_it_changes_no_light_keeps_what_starts_after_it_and_nobody_fires_it() -> None:
    plan = opened("yes").plan("1")
    timeline = plan.timeline()
    assert [cue.name for cue in timeline.cues] == ["2"]
    assert timeline.cues[0].start_s == 1
    assert plan.operator_cues == ()
    assert int(timeline.slots([0])[0, 0, 0]) == 0


def test_a_cue_that_waits_for_one_that_is_left_out_and_fired_by_hand_is_warned_about() -> None:
    (problem,) = [one for one in opened("yes").problems if "cue 4" in one.what]
    assert problem.what == "cue 4 never happens: cue 3, which it waits for, is left out and is fired by nobody"
    assert problem.cure == "take cue 3 in again, or give cue 4 another start"
    assert not problem.is_error


def test_the_sheet_says_that_it_is_left_out() -> None:
    rows = {row.cue: row.start for row in cue_rows(opened("yes").plan("1"))}
    assert rows["1"] == "left out: 0 s"
    assert rows["2"] == "1 s after cue 1"


def test_a_cue_that_waits_by_way_of_others_that_are_left_out_is_warned_about_too() -> None:
    more = "      - {cue: 5, after: 3, look: lit, skip: yes}\n      - {cue: 6, after: 5, look: lit}\n"
    text = SHOW.replace("SKIP", "yes") + more
    problems = open_show({"show.yaml": text.encode()}.__getitem__).problems
    assert [problem.what.partition(",")[0] for problem in problems if "never happens" in problem.what] == [
        "cue 4 never happens: cue 3",
        "cue 6 never happens: cue 5",
    ]
