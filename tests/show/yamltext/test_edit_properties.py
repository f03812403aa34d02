"""Whatever the file looks like, a change reaches its value and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import SequenceMatcher
from pathlib import Path as FilePath

import pytest
import yaml
from hypothesis import assume, event, given
from hypothesis import strategies as st

from cuedeck.show.problems import ProblemsFound
from cuedeck.show.source import Data, Path, read_source
from cuedeck.show.yamltext.changes import change_data
from cuedeck.show.yamltext.edit import EditRefused, Insert, Remove, SetValue, apply_changes

from .yaml_texts import new_texts, yaml_texts

DEMO = (FilePath(__file__).parents[3] / "shows" / "barometer" / "show.yaml").read_bytes()
documents = st.one_of(yaml_texts(), yaml_texts(), yaml_texts(), st.just(DEMO))


def read(raw: bytes) -> Data:
    return read_source("show.yaml", raw).data


def readable(raw: bytes) -> Data:
    try:
        return read(raw)
    except ProblemsFound:
        assume(False)
        raise


def nodes(raw: bytes) -> list[tuple[Path, yaml.Node, bool]]:
    """Return every node that PyYAML composes, in the order of the file, with its path and whether it is shared."""
    root = yaml.compose(raw.decode("utf-8-sig"), Loader=yaml.CSafeLoader)

    def walk(path: Path, node: yaml.Node, around: tuple[int, ...]) -> Iterator[tuple[Path, yaml.Node, tuple[int, ...]]]:
        yield path, node, (*around, id(node))
        if isinstance(node, yaml.MappingNode):
            for key, value in node.value:
                yield from walk((*path, key.value), value, (*around, id(node)))
        elif isinstance(node, yaml.SequenceNode):
            for index, item in enumerate(node.value):
                yield from walk((*path, index), item, (*around, id(node)))

    found = list(walk((), root, ()))
    times: dict[int, int] = {}
    for _, node, _ in found:
        times[id(node)] = times.get(id(node), 0) + 1
    return [(path, node, any(times[one] > 1 for one in around)) for path, node, around in found]


def set_in(data: Data, path: Path, value: Data) -> Data:
    if not path:
        return value
    if isinstance(data, list):
        return [set_in(item, path[1:], value) if index == path[0] else item for index, item in enumerate(data)]
    assert isinstance(data, dict)
    return {**data, str(path[0]): set_in(data.get(str(path[0])), path[1:], value)}


def mark_bytes(raw: bytes) -> int:
    return 1 if raw.startswith(b"\xef\xbb\xbf") else 0


@given(raw=documents)
def test_no_change_is_the_identity(raw: bytes) -> None:
    data = readable(raw)
    assert apply_changes("show.yaml", raw, []) == raw
    assert apply_changes("show.yaml", raw, [SetValue((), data)]) == raw


@given(raw=documents, text=new_texts, draw=st.data())
def test_a_text_that_is_set_reads_back_and_the_bytes_around_it_stay(raw: bytes, text: str, draw: st.DataObject) -> None:
    data = readable(raw)
    scalars = [found for found in nodes(raw) if isinstance(found[1], yaml.ScalarNode)]
    assume(scalars)
    path, node, shared = draw.draw(st.sampled_from(scalars))
    assert isinstance(node, yaml.ScalarNode)
    if shared:
        event("shared")
        set_where_shared(raw, data, path, text)
        return
    new = apply_changes("show.yaml", raw, [SetValue(path, text)])
    assert read(new) == set_in(data, path, text)
    old_text, new_text = raw.decode(), new.decode()
    shift = mark_bytes(raw)
    start, end = node.start_mark.index + shift, node.end_mark.index + shift
    event(f"style {node.style!r}")
    if start == end:
        # PyYAML places a value of which nothing is written at whatever comes next: only text is added.
        assert only_added(old_text, new_text)
        return
    after = old_text[end:]
    if node.style in ("|", ">"):
        after = old_text[start + len(old_text[start:end].rstrip("\r\n")) :]
    assert new_text[:start] == old_text[:start]
    assert new_text.endswith(after)


def only_added(old: str, new: str) -> bool:
    before = next((i for i, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), len(old))
    return len(new) >= len(old) and new.endswith(old[before:])


def set_where_shared(raw: bytes, data: Data, path: Path, text: str) -> None:
    """A shared value is refused, unless the alias itself is replaced: then only that place changes."""
    try:
        new = apply_changes("show.yaml", raw, [SetValue(path, text)])
    except EditRefused as refused:
        require_shared(refused)
        return
    assert read(new) == set_in(data, path, text)


def require_shared(refused: EditRefused) -> None:
    assert "is shared: '*" in refused.what
    assert "at show.yaml:" in refused.what


def mappings(raw: bytes) -> list[tuple[Path, yaml.MappingNode]]:
    return [(path, node) for path, node, shared in nodes(raw) if isinstance(node, yaml.MappingNode) and not shared]


@given(raw=documents, text=new_texts, draw=st.data())
def test_a_key_that_is_put_before_another_takes_no_text_away(raw: bytes, text: str, draw: st.DataObject) -> None:
    data = readable(raw)
    found = [(path, [str(key.value) for key, _ in node.value]) for path, node in mappings(raw) if node.value]
    assume(found)
    path, keys = draw.draw(st.sampled_from(found))
    place = draw.draw(st.integers(0, len(keys) - 1))
    new = apply_changes("show.yaml", raw, [Insert((*path, "a new key"), text, place)])
    assert read(new) == set_in(data, (*path, "a new key"), text)
    kept = iter(new.decode())
    assert all(character in kept for character in raw.decode())


values = st.recursive(
    st.one_of(st.none(), new_texts),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(new_texts, inner, max_size=3)),
    max_leaves=5,
)


@given(raw=documents, name=new_texts, value=values, draw=st.data())
def test_a_key_is_added_in_lines_of_its_own_and_taken_out_again(
    raw: bytes, name: str, value: Data, draw: st.DataObject
) -> None:
    data = readable(raw)
    path, node = draw.draw(st.sampled_from(mappings(raw)))
    assume(name not in [key.value for key, _ in node.value])
    new = apply_changes("show.yaml", raw, [SetValue((*path, name), value)])
    assert read(new) == set_in(data, (*path, name), value)
    again = apply_changes("show.yaml", new, [Remove((*path, name))])
    assert read(again) == data
    if node.flow_style:
        event("in brackets")
        assert changed_lines(raw, new) <= 1 or b"\n" in raw[node.start_mark.index : node.end_mark.index]
        return
    if getattr(nodes(raw)[-1][1], "style", None) in ("|", ">") and not raw.endswith(b"\n"):
        event("behind an unfinished text, which gets a - behind its | so that it reads the same")
        return
    event("in lines")
    assert only_added(raw.decode(), new.decode())
    assert again == raw


def changed_lines(old: bytes, new: bytes) -> int:
    """Return how many lines of the old bytes the new ones do not have in their place."""
    ours, theirs = old.splitlines(), new.splitlines()
    blocks = SequenceMatcher(None, ours, theirs, autojunk=False).get_matching_blocks()
    return len(ours) - sum(block.size for block in blocks)


@given(raw=documents, draw=st.data())
def test_what_is_taken_out_takes_only_its_own_lines(raw: bytes, draw: st.DataObject) -> None:
    data = readable(raw)
    places = [found for found in nodes(raw) if found[0]]
    path, node, _ = draw.draw(st.sampled_from(places))
    try:
        new = apply_changes("show.yaml", raw, [Remove(path)])
    except EditRefused as refused:
        require_shared(refused)
        return
    assert read(new) == change_data(data, Remove(path))
    lines = raw.decode("utf-8-sig")[node.start_mark.index : node.end_mark.index].count("\n") + 1
    # Blank lines go where the next key moves up beside the dash.
    assert changed_lines(without_blank_lines(raw), without_blank_lines(new)) <= lines + 2


def without_blank_lines(raw: bytes) -> bytes:
    return b"\n".join(line for line in raw.splitlines() if line.strip())


@given(raw=documents, value=values, draw=st.data())
def test_any_value_can_stand_in_the_place_of_any_other(raw: bytes, value: Data, draw: st.DataObject) -> None:
    data = readable(raw)
    path, *_ = draw.draw(st.sampled_from([found for found in nodes(raw) if found[0]]))
    try:
        new = apply_changes("show.yaml", raw, [SetValue(path, value)])
    except EditRefused as refused:
        require_shared(refused)
        return
    assert read(new) == set_in(data, path, value)


PLAIN = st.from_regex(r"[a-z][a-z0-9 .%]{0,8}[a-z0-9%]", fullmatch=True)


@given(raw=documents, text=PLAIN, draw=st.data())
def test_a_text_that_is_set_back_restores_the_file(raw: bytes, text: str, draw: st.DataObject) -> None:
    """For what was plain or in quotes, on one line, without escapes that have a shorter form."""
    data = readable(raw)
    text_of_file = raw.decode("utf-8-sig")
    short = [path for path, node, shared in nodes(raw) if not shared and is_short(text_of_file, node)]
    assume(short)
    path = draw.draw(st.sampled_from(short))
    new = apply_changes("show.yaml", raw, [SetValue(path, text)])
    assert apply_changes("show.yaml", new, [SetValue(path, read_at(data, path))]) == raw


def is_short(text: str, node: yaml.Node) -> bool:
    written = text[node.start_mark.index : node.end_mark.index]
    plain = isinstance(node, yaml.ScalarNode) and node.style not in ("|", ">")
    return plain and written not in ("", "~") and "\n" not in written and "\\" not in written


def read_at(data: Data, path: Path) -> Data:
    for step in path:
        data = data[step]  # type: ignore[index,call-overload]
    return data


@pytest.mark.parametrize("text", ["dimmer", "a: b", "null", "1.10"])
def test_a_text_of_the_demo_show_changes_in_its_own_line(text: str) -> None:
    scalars = [path for path, node, _ in nodes(DEMO) if isinstance(node, yaml.ScalarNode)]
    for path in scalars[::23]:
        new = apply_changes("show.yaml", DEMO, [SetValue(path, text)])
        assert read(new) == set_in(read(DEMO), path, text)
        assert changed_lines(DEMO, new) <= 1
