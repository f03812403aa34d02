"""A change to a show lands in the file where what it changes stands."""

from __future__ import annotations

from pathlib import Path

import pytest

from cuedeck.folder.folder import ShowFolder
from cuedeck.folder.saving import ChangedOnDisk
from cuedeck.show.yamltext.changes import SetValue

SHOW = "cuedeck: 2\ninclude: [looks.yaml]\nrig: {key: {type: dimmer, address: 1.1}}\n"
LOOKS = "looks:\n  a: {key: 45 %}   # mine\n"


@pytest.fixture
def folder(tmp_path: Path) -> ShowFolder:
    (tmp_path / "show.yaml").write_text(SHOW, encoding="utf-8")
    (tmp_path / "looks.yaml").write_text(LOOKS, encoding="utf-8")
    return ShowFolder(tmp_path)


def test_a_look_of_an_included_file_is_changed_there(folder: ShowFolder) -> None:
    assert folder.change(folder.open(), [SetValue(("looks", "a", "key"), "-1 stop")]) == ["looks.yaml"]
    assert (folder.path / "looks.yaml").read_text(encoding="utf-8") == LOOKS.replace("45 %", "-1 stop")
    assert (folder.path / "show.yaml").read_text(encoding="utf-8") == SHOW


def test_changes_in_two_files_are_one_save(folder: ShowFolder) -> None:
    changes = [SetValue(("looks", "a", "key"), "full"), SetValue(("rig", "key", "address"), "1.7")]
    assert sorted(folder.change(folder.open(), changes)) == ["looks.yaml", "show.yaml"]
    opened = folder.open()
    assert str(opened.show.rig["key"].address) == "1.7"
    assert str(opened.show.looks["a"].fixtures["key"].level) == "100 %"


def test_nothing_is_saved_where_any_file_of_the_show_was_changed_meanwhile(folder: ShowFolder) -> None:
    opened = folder.open()
    (folder.path / "looks.yaml").write_text(LOOKS + "# theirs\n", encoding="utf-8")
    with pytest.raises(ChangedOnDisk, match=r"looks\.yaml was changed by somebody else"):
        folder.change(opened, [SetValue(("rig", "key", "address"), "1.7")])
    assert (folder.path / "show.yaml").read_text(encoding="utf-8") == SHOW
