"""Edits of cues, as they come to stand in the file."""

from __future__ import annotations

import difflib
from fractions import Fraction
from pathlib import Path

import pytest

from cuedeck.draft import cues
from cuedeck.draft.incremental import changed
from cuedeck.draft.steps import Edit
from cuedeck.errors import Refusal
from cuedeck.show.yamltext.edit import apply_changes
from cuedeck.timeline.opening import OpenedShow, open_show
from cuedeck.timing.labels import frame_at

DEMO = Path(__file__).parents[2] / "shows" / "barometer"
BEFORE = (DEMO / "show.yaml").read_bytes()


def opened(raw: bytes = BEFORE) -> OpenedShow:
    return open_show(lambda name: raw if name == "show.yaml" else (DEMO / name).read_bytes())


def written(edit: Edit, raw: bytes = BEFORE) -> bytes:
    return apply_changes("show.yaml", raw, edit.changes)


def difference(edit: Edit) -> list[str]:
    """Return the lines that an edit changes in the demo show; what it makes has no error."""
    after = written(edit)
    assert not opened(after).errors
    diff = difflib.unified_diff(BEFORE.decode().splitlines(), after.decode().splitlines(), lineterm="", n=0)
    return [f"{line[0]} {line[1:].strip()}" for line in diff if line[0] in "+-" and line[:3] not in ("---", "+++")]


def test_a_fade_is_stretched_where_it_stands() -> None:
    edit = cues.lengthen_fade(opened(), "1", "2", Fraction(1, 10))
    assert edit.name == "fade of cue 2: 1.7 s"
    assert difference(edit) == [
        "- - {cue: 2, at: slide 10 mm, look: left edge, fade: 1.6 s, curve: even stops}",
        "+ - {cue: 2, at: slide 10 mm, look: left edge, fade: 1.7 s, curve: even stops}",
    ]


def test_a_fade_of_nothing_is_not_written() -> None:
    edit = cues.lengthen_fade(opened(), "1", "2", Fraction(-9))
    assert difference(edit)[1] == "+ - {cue: 2, at: slide 10 mm, look: left edge, curve: even stops}"


def test_a_curve_that_is_meant_where_none_is_written_is_taken_out() -> None:
    assert "curve" not in difference(cues.set_curve(opened(), "1", "2", "linear"))[1]
    assert "curve: ease}" in difference(cues.turn_curve(opened(), "1", "2", -1))[1]


def test_another_kind_of_start_takes_the_place_of_the_one_there_was() -> None:
    edit = cues.set_start(opened(), "1", "6", "slide 200 mm")
    assert edit.name == "cue 6 starts at slide 200 mm"
    assert difference(edit)[1] == (
        "+ - {cue: 6, look: dial, fade: 2.4 s, curve: ease, title: the slider arrives, at: slide 200 mm}"
    )


def test_a_cue_is_added_in_its_place() -> None:
    edit = cues.add(opened(), "1", Fraction(4))
    assert difference(edit) == ["+ - {cue: 5.5, at: 4 s, look: dusk behind}"]


def test_what_starts_by_way_of_a_cue_that_is_deleted_starts_at_the_same_time() -> None:
    before = opened().plan("1").start_times()["6"]
    edit = cues.delete(opened(), "1", "4", retie=True)
    assert edit.name == "delete cue 4, and let cue 6 start by itself"
    after = opened(written(edit)).plan("1").start_times()["6"]
    assert after is not None
    assert before is not None
    assert abs(after - before) <= Fraction(1, 2000)
    with pytest.raises(Refusal, match="cue 6 starts by way of cue 4: enter on its 'starts' gives it another start"):
        cues.delete(opened(), "1", "4")


def test_a_name_is_another_wherever_it_stands() -> None:
    edit = cues.rename(opened(), "1", "4", "crown")
    after = opened(written(edit)).show.shots["1"]
    assert [cue.cue for cue in after.cues] == ["1", "2", "3", "crown", "5", "6"]
    assert after.cues[5].after == "crown"


def test_cues_are_renumbered_in_the_order_in_which_they_start() -> None:
    swapped = written(cues.set_start(opened(), "1", "5", "0.5 s"))
    edit = cues.renumber(opened(swapped), "1")
    after = opened(written(edit, swapped))
    names = [(cue.cue, cue.look) for cue in after.show.shots["1"].cues]
    assert names == [
        ("1", "black"),
        ("3", "left edge"),
        ("4", "right edge"),
        ("5", "top edge"),
        ("2", "dusk behind"),
        ("6", "dial"),
    ]
    assert after.show.shots["1"].cues[5].after == "5"


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (lambda show: cues.set_start(show, "1", "2", "after 9"), "shot 1 has no cue '9'"),
        (lambda show: cues.set_start(show, "1", "4", "after 6"), "cue 6 starts by way of cue 4 itself: choose another"),
        (
            lambda show: cues.set_start(show, "1", "2", "slide 9 m"),
            "never comes to slide 9 m: its move has slide ",
        ),
        (lambda show: cues.set_fade(show, "1", "2", "2 sec of time"), "write"),
        (lambda show: cues.set_curve(show, "1", "2", "eease"), "write 'ease'"),
        (lambda show: cues.set_look(show, "1", "2", "dail"), "write 'dial'"),
        (lambda show: cues.rename(show, "1", "2", "3"), "there is a cue 3 in this shot already"),
        (lambda show: cues.rename(show, "1", "2", " "), "a name is empty"),
        (lambda show: cues.lengthen_fade(show, "1", "77", Fraction(1)), "shot 1 has no cue 77 any more"),
    ],
)
def test_what_makes_no_sense_is_refused_with_what_to_write(build: object, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        build(opened())  # type: ignore[operator]


def test_a_cue_that_is_left_out_keeps_its_place_and_what_follows_it() -> None:
    """It changes no light; taken in again, the file is as it was."""
    edit = cues.toggle_skip(opened(), "1", "4")
    assert "skip: yes}" in difference(edit)[1]
    show = opened(written(edit))
    plan = show.plan("1")
    assert plan.start_times()["6"] == opened().plan("1").start_times()["6"]
    assert "4" not in [cue.name for cue in plan.timeline().cues]
    assert written(cues.toggle_skip(show, "1", "4"), written(edit)) == BEFORE


def test_names_of_new_cues_count_on_or_stand_between() -> None:
    show = opened()
    assert cues.free_name(show, "1", 6) == "7"
    assert cues.free_name(show, "1", 2) == "2.5"
    between = opened(written(cues.duplicate(show, "1", "2")))
    assert cues.free_name(between, "1", 2) == "2.1"


RATES = """cuedeck: 2
camera: {fps: FPS}
rig: {key: {type: dimmer, address: 1.1}}
looks: {lit: {key: full}}
shots:
  "1":
    cues:
      - {cue: 1, at: FRAME frames, look: lit}
      - {cue: 2, with: 1, look: lit}
"""


@pytest.mark.parametrize("fps", ["23.976", "24", "25", "29.97"])
@pytest.mark.parametrize("frame", [0, 1, 14, 29, 101])
def test_what_is_tied_to_a_deleted_cue_stays_in_its_frame(fps: str, frame: int) -> None:
    raw = RATES.replace("FPS", fps).replace("FRAME", str(frame)).encode()
    show = open_show({"show.yaml": raw}.__getitem__)
    after = apply_changes("show.yaml", raw, cues.delete(show, "1", "1", retie=True).changes)
    plan = open_show({"show.yaml": after}.__getitem__).plan("1")
    start_s = plan.start_times()["2"]
    assert start_s is not None
    assert frame_at(start_s, plan.fps_on_set) == frame


@pytest.mark.parametrize("shot", ["{length: 2 s}", "{length: 2 s, cues: []}", "{length: 2 s, cues: }"])
def test_a_cue_is_added_to_a_shot_that_has_none(shot: str) -> None:
    raw = f"cuedeck: 2\nlooks: {{a: {{}}}}\nshots:\n  x: {shot}\n".encode()
    show = open_show({"show.yaml": raw}.__getitem__)
    edit = cues.add(show, "x", Fraction(1))
    after = open_show({"show.yaml": apply_changes("show.yaml", raw, edit.changes)}.__getitem__)
    assert [(cue.cue, str(cue.at)) for cue in after.show.shots["x"].cues] == [("1", "1 s")]
    assert changed(show, edit.changes).show == after.show


def test_a_cue_is_added_behind_one_that_is_there_only() -> None:
    with pytest.raises(Refusal, match="shot 1 has no cue '9'"):
        cues.add_at(opened(), "1", "after 9")
