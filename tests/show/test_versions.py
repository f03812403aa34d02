"""A show of an older version opens without a word and is brought to the newest byte by byte; a newer one is refused."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.errors import Refusal
from cuedeck.show.load import load_show
from cuedeck.show.problems import ProblemsFound
from cuedeck.show.source import VERSION, Data, read_source
from cuedeck.show.versions import STEPS, VersionStep, migrated, upgraded
from cuedeck.show.yamltext.edit import Remove, SetValue

DEMO = Path(__file__).parents[2] / "shows" / "barometer" / "show.yaml"
OF_ANY_VERSION = "cuedeck: {}\nrig: {{a: {{type: dimmer, address: 1.1}}}}\nlooks: {{up: {{a: full}}}}\n"


def faults(text: str) -> list[tuple[str, str, str]]:
    try:
        problems = load_show(text.encode()).problems
    except ProblemsFound as found:
        problems = found.problems
    return [(f"{one.place.line}:{one.place.column}", one.what, one.cure) for one in sorted(problems)]


@pytest.mark.parametrize("version", [*STEPS, VERSION, f"'{VERSION}'"])
def test_every_version_so_far_opens_without_a_word_and_is_the_same_show(version: str) -> None:
    loaded = load_show(OF_ANY_VERSION.format(version).encode())
    assert loaded.problems == ()
    assert loaded.show == load_show(OF_ANY_VERSION.format(VERSION).encode()).show


def test_the_steps_lead_from_every_older_version_to_the_newest() -> None:
    assert sorted(STEPS) == [str(number) for number in range(1, int(VERSION))]
    for version in STEPS:
        assert upgraded({"cuedeck": version})["cuedeck"] == VERSION


@pytest.mark.parametrize("version", ["3", "10", "9" * 60])
def test_a_show_of_a_newer_cuedeck_is_told_as_that_alone(version: str) -> None:
    shown = version if len(version) < 40 else version[:37] + "..."
    assert faults(f"title: x\ncuedeck: {version}\nnew key: 1\nlooks: [new, form]\ninclude: 5\n") == [
        (
            "2:10",
            f"this show was written by a newer cuedeck (version {shown})",
            "install the newest cuedeck; this one reads versions up to 2",
        )
    ]


@pytest.mark.parametrize("version", ["0", "-1", "1.0", "02", "two", "٣", "''", "2 3"])
def test_what_is_no_version_is_refused_and_the_rest_still_read(version: str) -> None:
    assert faults(f"cuedeck: {version}\nslots: 5\n") == [
        ("1:10", f"version {version.strip(chr(39))} of the show file is not known", "write 'cuedeck: 2'"),
        ("2:8", "5 slots is out of range", "write a number from 24 to 512, or 'patched' for as many as the rig needs"),
    ]


@pytest.mark.parametrize("version", ["[1]", "{a: 1}"])
def test_a_version_that_is_no_text_is_refused(version: str) -> None:
    ((_, what, cure),) = faults(f"cuedeck: {version}\n")
    assert (what, cure) == ("version something else of the show file is not known", "write 'cuedeck: 2'")


def test_a_show_without_a_version_is_told_which_to_write() -> None:
    assert faults("title: x\n") == [("1:1", "the key 'cuedeck' is missing", "add 'cuedeck: 2' here")]


# --- bringing the file to the newest version ----------------------------------------------------------------------


def test_only_the_number_changes() -> None:
    raw = DEMO.read_bytes().replace(b"cuedeck: 2", b"cuedeck: 1")
    newest, notes = migrated(raw)
    assert newest == raw.replace(b"cuedeck: 1", b"cuedeck: 2", 1)
    assert len(notes) == 1
    assert notes[0].startswith("version 1 is now version 2")


@given(
    st.sampled_from([b"", b"\xef\xbb\xbf"]),
    st.sampled_from([b"\n", b"\r\n", b"\r"]),
    st.sampled_from([b"1", b"  1", b"'1'", b'"1"', b"1   # the first", b"1 "]),
    st.lists(st.sampled_from([b"# a note", b"", b"title: 'a  b'", b"slots: 512", b"rig: {}"]), unique=True),
    st.integers(0, 5),
)
def test_nothing_but_the_number_changes_however_the_file_is_written(
    mark: bytes, line_end: bytes, version: bytes, lines: list[bytes], index: int
) -> None:
    lines.insert(index, b"cuedeck: " + version)
    raw = mark + line_end.join(lines) + line_end
    at = raw.index(version, raw.index(b"cuedeck: ")) + version.index(b"1")
    newest, _ = migrated(raw)
    assert newest[at : at + 1] == b"2"
    assert newest[:at] + newest[at + 1 :] == raw[:at] + raw[at + 1 :]


@pytest.mark.parametrize("text", [OF_ANY_VERSION.format(version) for version in STEPS])
def test_the_migrated_text_reads_as_the_upgraded_data(text: str) -> None:
    newest, _ = migrated(text.encode())
    assert read_source("show.yaml", newest).data == upgraded(read_source("show.yaml", text.encode()).data)


def test_a_show_of_the_newest_version_stays_as_it_is() -> None:
    raw = OF_ANY_VERSION.format(VERSION).encode()
    assert migrated(raw) == (raw, ())


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("cuedeck: 3\n", "written by a newer cuedeck (version 3)"),
        ("title: x\n", "does not say which version"),
        ("cuedeck: one\n", "does not say which version"),
        ("cuedeck: [\n", "not YAML"),
        ("title: &one 1\ncuedeck: *one\nlooks: {a: *one}\n", ""),
    ],
)
def test_a_file_that_cannot_be_brought_there_is_refused_or_left_right(text: str, what: str) -> None:
    if what:
        with pytest.raises(Refusal, match=r"show\.yaml:") as refused:
            migrated(text.encode())
        assert what in str(refused.value)
    else:
        newest, _ = migrated(text.encode())
        assert read_source("show.yaml", newest).data == upgraded(read_source("show.yaml", text.encode()).data)


def test_steps_are_taken_one_after_the_other() -> None:
    # A step from a format that never was, in which `smoke` could be said.
    def from_0(data: Mapping[str, Data]) -> dict[str, Data]:
        return {"cuedeck": "1"} | {key: value for key, value in data.items() if key not in ("cuedeck", "smoke")}

    first = VersionStep(from_0, lambda _: [SetValue(("cuedeck",), "1"), Remove(("smoke",))], "the smoke has gone")
    steps = {"0": first, **STEPS}
    raw = b"cuedeck: 0  # old\nsmoke: thick\ntitle: x\n"
    newest, notes = migrated(raw, steps=steps)
    assert newest == b"cuedeck: 2  # old\ntitle: x\n"
    assert notes == ("the smoke has gone", STEPS["1"].note)
    assert upgraded(read_source("show.yaml", raw).data, steps) == {"cuedeck": "2", "title": "x"}
