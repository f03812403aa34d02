"""What leads a new user to a first cue."""

from __future__ import annotations

import pytest

from cuedeck.draft.first_shot import first_shot, guide_text
from cuedeck.errors import Refusal
from cuedeck.show.yamltext.edit import apply_changes
from cuedeck.timeline.opening import open_show

RIG = b"cuedeck: 2\nrig:\n  key: {type: dimmer, address: 1.1}\n"


def test_the_first_shot_starts_out_of_black() -> None:
    edit = first_shot(open_show({"show.yaml": RIG}.__getitem__))
    after = open_show({"show.yaml": apply_changes("show.yaml", RIG, edit.changes)}.__getitem__)
    assert edit.name == "new shot 1"
    assert not after.problems
    assert [(cue.cue, str(cue.at), cue.look) for cue in after.show.shots["1"].cues] == [("1", "0 s", "black")]


def test_a_show_without_a_light_says_how_to_write_one() -> None:
    with pytest.raises(Refusal, match="this show has no light yet: write one under 'rig'"):
        first_shot(open_show({"show.yaml": b"cuedeck: 2\n"}.__getitem__))


def test_the_guide_ends_with_the_first_light() -> None:
    shot = open_show(
        {"show.yaml": RIG + b"looks: {a: {}}\nshots: {x: {cues: [{cue: 1, at: 0 s, look: a}]}}\n"}.__getitem__
    )
    only = shot.show.shots["x"]
    assert guide_text(None, is_lit=False, is_nudged=False).startswith("this show has no shot yet: n makes one")
    assert "n adds a cue there" in guide_text(only, is_lit=False, is_nudged=False)
    assert guide_text(only, is_lit=True, is_nudged=False) == ""
