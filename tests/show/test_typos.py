"""Slips after which YAML reads something else than what was meant get the cure of the slip."""

from __future__ import annotations

import pytest

from cuedeck.show.load import load_show
from cuedeck.show.problems import ProblemsFound

EMPTY_CURE = "write a value, or take the key out"


def faults(text: str) -> list[tuple[str, str, str]]:
    """Return place, words and cure of the problems of a show; the text begins in its second line."""
    try:
        problems = load_show(f"cuedeck: 2\n{text}\n".encode()).problems
    except ProblemsFound as found:
        problems = found.problems
    return [(f"{one.place.line}:{one.place.column}", one.what, one.cure) for one in sorted(problems)]


# Empty values.


@pytest.mark.parametrize(
    ("line", "place", "what", "cure"),
    [
        ("looks: {a: {key: {level: }}}", "2:26", "'level' is empty", EMPTY_CURE),
        ("looks: {a: {key: {level: ~}}}", "2:26", "'level' is empty", EMPTY_CURE),
        ("looks: {a: {like: null}}", "2:19", "'like' is empty", EMPTY_CURE),
        ("looks: {a: {everything: }}", "2:25", "'everything' is empty", EMPTY_CURE),
        ("looks:\n  a:\n    like:\n    key: 5 %", "4:10", "'like' is empty", EMPTY_CURE),
        ("shots:\n  1:\n    move:\n    cues: []", "4:10", "'move' is empty", EMPTY_CURE),
        ("shots: {1: {length: }}", "2:21", "'length' is empty", EMPTY_CURE),
        ("camera: {shutter: }", "2:19", "'shutter' is empty", EMPTY_CURE),
        ("refresh:", "2:9", "'refresh' is empty", EMPTY_CURE),
        ("types: {t: {channels: [intensity], watts: }}", "2:43", "'watts' is empty", EMPTY_CURE),
        ("types: {t: {channels: }}", "2:23", "'channels' is empty", EMPTY_CURE),
        ("rig: {a: {type: dimmer, mode: }}", "2:31", "'mode' is empty", EMPTY_CURE),
        (
            "rig: {a: {type: dimmer, address: }}",
            "2:34",
            "'address' is empty",
            "write one such as 1.1, or let 'cuedeck patch SHOW --auto' propose it",
        ),
        (
            "looks: {a: {key: {colour: }}}",
            "2:27",
            "'colour' is empty",
            "write a colour such as 5600 K or sRGB 255 128 0, or take the key out",
        ),
        ("types: {t: {channels: [intensity], dimmer: }}", "2:44", "'dimmer' is empty", "write 'linear', 'square' or"),
        ("title:", "2:7", "'title' is empty", "write a plain text here"),
        ("slots:", "2:7", "'slots' is empty", "write a number from 24 to 512"),
        ("rig: {a: {type: }}", "2:17", "'type' is empty", "write a plain text here"),
        ("looks: {a: {key: {red: }}}", "2:24", "'red' is empty", "write a value such as 45 %"),
        ("looks: {a: {key: }}", "2:18", "'key' is empty", "write a level such as 45 %"),
        ("mains: {circuits: {wall: }}", "2:26", "'wall' is empty", "write a current such as 16 A"),
    ],
)
def test_a_key_with_nothing_behind_it_is_reported_at_its_place(line: str, place: str, what: str, cure: str) -> None:
    ((where, found, its_cure),) = faults(line)
    assert (where, found) == (place, what)
    assert its_cure.startswith(cure)


@pytest.mark.parametrize("text", ["mains:", "camera: {holds: }", "looks:\n  keep:", "looks: {a: {}}", "rig: {}"])
def test_a_section_that_is_empty_by_nature_may_be_left_empty(text: str) -> None:
    assert faults(text) == []


def test_a_key_left_empty_counts_as_left_out_for_the_checks_of_what_is_left() -> None:
    found = faults("shots: {1: {cues: [{cue: 1, at: , after: 2, look: }]}}")
    assert [what for _, what, _ in found] == ["'at' is empty", "'look' is empty"]


# A # begins a comment.


@pytest.mark.parametrize(
    ("written", "cure"),
    [
        ("colour: #ff8000", "a # starts a comment: write 'sRGB 255 128 0'"),
        ("colour: #F80 # orange", "a # starts a comment: write 'sRGB 255 136 0'"),
        ("colour: #orange", "a # starts a comment: put the colour in words, such as sRGB 255 128 0"),
        ("colour: # later", "write a colour such as 5600 K or sRGB 255 128 0, or take the key out"),
        ("strobe: #1 fast", "a # starts a comment: put quotes around the text, 'strobe: \"#1 fast\"'"),
    ],
)
def test_a_value_that_is_a_comment_is_told_to_be_one(written: str, cure: str) -> None:
    name = written.partition(":")[0]
    assert faults(f"looks:\n  a:\n    key:\n      {written}") == [("5:14", f"'{name}' is empty", cure)]


@pytest.mark.parametrize(
    "text",
    [
        "looks:\n  a: {level: 5 %, colour: #ff8000}\n  b: {key: 5 %}",
        "looks:\n  a: {level: 5 %, colour: #ff8000, strobe: open}\nshots:\n  1: {cues: []}",
        "looks:\n  a: {level: 5 %, colour: #ff8000}",
    ],
)
def test_a_comment_that_swallows_a_brace_is_what_is_told_of(text: str) -> None:
    assert faults(text) == [
        ("3:27", "this # starts a comment, and the bracket is never closed", "write 'sRGB 255 128 0' instead")
    ]


def test_a_comment_behind_an_open_bracket_is_left_in_peace() -> None:
    ((_, what, cure),) = faults("looks:\n  a: {key: 5 %, # 1 is enough\n  b: {key: 5 %}")
    assert what.startswith("not YAML")
    assert "comment" not in cure


def test_a_comment_behind_another_key_is_not_that_of_an_empty_one() -> None:
    found = faults("looks:\n  a: {key: {level: , colour: #ff8000\n    }}")
    assert [cure for _, _, cure in found] == [EMPTY_CURE, "a # starts a comment: write 'sRGB 255 128 0'"]


# No space behind a colon, and a comma that begins another key.


@pytest.mark.parametrize(
    ("line", "place", "what", "cure"),
    [
        (
            "shots: {1: {cues: [{cue: 1, at: 0 s, look: a, fade:1.5 s}]}}",
            "2:47",
            "unknown key 'fade:1.5 s'",
            "put a space after the colon: 'fade: 1.5 s'",
        ),
        (
            "looks: {a: {key: {level:5 %}}}",
            "2:28",
            "'level:5 %' is empty",
            "put a space after the colon: 'level: 5 %'",
        ),
        (
            "looks: {a: {key: {colour: 5600 K, Duv -0.004}}}",
            "2:45",
            "'Duv -0.004' is empty",
            "write the colour without a comma: '5600 K Duv -0.004'",
        ),
        (
            "looks: {a: {key: {colour: 3200 K, -137 mired}}}",
            "2:45",
            "'-137 mired' is empty",
            "write the colour without a comma: '3200 K -137 mired'",
        ),
        ("looks: {a: {key: {red: 5 %, blue: }}}", "2:35", "'blue' is empty", "write a value such as 45 %"),
    ],
)
def test_a_slip_between_keys_gets_its_own_cure(line: str, place: str, what: str, cure: str) -> None:
    ((where, found, its_cure),) = faults(line)
    assert (where, found) == (place, what)
    assert its_cure.startswith(cure)


def test_a_comma_for_a_point_in_braces_is_told_of() -> None:
    found = faults("shots: {1: {cues: [{cue: 1, at: 0 s, look: a, fade: 1,5 s}]}}")
    assert found[1] == ("2:55", "unknown key '5 s'", "write numbers with a point: '1.5 s'")
