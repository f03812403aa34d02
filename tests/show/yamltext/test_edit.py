"""A change to a show file changes its value and leaves everything else as the user typed it."""

from __future__ import annotations

from pathlib import Path as FilePath

import pytest

from cuedeck.show.problems import ProblemsFound
from cuedeck.show.source import Data, Path, read_source
from cuedeck.show.yamltext.edit import Append, Change, EditRefused, Insert, Remove, Rename, SetValue, apply_changes

DEMO = (FilePath(__file__).parents[3] / "shows" / "barometer" / "show.yaml").read_text(encoding="utf-8")

FILL = (
    "  fill:       {type: two-tone-panel, address: 1.31, at: [-0.5, -0.7, 0.7], circuit: wall right, loss: LOSS stop}"
)


def edited(text: str, *changes: Change) -> str:
    return apply_changes("show.yaml", text.encode(), changes).decode()


def refusal(text: str, *changes: Change) -> EditRefused:
    with pytest.raises(EditRefused) as refused:
        edited(text, *changes)
    return refused.value


@pytest.mark.parametrize(
    ("before", "value", "after"),
    [
        pytest.param("a: 1  # why\n", "2", "a: 2  # why\n", id="plain"),
        pytest.param("a: '1'\n", "it's", "a: 'it''s'\n", id="single quotes"),
        pytest.param('a: "1"\n', 'say "x"\\', 'a: "say \\"x\\"\\\\"\n', id="double quotes"),
        pytest.param("a: '1'\n", "x\ny", 'a: "x\\ny"\n', id="single quotes cannot hold a line break"),
        pytest.param("a: 1\n", "1.10", "a: 1.10\n", id="a number stays as typed"),
        pytest.param("a: 1\n", "on", "a: on\n", id="a word of YAML is a word"),
        pytest.param("a: 1\n", "null", 'a: "null"\n', id="a text that would read as nothing"),
        pytest.param("a: 1\n", "~", 'a: "~"\n', id="a tilde"),
        pytest.param("a: 1\n", "", 'a: ""\n', id="an empty text"),
        pytest.param("a: 1\n", None, "a: ~\n", id="nothing"),
        pytest.param("a: 1\n", "x: y", 'a: "x: y"\n', id="a colon"),
        pytest.param("a: 1\n", "x # y", 'a: "x # y"\n', id="a hash"),
        pytest.param("a: 1\n", "x, y]", "a: x, y]\n", id="a comma outside brackets"),
        pytest.param("a: 1\n", "<<", 'a: "<<"\n', id="the sign of a merge"),
        pytest.param("a:\nb: 2\n", "x", "a: x\nb: 2\n", id="a missing value"),
        pytest.param("a:  # why\n  # more\nb: 2\n", "x", "a: x  # why\n  # more\nb: 2\n", id="missing, with comments"),
        pytest.param("a: &n 45 %  # why\n", "50 %", "a: &n 50 %  # why\n", id="the anchor stays"),
        pytest.param("a: &n\nb: 1\n", "50 %", "a: &n 50 %\nb: 1\n", id="an anchor without a value"),
        pytest.param("a: !!str 1\n", "2", "a: !!str 2\n", id="the tag stays"),
        pytest.param("a: one\n  two\n  # why\nb: 1\n", "x", "a: x\n  # why\nb: 1\n", id="plain over two lines"),
        pytest.param("a: 'one\n\n  two' # why\n", "x", "a: 'x' # why\n", id="quotes over lines"),
        pytest.param("a: |  # why\n  one\n  two\n\n\nb: 1\n", "x", "a: x  # why\n\n\nb: 1\n", id="literal"),
        pytest.param("a: >-\n  one\n# end\n", "x", "a: x\n# end\n", id="folded"),
        pytest.param("a: |\n  one\n", "x\ny\n", "a: |\n  x\n  y\n", id="a literal text stays one"),
        pytest.param("a: |\n  one\n", "x\n\ny", "a: |-\n  x\n\n  y\n", id="a literal text without its last break"),
        pytest.param("a: |+\n  one\n\n\nb: 1\n", "x", "a: x\nb: 1\n", id="blank lines that were part of the text"),
        pytest.param("a: 1\r\nb: 2\r\n", "x", "a: x\r\nb: 2\r\n", id="Windows line ends"),
        pytest.param("\ufeffa: 1", "x", "\ufeffa: x", id="byte order mark, no final line break"),
        pytest.param("---\na: 1\n...\n", "x", "---\na: x\n...\n", id="marks of the document"),
        pytest.param("{a: 1, b: 2}\n", "x, y", '{a: "x, y", b: 2}\n', id="in brackets"),
        pytest.param("{b: 2, a: }\n", "x", "{b: 2, a: x }\n", id="missing in brackets"),
        pytest.param('{"a":1}\n', "-", '{"a":"-"}\n', id="brackets as in JSON"),
        pytest.param("{a, b: 2}\n", "x", "{a: x, b: 2}\n", id="a key alone in brackets"),
        pytest.param("a: {}\n", "x", "a: x\n", id="empty brackets"),
        pytest.param("a: {b: 1}  # why\n", "out", "a: out  # why\n", id="brackets to a text"),
        pytest.param("a: 1\n", {"b": "1"}, "a:\n  b: 1\n", id="a text to a mapping, at the root"),
        pytest.param("a: 1  # why\nb: 2", ["x", "y"], "a:  # why\n  - x\n  - y\nb: 2", id="a text to a list"),
        pytest.param("a:\n    b: 1\n    # c\nd: 2\n", "x", "a: x\n    # c\nd: 2\n", id="lines to a text"),
        pytest.param("a:  # why\n- 1\n- 2", "x", "a: x  # why", id="a list to a text, at the end of the file"),
        pytest.param("a:\n- 1\n- 2\n", {"x": "1"}, "a:\n  x: 1\n", id="a list right under its key to a mapping"),
        pytest.param("a:\n  b: 1\n", ["x", None], "a:\n  - x\n  - ~\n", id="lines stay lines"),
        pytest.param("a: {b: 1}\n", ["x", None], "a: [x, ~]\n", id="brackets stay brackets"),
        pytest.param("a: |\n  one\n", {"x": "1"}, "a:\n  x: 1\n", id="a literal text to a mapping"),
        pytest.param("a: &n 1\nb: 1\n", {"x": "1"}, "a: &n\n  x: 1\nb: 1\n", id="an anchor above lines"),
        pytest.param("x: &n 1\na: *n  # why\n", "2", "x: &n 1\na: 2  # why\n", id="an alias"),
        pytest.param("x: &n 1\n*n : {}\na: 1\n", "2", "x: &n 1\n*n : {}\na: 2\n", id="an alias as a key"),
    ],
)
def test_a_value_is_replaced_in_its_place(before: str, value: Data, after: str) -> None:
    assert edited(before, SetValue(("a",), value)) == after
    assert edited(after, SetValue(("a",), value)) == after


@pytest.mark.parametrize(
    ("before", "path", "value", "after"),
    [
        pytest.param("a: 1\n# end\n", ("b",), "2", "a: 1\nb: 2\n# end\n", id="at the end of the mapping"),
        pytest.param("a: 1  # why", ("b",), "2", "a: 1  # why\nb: 2", id="no final line break"),
        pytest.param(
            "a:\r\n    b: 1\r\n\r\nc: 2\r\n", ("a", "x"), "2", "a:\r\n    b: 1\r\n    x: 2\r\n\r\nc: 2\r\n", id="CRLF"
        ),
        pytest.param('"1": {}\n', ("2",), {}, '"1": {}\n"2": {}\n', id="in the quotes of its sibling"),
        pytest.param("a: {b: 1}\n", ("a", "c"), "x, y", 'a: {b: 1, c: "x, y"}\n', id="in brackets"),
        pytest.param('a: {"b":1,"d":2}\n', ("a", "c"), "3", 'a: {"b":1,"d":2,"c": 3}\n', id="in brackets as in JSON"),
        pytest.param("a: {}\n", ("a", "c"), "3", "a: {c: 3}\n", id="in empty brackets"),
        pytest.param("a: { }\n", ("a", "c"), "3", "a: {c: 3}\n", id="in brackets with a blank"),
        pytest.param("a: [b: 1]\n", ("a", 0, "c"), "3", "a: [{b: 1, c: 3}]\n", id="to a pair without braces"),
        pytest.param(
            "a: {\n  b: 1,  # one\n  c: 2  # two\n}\n",
            ("a", "d"),
            "3",
            "a: {\n  b: 1,  # one\n  c: 2,  # two\n  d: 3\n}\n",
            id="in brackets over lines",
        ),
        pytest.param(
            "a: {\n  b: 1,\n  c: 2,  # two\n}\n",
            ("a", "d"),
            "3",
            "a: {\n  b: 1,\n  c: 2,  # two\n  d: 3,\n}\n",
            id="in brackets over lines with a last comma",
        ),
        pytest.param(
            "looks:\nb: 1\n", ("looks", "lit", "key"), "out", "looks:\n  lit: {key: out}\nb: 1\n", id="nothing yet"
        ),
        pytest.param("looks: ~\n", ("looks", "lit"), "out", "looks:\n  lit: out\n", id="a tilde"),
        pytest.param("b: 1\n", ("a", "c", "d"), "x", "b: 1\na:\n  c: {d: x}\n", id="parents missing"),
        pytest.param("a: {b: {}}\n", ("a", "c", "d"), "x", "a: {b: {}, c: {d: x}}\n", id="parents missing in brackets"),
        pytest.param(
            "rig:\n    key: {type: dimmer, address: 1.1}\n",
            ("rig", "rim left"),
            {"type": "dimmer", "address": "1.10", "at": ["0", "1"]},
            "rig:\n    key: {type: dimmer, address: 1.1}\n    rim left: {type: dimmer, address: 1.10, at: [0, 1]}\n",
            id="a light like its neighbour",
        ),
        pytest.param(
            'shots:\n  "1":\n    cues:\n    - {cue: 1}\n',
            ("shots", "2"),
            {"title": "dial", "cues": [{"cue": "1", "at": "0 s"}, {"cue": "2", "after": "1"}]},
            'shots:\n  "1":\n    cues:\n    - {cue: 1}\n'
            '  "2":\n    title: dial\n    cues:\n    - {cue: 1, at: 0 s}\n    - {cue: 2, after: 1}\n',
            id="a shot in lines, its cues in brackets, its list indented as the other",
        ),
        pytest.param("k: |\n one", ("b",), "2", "k: |-\n one\nb: 2", id="behind a text that ends with the file"),
        pytest.param("- a\n", (), {}, None, id="a file that is no show"),
    ],
)
def test_a_key_is_added_as_its_siblings_are_written(before: str, path: Path, value: Data, after: str | None) -> None:
    if after is None:
        with pytest.raises(ProblemsFound):
            edited(before, SetValue(path, value))
        return
    assert edited(before, SetValue(path, value)) == after


@pytest.mark.parametrize(
    ("before", "path", "after"),
    [
        pytest.param("a: 1\nb: 2  # why\n# c\nd: 3\n", ("b",), "a: 1\n# c\nd: 3\n", id="its line"),
        pytest.param("a: 1\nb:\n  - 1\n\n  - 2  # why\nd: 3\n", ("b",), "a: 1\nd: 3\n", id="its lines"),
        pytest.param("a: 1\nb: 2", ("b",), "a: 1", id="at the end of the file"),
        pytest.param("a: 1\r\nb: 2", ("b",), "a: 1", id="at the end of the file, CRLF"),
        pytest.param("k: |\n one\nb: 2", ("b",), "k: |\n one\n", id="behind a text that owns its line break"),
        pytest.param("a:\n  b: 1\nc: 2\n", ("a", "b"), "a: {}\nc: 2\n", id="the last key of a mapping"),
        pytest.param("a: &n\n  # d\n  - 1\n", ("a", 0), "a: &n []\n  # d\n", id="the last item of a list"),
        pytest.param("a: 1\n", ("a",), "{}\n", id="the last key of the file"),
        pytest.param("a:\n- x: 1\n  y: 2\n", ("a", 0, "x"), "a:\n- y: 2\n", id="the key beside the dash"),
        pytest.param(
            "a:\n- x: 1\n  # d\n  y: 2\n", ("a", 0, "x"), "a:\n- \n  # d\n  y: 2\n", id="a comment below it stays"
        ),
        pytest.param("a: {b: 1, c: 2}\n", ("a", "b"), "a: {c: 2}\n", id="the first in brackets"),
        pytest.param("a: {b: 1, c: 2}\n", ("a", "c"), "a: {b: 1}\n", id="the last in brackets"),
        pytest.param("a: [1, 2, 3]\n", ("a", 1), "a: [1, 3]\n", id="between others in brackets"),
        pytest.param("a: [1, 2,]\n", ("a", 1), "a: [1,]\n", id="before a last comma"),
        pytest.param("a: { b: 1 }\n", ("a", "b"), "a: {}\n", id="the only one in brackets"),
        pytest.param("a: [b: 1]\n", ("a", 0, "b"), "a: [{}]\n", id="a pair without braces"),
        pytest.param(
            "a: {\n  b: 1, # one\n  c: 2, # two\n}\n", ("a", "b"), "a: {\n  c: 2, # two\n}\n", id="its line in brackets"
        ),
        pytest.param(
            "a: {\n  b: 1, # one\n  c: 2 # two\n}\n", ("a", "c"), "a: {\n  b: 1 # one\n}\n", id="its line and the comma"
        ),
        pytest.param("x: &n 1\na: *n\nb: *n\n", ("a",), "x: &n 1\nb: *n\n", id="an alias"),
        pytest.param("a: {x: &n 1, y: *n}\nb: 1\n", ("a",), "b: 1\n", id="an anchor with all its aliases"),
    ],
)
def test_what_is_taken_out_leaves_with_its_line(before: str, path: Path, after: str) -> None:
    assert edited(before, Remove(path)) == after


@pytest.mark.parametrize(
    ("before", "path", "name", "after"),
    [
        pytest.param("a: 1\nb: 2\n", ("a",), "c d", "c d: 1\nb: 2\n", id="plain"),
        pytest.param('"1": {}\n', ("1",), "2", '"2": {}\n', id="in its quotes"),
        pytest.param("{a: 1}\n", ("a",), "b: c", '{"b: c": 1}\n', id="in brackets"),
        pytest.param("a: 1\n", ("a",), "a", "a: 1\n", id="to the same name"),
        pytest.param("&k a: 1\n", ("a",), "b", "&k b: 1\n", id="its anchor stays"),
    ],
)
def test_a_key_is_renamed_in_its_place(before: str, path: Path, name: str, after: str) -> None:
    assert edited(before, Rename(path, name)) == after


@pytest.mark.parametrize(
    ("before", "change", "after"),
    [
        pytest.param(
            "a:\n- 1\n- 2  # two\n# c\n", Append(("a",), "3"), "a:\n- 1\n- 2  # two\n- 3\n# c\n", id="in lines"
        ),
        pytest.param("a: [1]\n", Append(("a",), "3"), "a: [1, 3]\n", id="in brackets"),
        pytest.param("a: []\n", Append(("a",), "3"), "a: [3]\n", id="to an empty list"),
        pytest.param("a: []\n", Append(("a",), {"x": "1"}), "a:\n  - {x: 1}\n", id="the first cue goes in a line"),
        pytest.param("a: [ # c\n]\n", Append(("a",), {"x": "1"}), "a: [{x: 1} # c\n]\n", id="a comment in brackets"),
        pytest.param("a: [[]]\n", Append(("a", 0), ["1"]), "a: [[[1]]]\n", id="to an empty list in brackets"),
        pytest.param(
            "b:\n  a:\nc: 1\n", Append(("b", "a"), {"x": "1"}), "b:\n  a:\n    - {x: 1}\nc: 1\n", id="to nothing"
        ),
        pytest.param(
            "a:\n  - {x: 1}\n",
            Append(("a",), {"x": "2", "y": ["1"]}),
            "a:\n  - {x: 1}\n  - {x: 2, y: [1]}\n",
            id="a cue",
        ),
        pytest.param(
            "a:\n  - x: 1\n    y: 2\n", Append(("a",), {"x": "3"}), "a:\n  - x: 1\n    y: 2\n  - x: 3\n", id="lines"
        ),
        pytest.param(
            "a:\n  # one\n  - 1\n", Insert(("a", 0), "0"), "a:\n  # one\n  - 0\n  - 1\n", id="before the first"
        ),
        pytest.param(
            "a:\n  - 1\n  # two\n  - 2\n", Insert(("a", 1), "x"), "a:\n  - 1\n  - x\n  # two\n  - 2\n", id="between"
        ),
        pytest.param("a: [1, 2]\n", Insert(("a", 0), "0"), "a: [0, 1, 2]\n", id="first in brackets"),
        pytest.param("a: [1, 2]\n", Insert(("a", 1), "x"), "a: [1, x, 2]\n", id="between in brackets"),
        pytest.param(
            "a: [1,\n    2]\n", Insert(("a", 1), "x"), "a: [1,\n    x,\n    2]\n", id="between in brackets over lines"
        ),
    ],
)
def test_an_item_is_added_to_a_list(before: str, change: Change, after: str) -> None:
    assert edited(before, change) == after


def test_an_item_with_an_anchor_becomes_lines_below_its_dash() -> None:
    text = edited(
        "a:\n- [1]\n- &n x  # why\nb:\n  - |\n    one\n", SetValue(("a", 1), [["2"], "3"]), SetValue(("b", 0), [["4"]])
    )
    assert text == "a:\n- [1]\n- &n [[2], 3]  # why\nb:\n  -\n    - [4]\n"
    text = edited("a:\n-\n- &n x  # why\n", SetValue(("a", 1), [["2"], "3"]))
    assert text == "a:\n-\n- &n  # why\n  - [2]\n  - 3\n"


def test_a_mapping_set_over_another_changes_only_what_differs() -> None:
    before = (
        "rig:\n  key: {type: dimmer,   address: 1.1}  # on the left\n  fill: {address: '1.2'}\n  # last\n  rim: 1\n"
    )
    value: Data = {"key": {"type": "dimmer", "address": "1.10"}, "fill": {"address": "1.2"}, "table": "2"}
    assert edited(before, SetValue(("rig",), value)) == (
        "rig:\n  key: {type: dimmer,   address: 1.10}  # on the left\n  fill: {address: '1.2'}\n  # last\n  table: 2\n"
    )


def test_a_key_that_comes_between_others_is_added_between_them_and_their_comments_stay() -> None:
    value: Data = {"0 %": "0", "10 %": "42", "20 %": "90", "100 %": "500"}
    before = "a:\n  0 %: 0  # dark\n  10 %: 40  # low\n  100 %: 500  # full\n"
    after = "a:\n  0 %: 0  # dark\n  10 %: 42  # low\n  20 %: 90\n  100 %: 500  # full\n"
    assert edited(before, SetValue(("a",), value)) == after
    before = "a: {10 %: 40, # low\n    100 %: 500} # full\n"
    after = "a: {0 %: 0,\n    10 %: 42, # low\n    20 %: 90,\n    100 %: 500} # full\n"
    assert sorted(edited(before, SetValue(("a",), value)).split()) == sorted(after.split())


def test_a_list_set_over_another_changes_only_what_differs() -> None:
    before = "a:\n  - 1  # one\n  - '2'  # two\n  - 3  # three\n"
    assert edited(before, SetValue(("a",), ["1", "x", "3", "4"])) == (
        "a:\n  - 1  # one\n  - 'x'  # two\n  - 3  # three\n  - 4\n"
    )
    assert edited(before, SetValue(("a",), ["1"])) == "a:\n  - 1  # one\n"


def test_a_mapping_in_another_order_is_written_anew() -> None:
    assert edited("a: {x: 1, y: 2}\n", SetValue(("a",), {"y": "2", "x": "1"})) == "a: {y: 2, x: 1}\n"


def test_changes_are_made_one_after_the_other() -> None:
    text = edited(
        "a: 1\n",
        SetValue(("b",), {}),
        SetValue(("b", "c"), "x"),
        Rename(("b", "c"), "d"),
        Remove(("a",)),
        SetValue(("e",), []),
    )
    assert text == "b: {d: x}\ne: []\n"


def test_the_demo_show_takes_an_afternoon_of_changes() -> None:
    text = edited(
        DEMO,
        SetValue(("rig", "fill", "loss"), "1.7 stop"),
        SetValue(("looks", "thin line", "rider"), {"level": "-2 stop"}),
        Append(("shots", "1", "cues"), {"cue": "7", "at": "9 s", "look": "all out", "fade": "1 s"}),
        Insert(("shots", "2", "cues", 1), {"cue": "1.5", "after": "1", "look": "dial"}),
        Rename(("looks", "morning"), "first light"),
        SetValue(("groups",), {"rims": ["rim left", "rim right"]}),
        Remove(("shots", "3", "length")),
    )
    changed = [line for line in text.splitlines() if line not in DEMO.splitlines()]
    assert changed == [
        FILL.replace("LOSS", "1.7"),
        "  rims: [rim left, rim right]",
        "  thin line: {rider: {level: -2 stop}}",
        "  first light:",
        "      - {cue: 7, at: 9 s, look: all out, fade: 1 s}",
        "      - {cue: 1.5, after: 1, look: dial}",
    ]
    gone = [line for line in DEMO.splitlines() if line not in text.splitlines()]
    assert gone == [
        FILL.replace("LOSS", "1.3"),
        "  sides: [rim left, rim right]",
        "  thin line: {rider: -2 stop}",
        "  morning:",
        "    length: 13 s",
    ]


SHARED = "a: &low {fill: 45 %, rims: [out]}\nb: *low\nc: {d: *low}\n"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        pytest.param(SetValue(("a",), "out"), "a", id="the value of the anchor"),
        pytest.param(SetValue(("a", "fill"), "50 %"), "a > fill", id="inside it"),
        pytest.param(SetValue(("a", "new"), "50 %"), "a", id="a new key in it"),
        pytest.param(Append(("a", "rims"), "50 %"), "a > rims", id="a new item in it"),
        pytest.param(Rename(("a", "fill"), "key"), "a", id="a key in it"),
        pytest.param(Remove(("a",)), "a", id="all of it"),
        pytest.param(SetValue(("b", "fill"), "50 %"), "b", id="inside an alias"),
        pytest.param(SetValue(("c", "d", "new"), "50 %"), "c > d", id="a new key in an alias"),
        pytest.param(Remove(("c", "d", "fill")), "c > d", id="a key out of an alias"),
    ],
)
def test_a_change_that_other_places_share_is_refused_and_names_them(change: Change, words: str) -> None:
    refused = refusal(SHARED, change)
    assert str(refused) == (
        f"show.yaml:1:4: error: '{words}' is shared: '*low' stands for the value of '&low' at show.yaml:2:4, "
        "show.yaml:3:8\n    write the values out in place of each '*low', then change it"
    )


def test_an_anchor_inside_of_what_is_taken_out_is_shared_too() -> None:
    assert "'a' is shared: '*n'" in refusal("a: {x: &n 1}\nb: *n\n", Remove(("a",))).what
    assert "'a' is shared: '*n'" in refusal("a: {x: &n 1}\nb: *n\n", SetValue(("a",), "out")).what


def test_an_anchor_of_a_key_holds_the_key_and_not_its_value() -> None:
    text = "&k a: 1\nb: *k\n"
    assert edited(text, SetValue(("a",), "2")) == "&k a: 2\nb: *k\n"
    assert "'a' is shared: '*k'" in refusal(text, Rename(("a",), "c")).what
    assert "'a' is shared: '*k'" in refusal(text, Remove(("a",))).what


def test_an_anchor_that_nothing_uses_is_no_hindrance() -> None:
    assert edited("a: &n {x: 1}\n", SetValue(("a", "x"), "2"), SetValue(("a", "y"), "3")) == "a: &n {x: 2, y: 3}\n"


def test_a_text_in_the_place_of_a_mapping_is_not_pushed_aside() -> None:
    refused = refusal("looks:\n  lit: {key: 45 %}\n", SetValue(("looks", "lit", "key", "colour"), "5600 K"))
    assert str(refused) == (
        "show.yaml:2:14: error: '45 %' stands here, so 'colour' cannot be added\n"
        "    write {} in its place, then add to it"
    )


def test_a_name_that_is_taken_is_refused() -> None:
    refused = refusal("a: 1\nb: 2\n", Rename(("a",), "b"))
    assert str(refused) == "show.yaml:1:1: error: 'b' stands here already, in line 2\n    choose another name"


def test_what_cannot_be_saved_as_text_is_refused() -> None:
    assert "cannot be" in refusal("a: 1\n", SetValue(("a",), "\ud800")).what


def test_what_the_file_makes_impossible_is_refused_and_nothing_is_changed() -> None:
    """A key of over 1024 characters needs a form of YAML that is not written here (YAML 1.2.2, 7.4.2)."""
    refused = refusal("a: 1\n", SetValue(("k" * 1100,), "x"))
    assert "cannot be written into the file as it stands" in refused.what
    assert refused.cure == "write it by hand, in a text editor"


def test_a_file_that_cannot_be_read_is_not_edited() -> None:
    with pytest.raises(ProblemsFound):
        edited("a: [1\n", SetValue(("a",), "x"))


@pytest.mark.parametrize(
    "change",
    [
        Remove(("b",)),
        Remove(()),
        Remove(("l", 1)),
        Rename(("b",), "c"),
        Append(("a",), "x"),
        Append(("m",), "x"),
        SetValue(("l", 1), "x"),
        SetValue(("l", "x"), "x"),
        Insert(("l", 2), "x"),
        Insert(("m", 0), "x"),
        Insert(("m", "k"), "x", place=1),
        Insert(("l", "k"), "x", place=0),
    ],
)
def test_a_path_that_leads_nowhere_is_an_error_of_the_program(change: Change) -> None:
    with pytest.raises(KeyError):
        edited("a: 1\nl: [1]\nm: {}\n", change)


@pytest.mark.parametrize(
    "change",
    [
        SetValue(("a",), 1),  # type: ignore[arg-type]
        SetValue(("a",), {1: "x"}),  # type: ignore[dict-item]
        SetValue(("a",), ["x", 1.5]),  # type: ignore[list-item]
        SetValue((), "x"),
        Rename(("l", 0), "x"),
        Insert(("l",), "x"),
    ],
)
def test_what_is_no_plain_data_is_an_error_of_the_program(change: Change) -> None:
    with pytest.raises(ValueError, match=r"is a|has no name|at an index"):
        edited("a: 1\nl: [1]\n", change)


def test_what_was_written_reads_back() -> None:
    text = edited("a: 1\n", SetValue(("b",), {"x: y": [None, "", "~", {"- ": "1.10", "#": []}]}))
    assert read_source("show.yaml", text.encode()).data == {
        "a": "1",
        "b": {"x: y": [None, "", "~", {"- ": "1.10", "#": []}]},
    }
