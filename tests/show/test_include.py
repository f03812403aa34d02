"""What an included file holds stands in the show as if it had been written there; what is wrong in it has its place."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

import pytest

from cuedeck.folder.folder import ShowFolder
from cuedeck.show import SHOW_FILE
from cuedeck.show.load import LoadedShow, load_show
from cuedeck.show.problems import Problem, ProblemsFound
from cuedeck.show.source import MOST_BYTES, PathRefused
from cuedeck.timeline.opening import OpenedShow, open_show

SHOW = """\
cuedeck: 2
include: [types/panels.yaml, looks/common.yaml]
rig:
  key: {type: panel, address: 1.1}
looks:
  own: {like: edges, key: -1 stop}
shots:
  1: {cues: [{cue: 1, at: 0 s, look: edges}, {cue: 2, after: 1, look: own}]}
"""
PANELS = "types:\n  panel: {channels: [intensity 16-bit], watts: 150}\n"
LOOKS = "looks:\n  edges: {key: 45 %}\n  black: {everything: out}\n"
FILES = {SHOW_FILE: SHOW, "types/panels.yaml": PANELS, "looks/common.yaml": LOOKS}


def loaded(files: Mapping[str, str | bytes]) -> LoadedShow:
    def read(name: str) -> bytes:
        if name not in files:
            raise FileNotFoundError(2, "No such file or directory", name)
        held = files[name]
        return held.encode() if isinstance(held, str) else held

    return load_show(read(SHOW_FILE), read)


def opened(files: Mapping[str, str]) -> OpenedShow:
    def read(name: str) -> bytes:
        if name not in files:
            raise FileNotFoundError(2, "No such file or directory", name)
        return files[name].encode()

    return open_show(read)


def in_words(problems: tuple[Problem, ...]) -> list[tuple[str, str]]:
    return [(str(problem.place), problem.what) for problem in sorted(problems)]


def including(written: str, **more: str) -> dict[str, str]:
    return {SHOW_FILE: f"cuedeck: 2\ninclude: {written}\n", **more}


def test_an_included_show_is_the_same_as_one_written_in_one_file() -> None:
    one_file = f"cuedeck: 2\n{PANELS}{SHOW.partition('yaml]')[2]}".replace("looks:\n", LOOKS)
    in_one, in_three = opened({SHOW_FILE: one_file}), opened(FILES)
    assert in_one.problems == in_three.problems == ()
    assert in_three.show.model_copy(update={"include": []}) == in_one.show
    slots = [show.plan("1").timeline().slots([0, 1]) for show in (in_one, in_three)]
    assert slots[0].tobytes() == slots[1].tobytes()
    assert slots[0].any()


def test_the_source_keeps_the_bytes_of_each_file_and_the_place_of_each_value() -> None:
    source = loaded(FILES).source
    assert list(source.files) == [SHOW_FILE, "types/panels.yaml", "looks/common.yaml"]
    assert dict(source.files) == {name: text.encode() for name, text in FILES.items()}
    assert str(source.place_of_value(("looks", "edges", "key"))) == "looks/common.yaml:2:16"
    assert str(source.place_of_key(("looks", "own", "key"))) == "show.yaml:6:22"
    assert str(source.place_of_key(("types", "panel"))) == "types/panels.yaml:2:3"
    assert str(source.place_of_key(("types",))) == "types/panels.yaml:1:1"
    assert str(source.place_of_key(("looks",))) == "show.yaml:5:1"


def test_one_path_needs_no_list() -> None:
    found = loaded({**including("looks/common.yaml"), "looks/common.yaml": LOOKS})
    assert found.problems == ()
    assert list(found.show.looks) == ["edges", "black"]


def test_a_section_may_stand_in_the_included_file_alone() -> None:
    found = loaded({**including("panels.yaml"), "panels.yaml": PANELS})
    assert found.problems == ()
    assert list(found.show.types) == ["panel"]


def test_a_wrong_value_in_an_included_file_is_reported_there() -> None:
    found = loaded({**FILES, "looks/common.yaml": "looks:\n  edges: {key: 450 %}\n  black: {everythin: out}\n"})
    assert in_words(found.problems) == [("looks/common.yaml:2:16", "450 % is out of range")]


def test_a_name_that_leads_nowhere_is_reported_in_the_included_file() -> None:
    show = opened({**FILES, "looks/common.yaml": LOOKS.replace("key", "kay")})
    assert in_words(show.problems) == [
        ("looks/common.yaml:2:11", "look 'edges' names 'kay', and no light of the rig is called that")
    ]


@pytest.mark.parametrize(
    ("written", "place", "what", "cure"),
    [
        ("../a.yaml", "2:10", "'../a.yaml' leads out of the show folder", "in the show folder"),
        ("looks/../../a.yaml", "2:10", "'looks/../../a.yaml' leads out of the show folder", "in the show folder"),
        ("[a/b/../../../c]", "2:11", "'a/b/../../../c' leads out of the show folder", "in the show folder"),
        ("/etc/hosts", "2:10", "'/etc/hosts' does not start in the show folder", "in the show folder"),
        ("~/a.yaml", "2:10", "'~/a.yaml' does not start in the show folder", "in the show folder"),
        ("'C:/a.yaml'", "2:10", "'C:/a.yaml' does not start in the show folder", "in the show folder"),
        (r"looks\a.yaml", "2:10", r"'looks\a.yaml' has a backslash in it", "write '/' between folders"),
        ("''", "2:10", "'' is no file", "in the show folder"),
        ("looks/..", "2:10", "'looks/..' is no file", "in the show folder"),
        ("[gone.yaml]", "2:11", "'gone.yaml' cannot be read: no such file or directory", "in the show folder"),
        ("show.yaml", "2:10", "the show includes itself", "take 'show.yaml' out"),
        ("[a.yaml, ./a.yaml]", "2:19", "'a.yaml' is included twice, first in line 2", "take one of them out"),
        ("{a: b}", "2:10", "a path or a list of paths is expected here", "include: [looks/common.yaml]"),
        ("", "2:9", "'include' is empty", "include: [looks/common.yaml]"),
        ("[[a.yaml]]", "2:11", "'0' is not a text", "write a plain text here"),
        ('"a\\e[2J"', "2:10", "'a␛[2J' has a character that does not print", "letters"),
    ],
)
def test_a_path_that_cannot_be_included_is_refused_where_it_is_written(
    written: str, place: str, what: str, cure: str
) -> None:
    (problem,) = loaded(including(written, **{"a.yaml": LOOKS})).problems
    assert (str(problem.place), problem.what) == (f"show.yaml:{place}", what)
    assert cure in problem.cure


def test_no_more_files_are_read_than_a_show_may_include() -> None:
    asked: list[str] = []
    names = [f"{number}.yaml" for number in range(150)]

    def read(name: str) -> bytes:
        asked.append(name)
        return f"looks: {{look {name}: {{}}}}".encode()

    found = load_show(f"cuedeck: 2\ninclude: [{', '.join(names)}]\n".encode(), read)
    assert in_words(found.problems) == [("show.yaml:2:10", "'include' has too many entries")]
    assert asked == names[:100]


def test_what_a_folder_refuses_is_reported_where_it_is_written() -> None:
    def read(_: str) -> bytes:
        raise PathRefused("the file is larger than 64 MB", "use a shorter recording")

    (problem,) = load_show(b"cuedeck: 2\ninclude: a.yaml\n", read).problems
    assert str(problem.place) == "show.yaml:2:10"
    assert problem.what == "the file is larger than 64 MB"
    assert "keep to 1 MB together" in problem.cure


def test_a_show_without_a_folder_includes_nothing() -> None:
    (problem,) = load_show(b"cuedeck: 2\ninclude: a.yaml\n").problems
    assert problem.what == "there is no show folder to read this from"


@pytest.mark.parametrize(
    ("text", "place", "what", "cure"),
    [
        ("rig: {}\n", "1:1", "the key 'rig' does not belong into an included file", "move it into the show itself"),
        ("look: {}\n", "1:1", "the key 'look' does not belong into an included file", "write 'looks'"),
        ("cuedeck: 2\n", "1:1", "the key 'cuedeck' does not belong into an included file", "move it into the show"),
        ("include: b.yaml\n", "1:1", "an included file includes no other", "name that file in the show itself"),
        ("looks: [a]\n", "1:8", "'looks' is not a mapping of keys to values", "write 'looks:'"),
        ("types:\n", "1:7", "'types' is not a mapping of keys to values", "write 'types:'"),
        ("", "1:1", "the file is empty", "take it out of 'include'"),
        ("- a\n", "1:1", "the file is not a mapping of keys to values", "start it with 'types:'"),
        ("looks: {a: !x {}}\n", "1:12", "the tag '!x' is not read", "without a tag"),
        ("looks:\n  a: {}\n  a: {}\n", "3:3", "'a' stands here twice, first in line 2", "another name"),
        ("looks: &x {a: *x}\n", "1:8", "this reference contains itself", "write the value out"),
        ("looks: {a: {<<: {}}}\n", "1:13", "merging with '<<' is not read", "like: NAME"),
        ("looks: {a: [}\n", "1:13", "not YAML: did not find expected node content", "line 1"),
        ("looks: " + "[" * 40 + "]" * 40, "1:38", "the file is nested too deeply", "keep to 30 levels"),
    ],
)
def test_what_an_included_file_may_not_hold_is_refused_at_its_place(
    text: str, place: str, what: str, cure: str
) -> None:
    (problem,) = loaded({**including("a.yaml"), "a.yaml": text}).problems
    assert (str(problem.place), problem.what) == (f"a.yaml:{place}", what)
    assert cure in problem.cure


def test_a_byte_that_is_no_text_is_refused_in_its_own_file() -> None:
    (problem,) = loaded({**including("a.yaml"), "a.yaml": b"looks: {}\n# caf\xe9\n"}).problems
    assert (str(problem.place), problem.what) == ("a.yaml:2:6", "byte 0xe9 is not UTF-8 text")


def test_a_byte_that_is_no_text_hides_no_empty_key_elsewhere() -> None:
    show = "cuedeck: 2\ninclude: a.yaml\nlooks:\n  a:\n    like: #b\n"
    found = loaded({SHOW_FILE: show, "a.yaml": b"looks: {}\n# caf\xe9\n"}).problems
    assert in_words(found)[1] == ("show.yaml:5:10", "'like' is empty")


def test_the_same_name_in_two_files_is_an_error_that_names_both_places() -> None:
    files = {**FILES, "looks/common.yaml": f"# again\n{LOOKS}  own: {{}}\n"}
    (problem,) = loaded(files).problems
    assert str(problem) == (
        "looks/common.yaml:5:3: error: the look 'own' stands in two files, show.yaml:6 and looks/common.yaml:5\n"
        "    take one of them out, or give it another name"
    )
    assert str(loaded(files).show.looks["own"].like) == "edges"  # the one in the show itself is used


def test_the_same_name_in_two_included_files_is_reported_at_the_second() -> None:
    files = including("[a.yaml, b.yaml]", **{"a.yaml": PANELS, "b.yaml": f"\n{PANELS}"})
    assert in_words(loaded(files).problems) == [
        ("b.yaml:3:3", "the type 'panel' stands in two files, a.yaml:2 and b.yaml:3")
    ]


def test_a_broken_included_file_does_not_hide_what_is_wrong_elsewhere() -> None:
    files = {
        **FILES,
        SHOW_FILE: SHOW.replace("-1 stop", "-1 fps").replace("after: 1", "after: 7"),
        "types/panels.yaml": "types:\n  panel: {channels: [intensity}\n",
        "looks/common.yaml": LOOKS.replace("45 %", "45"),
    }
    assert in_words(opened(files).problems) == [
        ("looks/common.yaml:2:16", "'45' has no unit"),
        ("show.yaml:6:27", "'fps' is no unit for a percentage"),
        ("show.yaml:8:62", "cue 2 waits for cue '7', and this shot has no such cue"),
        ("types/panels.yaml:2:31", "not YAML: did not find expected ',' or ']'"),
    ]


@pytest.mark.parametrize("broken", ["types/panels.yaml", "looks/common.yaml"])
@pytest.mark.parametrize("text", ["types: [", "look: {}\n", None])
def test_a_name_that_the_unread_file_may_hold_is_not_reported_as_well(broken: str, text: str | None) -> None:
    files = {name: held for name, held in FILES.items() if name != broken}
    if text is not None:
        files[broken] = text
    (problem,) = opened(files).problems
    assert problem.place.file == (SHOW_FILE if text is None else broken)


def test_the_limit_on_bytes_holds_for_all_files_together() -> None:
    filling = "# " + "x" * (MOST_BYTES // 2) + "\n"
    files = including("[a.yaml, b.yaml]", **{"a.yaml": filling + LOOKS, "b.yaml": filling + PANELS})
    size = sum(len(text) for text in files.values())
    assert in_words(loaded(files).problems) == [
        ("show.yaml:2:19", f"with 'b.yaml' the show has {size:,} bytes, the limit is 1,000,000")
    ]


def test_the_limit_on_values_holds_for_all_files_together() -> None:
    thousand = f"[{', '.join(['x'] * 999)}]"
    part = f"SECTION: {{a: &a {thousand}, b: [{', '.join(['*a'] * 110)}]}}\n"  # 111,000 values and a few
    texts = {"a.yaml": part.replace("SECTION", "looks"), "b.yaml": part.replace("SECTION", "types")}
    files = including("[a.yaml, b.yaml]", **texts)
    found = [problem for problem in loaded(files).problems if "stands for" in problem.what]
    assert [(problem.place.file, problem.what) for problem in found] == [
        ("b.yaml", "with this file the show stands for more than 200,000 values")
    ]


def test_a_main_file_that_is_no_show_is_problems_only() -> None:
    with pytest.raises(ProblemsFound):
        loaded({SHOW_FILE: "include: [a.yaml\n", "a.yaml": LOOKS})


# --- on disk ------------------------------------------------------------------------------------------------------


def on_disk(folder: Path, files: Mapping[str, str]) -> ShowFolder:
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return ShowFolder(folder)


def test_a_folder_of_several_files_opens(tmp_path: Path) -> None:
    show = on_disk(tmp_path, FILES).open()
    assert show.problems == ()
    assert show.source.files["looks/common.yaml"] == LOOKS.encode()


def test_a_folder_named_as_a_file_is_refused(tmp_path: Path) -> None:
    (problem,) = on_disk(tmp_path, {**including("looks"), "looks/a.yaml": LOOKS}).open().problems
    assert (str(problem.place), problem.what) == ("show.yaml:2:10", "'looks' cannot be read: is a directory")


def test_a_link_that_leads_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "secret.yaml").write_text(LOOKS, encoding="utf-8")
    show = on_disk(tmp_path / "show", including("a.yaml"))
    (tmp_path / "show" / "a.yaml").symlink_to(tmp_path / "secret.yaml")
    (problem,) = show.open().problems
    assert (str(problem.place), problem.what) == ("show.yaml:2:10", "this path leads out of the show folder")


def test_a_file_far_too_large_is_refused_without_being_read(tmp_path: Path) -> None:
    show = on_disk(tmp_path, including("a.yaml"))
    with (tmp_path / "a.yaml").open("wb") as file:
        file.truncate(10**12)  # a file of holes: it takes no room on the disk
    (problem,) = show.open().problems
    assert str(problem.place) == "show.yaml:2:10"
    assert "the file is larger than" in problem.what


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with a name are those of POSIX")
def test_a_pipe_is_refused_rather_than_waited_for(tmp_path: Path) -> None:
    show = on_disk(tmp_path, including("a.yaml"))
    os.mkfifo(tmp_path / "a.yaml")
    (problem,) = show.open().problems
    assert (str(problem.place), problem.what) == ("show.yaml:2:10", "this is a pipe or a device, not a file")
