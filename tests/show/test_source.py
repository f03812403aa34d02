"""A show file is plain data with a place for every node; whatever is more than that is refused at its place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.problems import Place, Problem, ProblemsFound
from cuedeck.show.source import MOST_BYTES, read_source


def refusals(raw: bytes) -> list[Problem]:
    with pytest.raises(ProblemsFound) as refused:
        read_source("show.yaml", raw)
    return list(refused.value.problems)


def test_scalars_stay_the_text_that_was_typed() -> None:
    text = b"address: 1.10\nanswer: no\nlabel: 01:00:04:12\noctal: 010\ndate: 2024-01-02\nfloat: 1e3\nquoted: '~'\n"
    assert read_source("show.yaml", text).data == {
        "address": "1.10",
        "answer": "no",
        "label": "01:00:04:12",
        "octal": "010",
        "date": "2024-01-02",
        "float": "1e3",
        "quoted": "~",
    }


def test_keys_stay_the_text_that_was_typed() -> None:
    assert read_source("show.yaml", b"1.10: a\nno: b\n1: c\n").data == {"1.10": "a", "no": "b", "1": "c"}


def test_a_value_left_empty_is_nothing_and_an_empty_quoted_text_is_a_text() -> None:
    data = read_source("show.yaml", b"a:\nb: ~\nc: null\nd: ''\ne: [~, x]\n").data
    assert data == {"a": None, "b": None, "c": None, "d": "", "e": [None, "x"]}


def test_every_node_has_its_place() -> None:
    source = read_source("show.yaml", b"rig:\n  rim left: {at: [1, 2]}\n")
    assert source.place_of_key(("rig", "rim left")) == Place("show.yaml", 2, 3)
    assert source.place_of_value(("rig", "rim left")) == Place("show.yaml", 2, 13)
    assert source.place_of_key(("rig", "rim left", "at")) == Place("show.yaml", 2, 14)
    assert source.place_of_value(("rig", "rim left", "at", 1)) == Place("show.yaml", 2, 22)


def test_columns_count_characters_not_bytes() -> None:
    source = read_source("show.yaml", "{é😀: 1, b: 2}\n".encode())
    assert source.place_of_key(("b",)) == Place("show.yaml", 1, 9)


def test_a_byte_order_mark_is_passed_over() -> None:
    source = read_source("show.yaml", b"\xef\xbb\xbfcuedeck: 1\n")
    assert source.data == {"cuedeck": "1"}
    assert source.place_of_key(("cuedeck",)) == Place("show.yaml", 1, 1)


def test_a_reference_to_another_part_stands_for_it() -> None:
    source = read_source("show.yaml", b"a: &low {fill: 45 %}\nb: *low\n")
    assert source.data == {"a": {"fill": "45 %"}, "b": {"fill": "45 %"}}


def test_windows_line_ends_count_as_one_line() -> None:
    assert str(refusals(b"a: 1\r\nb: 2\r\na: 3\r\n")[0].place) == "show.yaml:3:1"


@pytest.mark.parametrize(
    ("raw", "line", "column", "what"),
    [
        pytest.param(b"a: 1\nb: 2\na: 3\n", 3, 1, "'a' stands here twice, first in line 1", id="duplicate"),
        pytest.param(b"rig:\n  l: 1\n  l: 2\n", 3, 3, "'l' stands here twice, first in line 2", id="nested duplicate"),
        pytest.param(b"a: 1\nb: !x y\n", 2, 4, "the tag '!x' is not read", id="tag"),
        pytest.param(
            b"a: !!python/object/apply:os.system [x]\n",
            1,
            4,
            "the tag 'tag:yaml.org,2002:python/object/apply...' is not read",
            id="object tag",
        ),
        pytest.param(b"a: !!binary aGk=\n", 1, 4, "the tag 'tag:yaml.org,2002:binary' is not read", id="binary"),
        pytest.param(b"a: &x [1, *x]\n", 1, 4, "this reference contains itself", id="list in itself"),
        pytest.param(b"k: 1\na: &x\n  b: *x\n", 2, 4, "this reference contains itself", id="mapping in itself"),
        pytest.param(b"a: &x {b: 1}\nc:\n  <<: *x\n", 3, 3, "merging with '<<' is not read", id="merge"),
        pytest.param(b"? [a]\n: 1\n", 1, 3, "a list or mapping cannot be a key", id="list as key"),
        pytest.param(b"a: *x\n", 1, 4, "not YAML: found undefined alias", id="undefined reference"),
        pytest.param(b"cuedeck: 1\ntitle: caf\xe9\n", 2, 11, "byte 0xe9 is not UTF-8 text", id="Latin-1"),
        pytest.param("a: 1\n".encode("utf-16"), 1, 1, "byte 0xff is not UTF-8 text", id="UTF-16"),
        pytest.param(
            b"cuedeck: 1\ntitle: a\x07b\n",
            2,
            9,
            "a control character stands here that YAML does not allow",
            id="control character",
        ),
        pytest.param(
            b"# " + b"x" * 9000 + b"\nt: \x00\n",
            2,
            4,
            "a control character stands here that YAML does not allow",
            id="late NUL",
        ),
        pytest.param(b"", 1, 1, "the file is empty", id="empty"),
        pytest.param(b"# nothing yet\n", 1, 1, "the file is empty", id="only a comment"),
        pytest.param(b"\xef\xbb\xbf", 1, 1, "the file is empty", id="only a byte order mark"),
        pytest.param(b"- a\n", 1, 1, "the file is not a mapping of keys to values", id="list"),
        pytest.param(b"\nhello\n", 2, 1, "the file is not a mapping of keys to values", id="text"),
        pytest.param(b"a: 1\n---\nb: 2\n", 2, 1, "not YAML: but found another document", id="two documents"),
        pytest.param(
            b"a:\n\tb: 1\n", 2, 1, "not YAML: found character that cannot start any token", id="tab as indent"
        ),
        pytest.param(b"a: [1, 2\nb: 3\n", 2, 2, "not YAML: did not find expected ',' or ']'", id="open bracket"),
        pytest.param(b"a: " + b"[" * 40 + b"]" * 40, 1, 34, "the file is nested too deeply", id="40 brackets"),
        pytest.param(
            b"a: " + b"x" * MOST_BYTES, 1, 1, "the file has 1,000,003 bytes, the limit is 1,000,000", id="oversize"
        ),
    ],
)
def test_more_than_plain_data_is_refused_at_its_place(raw: bytes, line: int, column: int, what: str) -> None:
    problem = refusals(raw)[0]
    assert (problem.place, problem.what) == (Place("show.yaml", line, column), what)
    assert problem.cure


@pytest.mark.parametrize(
    "raw",
    [
        pytest.param(b"[" * 5_000, id="5,000 open brackets"),
        pytest.param(b"[" * 100_000, id="100,000 open brackets"),
        pytest.param(b"a: " + b"[" * 5_000 + b"]" * 5_000, id="5,000 closed brackets"),
        pytest.param(b"{a: " * 100_000, id="100,000 open braces"),
        pytest.param(b"- " * 50_000 + b"a", id="50,000 dashes"),
    ],
)
def test_a_file_nested_without_end_is_refused_as_that(raw: bytes) -> None:
    (problem,) = refusals(raw)
    assert (problem.place.line, problem.what) == (1, "the file is nested too deeply")
    assert problem.cure == "keep to 30 levels"


def test_what_is_left_open_at_the_end_is_looked_for_no_later_than_the_last_line() -> None:
    (problem,) = refusals(b"a: 1\nb: 2\nx: [\n")
    assert problem.place.line == 3
    assert problem.cure == "look at what was opened in line 3: a bracket, a quote or an indent"


def test_references_that_multiply_without_end_are_refused() -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 10)]
    (problem,) = refusals("\n".join(lines).encode())
    assert problem.what == "the file stands for more than 200,000 values"
    assert problem.place.line == 1  # where the values stand that were one too many


def test_a_tab_as_indent_is_cured_with_spaces() -> None:
    assert "indent with spaces" in refusals(b"a:\n\tb: 1\n")[0].cure


def test_every_fault_of_plainness_is_reported_at_once() -> None:
    problems = refusals(b"a: 1\na: 2\nb: !x y\nc: {<<: 1}\n")
    assert [str(problem.place) for problem in problems] == ["show.yaml:2:1", "show.yaml:3:4", "show.yaml:4:5"]


@given(st.binary(max_size=200))
def test_any_bytes_are_a_mapping_or_problems_with_places_in_the_file(raw: bytes) -> None:
    last_line = raw.count(b"\n") + raw.count(b"\r") + raw.count(b"\x85") + raw.count(b"\xe2\x80") + 1
    for problem in _read_or_refused(raw):
        assert 1 <= problem.place.line <= last_line
        assert 1 <= problem.place.column <= len(raw) + 1


@given(st.text(alphabet=":-[]{}&*!|>'\"#%@,? \n\tab1", max_size=60))
def test_any_punctuation_is_a_mapping_or_problems_with_cures(text: str) -> None:
    assert all(problem.what and problem.cure for problem in _read_or_refused(text.encode()))


def _read_or_refused(raw: bytes) -> list[Problem]:
    """Return the problems of a file, none where it was read as a mapping; anything else fails the test."""
    try:
        source = read_source("show.yaml", raw)
    except ProblemsFound as refused:
        found = list(refused.problems)
    else:
        assert isinstance(source.data, dict)
        return []
    assert found
    return found


def test_a_key_without_a_space_after_its_colon_gets_that_as_the_cure() -> None:
    with pytest.raises(ProblemsFound) as caught:
        read_source("show.yaml", b"cuedeck: 1\ntitle:my bottle\nrig: {}\n")
    assert "a space after the colon" in caught.value.problems[0].cure
