"""A name is one name in both of its Unicode forms: composed, as most keyboards give it, and taken apart.

The forms are those of Unicode Standard Annex 15: NFC has é as U+00E9, NFD as e and U+0301.
"""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest

from cuedeck.draft.cues import set_look, set_title
from cuedeck.folder.folder import ShowFolder
from cuedeck.show.load import load_show
from cuedeck.show.problems import ProblemsFound
from cuedeck.show.yamltext.changes import Rename, SetValue
from cuedeck.show.yamltext.edit import apply_changes
from cuedeck.timeline.choosing import sound_plan_of

CAFE = "caf\u00e9"
APART = unicodedata.normalize("NFD", CAFE)
SHOW = f"""\
cuedeck: 2
slots: 24
refresh: 40 Hz
include: looks/{CAFE}.yaml
types:
  {CAFE} lamp: {{channels: [intensity]}}
mains: {{circuits: {{{APART}: 16 A}}}}
rig:
  {APART} left: {{type: {APART} lamp, address: 1.1, circuit: {CAFE}}}
  {CAFE} right: {{type: {CAFE} lamp, address: 1.2}}
groups:
  {APART}s: [{CAFE} left, {APART} right]
looks:
  {APART}: {{{CAFE}s: full}}
  like it: {{like: {CAFE}, {CAFE} left: out}}
shots:
  {CAFE}:
    move: {{file: moves/{CAFE}.csv, columns: {{time: time s, {APART}: {CAFE} mm}}}}
    cues:
      - {{cue: {APART}, at: {APART} 60 mm, look: {CAFE}}}
      - {{cue: b, after: {CAFE}, look: like it}}
      - {{cue: c, at: operator, look: from {APART}}}
"""
MOVE = f"time,{CAFE}\n0,0\n2,120\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A show whose files have their names taken apart on the disk, as an older Mac leaves them."""
    for name, text in (
        ("show.yaml", SHOW),
        (f"moves/{APART}.csv", MOVE),
        (f"looks/{APART}.yaml", f"looks: {{from {CAFE}: {{{APART} right: out}}}}\n"),
    ):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tmp_path


def test_two_forms_of_a_name_are_one_name_everywhere(folder: Path) -> None:
    opened = ShowFolder(folder).open()
    assert [str(problem) for problem in opened.problems] == []
    for shot in (CAFE, APART):
        plan = sound_plan_of(opened, shot)
        assert plan.name == CAFE
        assert plan.start_times() == {CAFE: 1, "b": 1, "c": None}
        assert plan.timeline().slots([80])[0, 0, :2].tolist() == [0, 255]


@pytest.mark.parametrize("form", [CAFE, APART])
def test_a_name_that_stands_twice_in_two_forms_stands_twice(form: str) -> None:
    for text in (f"looks: {{{CAFE}: {{}}, {form}: {{}}}}", f"rig: {{{form}: {{}}, {CAFE}: {{}}}}"):
        with pytest.raises(ProblemsFound, match="stands here twice"):
            load_show(f"cuedeck: 2\n{text}\n".encode())


def test_a_save_keeps_the_form_that_the_user_typed(folder: Path) -> None:
    show = ShowFolder(folder)
    before = (folder / "show.yaml").read_bytes()
    opened = show.open()
    show.change(opened, [SetValue(("shots", CAFE, "cues", 0, "fade"), "1 s")])
    after = (folder / "show.yaml").read_bytes()
    assert after.replace(b", fade: 1 s", b"") == before
    show.change(show.open(), [SetValue(("looks", f"from {CAFE}", f"{CAFE} right"), "5 %")])
    assert [path.name for path in (folder / "looks").glob("*.yaml")] == [f"{APART}.yaml"]
    assert (folder / "looks" / f"{APART}.yaml").read_text(encoding="utf-8") == (
        f"looks: {{from {CAFE}: {{{APART} right: 5 %}}}}\n"
    )


def test_an_edit_with_a_name_that_was_typed_apart_is_made(folder: Path) -> None:
    opened = ShowFolder(folder).open()
    edit = set_title(opened, CAFE, "b", f"the {APART}")
    assert "the caf" in apply_changes("show.yaml", SHOW.encode(), edit.changes).decode()
    assert set_look(opened, CAFE, "b", CAFE).changes
    renamed = apply_changes("show.yaml", SHOW.encode(), [Rename(("looks", CAFE), "new")]).decode()
    assert "\n  new: {" in renamed
