"""Reading a show: every fault at once, each at its own place, with what to write instead."""

from __future__ import annotations

import pytest

from cuedeck.show.load import load_show
from cuedeck.show.problems import ProblemsFound
from cuedeck.show.references import check_references


def faults(text: str) -> list[tuple[str, str]]:
    """Return place and words of the problems of a show, in the order of the file."""
    problems = sorted(load_show(text.encode()).problems)
    return [(f"{problem.place.line}:{problem.place.column}", problem.what) for problem in problems]


def cures(text: str) -> list[str]:
    return [problem.cure for problem in sorted(load_show(text.encode()).problems)]


def dead_ends(text: str) -> list[tuple[str, str]]:
    """Return place and words of the problems with names, in the order of the file."""
    problems = sorted(check_references(load_show(text.encode())))
    return [(f"{problem.place.line}:{problem.place.column}", problem.what) for problem in problems]


WHOLE = """\
cuedeck: 1
title: Harrow pocket barometer
camera: {fps: 23.976, shutter: 1/50 s, iso: 800, stop: f/32, holds: {below: 6 stop, above: 5 stop}}
mains: {volts: 230, hertz: 50, circuits: {wall: 16 A}}
slots: patched
on stop: hold
types:
  panel:
    channels: [intensity 16-bit, colour temperature, fixed 0]
    colour temperature: {low: 2800 K, high: 6500 K}
    lux at 1 m: 5200
rig:
  rim left: {type: panel, address: 1.10, at: [-0.9, 0.7, 0.5], circuit: wall, loss: 1.3 stop}
  fill: {type: dimmer, address: 1.1}
looks:
  black: {everything: out}
  edges: {rim left: -1 stop}
  reveal: {like: edges, fill: {level: 45 %}}
shots:
  1:
    move: {keys: [{time: 0 s, slide: 0 mm}, {time: 2 s, slide: 120 mm}]}
    cues:
      - {cue: 1, at: 0 s, look: black}
      - {cue: 2, at: slide 60 mm, look: edges, fade: 2 s, curve: even stops}
      - {cue: 3, after: 2, wait: 0.5 s, look: reveal, fade: 1.5 s, curve: ease}
"""


def test_a_show_without_faults_has_no_problems() -> None:
    loaded = load_show(WHOLE.encode())
    assert loaded.problems == ()
    assert check_references(loaded) == []
    assert loaded.show.rig["rim left"].address.slot == 10
    assert loaded.show.on_stop == "hold"
    assert str(loaded.show.shots["1"].cues[1].trigger) == "slide 60 mm"
    assert str(loaded.show.shots["1"].cues[2].trigger) == "0.5 s after cue 2"


@pytest.mark.parametrize(
    ("text", "place", "what", "cure"),
    [
        ("cuedeck: 1\nriq: {}\n", "2:1", "unknown key 'riq'", "write 'rig'"),
        (
            "cuedeck: 1\nrig:\n  a: {type: dimmer, address: 1.1, circut: w}\n",
            "3:35",
            "unknown key 'circut'",
            "write 'circuit'",
        ),
        (
            "cuedeck: 1\ntypes:\n  t: {channels: [intensity], lux at 1m: 5}\n",
            "3:30",
            "unknown key 'lux at 1m'",
            "write 'lux at 1 m'",
        ),
        (
            "cuedeck: 1\nmains: {zzz: 1}\n",
            "2:9",
            "unknown key 'zzz'",
            "take it out, or write one of 'volts', 'hertz', 'circuits'",
        ),
    ],
)
def test_an_unknown_key_is_told_the_nearest_known_one(text: str, place: str, what: str, cure: str) -> None:
    assert faults(text) == [(place, what)]
    assert cures(text) == [cure]


@pytest.mark.parametrize(
    ("key", "place"), [("on_stop: hold", "2:1"), ("types: {t: {channels: [intensity], lux_at_1_m: 5}}", "2:36")]
)
def test_a_key_is_known_only_as_the_reference_writes_it(key: str, place: str) -> None:
    (found,) = faults(f"cuedeck: 1\n{key}\n")
    assert found[0] == place
    assert found[1].startswith("unknown key")


@pytest.mark.parametrize(
    ("line", "place", "what"),
    [
        ("camera: {shutter: 50 fps}", "2:19", "'fps' is no unit for a time"),
        ("camera: {stop: 32}", "2:16", "'32' is not a lens stop"),
        ("camera: {iso: fast}", "2:15", "'fast' is not a number"),
        ("camera: {at: [0, 1]}", "2:14", "a place is three numbers"),
        ("camera: {at: [0, 1, high]}", "2:21", "'high' is not a number"),
        ("mains: {circuits: {wall: 16}}", "2:26", "'16' has no unit"),
        ("mains: {volts: 0}", "2:16", "0 is out of range"),
        ("refresh: 44", "2:10", "'44' has no unit"),
        ("slots: 5", "2:8", "5 slots is out of range"),
        ("on stop: dark", "2:10", "'on stop' does not know this word"),
        ("title: [a]", "2:8", "'title' is not a text"),
        ("rig: 5", "2:6", "'rig' is not a mapping of keys to values"),
        ("types: {t: {channels: [intensity, fred]}}", "2:35", "'fred' is not a channel that cuedeck knows"),
        ("types: {t: {channels: [fixed 256]}}", "2:24", "'256' is not a slot value"),
        ("types: {t: {channels: [red, red]}}", "2:12", "'red' stands twice in the channels"),
        (
            "types: {t: {channels: [intensity, colour temperature]}}",
            "2:12",
            "a colour temperature channel needs its two ends",
        ),
        ("rig: {a: {type: dimmer, address: 1.513}}", "2:34", "slot 513 is out of range"),
        ("looks: {a: {rim: 45}}", "2:18", "'45' has no unit"),
        ("looks: {a: {rim: [1]}}", "2:18", "a light needs a level or settings"),
        ("looks: {a: 45 %}", "2:12", "a look is a mapping of lights to levels"),
        ("shots: {a: {cues: 3}}", "2:19", "'cues' is not a list"),
        ("shots: {a: {move: {keys: [{time: 0 s}]}}}", "2:26", "'keys' has too few entries"),
        ("shots: {a: {move: [1]}}", "2:19", "'move' is not a mapping of keys to values"),
        ("shots: {a: {cues: [{cue: 1, look: b}]}}", "2:20", "the cue has no start"),
        ("shots: {a: {cues: [{cue: 1, at: 1 s, with: 2, look: b}]}}", "2:20", "the cue has 2 starts: at, with"),
        ("shots: {a: {cues: [{cue: 1, at: 1 s, wait: 1 s, look: b}]}}", "2:20", "'wait' needs 'after' or 'with'"),
        ("shots: {a: {cues: [{cue: 1, at: soon, look: b}]}}", "2:33", "'soon' does not say when the cue starts"),
        ("looks: {'': {}}", "2:9", "a name is empty"),
        (f"looks: {{{'x' * 81}: {{}}}}", "2:9", f"'{'x' * 37}...' is too long"),
        (
            "types: {t: {channels: [red, colour temperature], colour temperature: {low: 2 K, high: 3 K}}}",
            "2:76",
            "2 K is out of range",
        ),
    ],
)
def test_a_wrong_value_is_reported_where_it_stands(line: str, place: str, what: str) -> None:
    assert faults(f"cuedeck: 1\n{line}\n")[0] == (place, what)


def test_a_colour_temperature_without_an_intensity_is_refused_beside_emitters_too() -> None:
    ends = "colour temperature: {low: 2000 K, high: 6000 K}"
    (found,) = faults(f"cuedeck: 1\ntypes: {{t: {{channels: [red, colour temperature], {ends}}}}}\n")
    assert found == ("2:12", "a light with a channel 'colour temperature' needs an intensity too")


def test_a_type_wider_than_a_universe_is_refused() -> None:
    channels = ", ".join(["intensity"] + ["fixed 0"] * 510 + ["red 16-bit"])  # 513 slots in 512 channels
    assert [place for place, _ in faults(f"cuedeck: 1\ntypes: {{t: {{channels: [{channels}]}}}}\n")] == ["2:12"]


def test_a_look_left_empty_changes_nothing() -> None:
    assert faults("cuedeck: 1\nlooks:\n  keep:\n") == []


@pytest.mark.parametrize(
    ("text", "place", "what"),
    [
        ("title: x\n", "1:1", "the key 'cuedeck' is missing"),
        ("cuedeck: 1\nrig:\n  a: {address: 1.2}\n", "3:6", "the key 'type' is missing"),
        ("cuedeck: 1\nshots: {a: {cues: [{at: 0 s, look: b}]}}\n", "2:20", "the key 'cue' is missing"),
        ("cuedeck: 1\nshots: {a: {cues: [{cue: 1, at: 0 s}]}}\n", "2:20", "the key 'look' is missing"),
    ],
)
def test_a_missing_key_is_reported_where_it_belongs(text: str, place: str, what: str) -> None:
    assert faults(text) == [(place, what)]


def test_every_fault_is_reported_at_once_at_its_own_place() -> None:
    text = """\
cuedeck: 1
camera: {shuter: 1/50 s, iso: x, stop: 32}
rig:
  a: {type: dimmer, address: 1, circut: w}
  b: {address: 1.2}
looks:
  dim: {a: 120 %}
shots:
  1:
    cues:
      - {cue: 1, at: 0 s, look: dim, fade: 3 K}
"""
    assert faults(text) == [
        ("2:10", "unknown key 'shuter'"),
        ("2:31", "'x' is not a number"),
        ("2:40", "'32' is not a lens stop"),
        ("4:30", "'1' is not an address"),
        ("4:33", "unknown key 'circut'"),
        ("5:6", "the key 'type' is missing"),
        ("7:12", "120 % is out of range"),
        ("11:44", "'K' is no unit for a time"),
    ]


def test_what_goes_missing_with_a_fault_is_not_a_fault_of_its_own() -> None:
    # The bad address is taken out; that the light then has none is no news. Nor is a cue without a start.
    text = """\
cuedeck: 1
rig: {a: {type: dimmer, address: 1.600}}
shots: {s: {cues: [{cue: 1, at: soon, look: b}]}}
"""
    assert [place for place, _ in faults(text)] == ["2:34", "3:33"]


def test_checks_between_values_still_see_what_is_left() -> None:
    text = """\
cuedeck: 1
types: {t: {channels: [intensity, colour temperature], colour temperature: {low: 6500 K, high: 2000 K}, wats: 5}}
"""
    assert faults(text) == [("2:76", "low 6500 K is not below high 2000 K"), ("2:105", "unknown key 'wats'")]


def test_places_in_a_list_stay_right_after_an_item_was_taken_out() -> None:
    # Cues 1 and 3 are taken out; cue 5 is the fifth in the file and the third that is left.
    text = """\
cuedeck: 1
looks: {a: {}}
shots:
  1:
    cues:
      - {cue: 1, at: 2, look: a}
      - {cue: 2, at: 0 s, look: a}
      - {cue: 3, look: a, fade: 2 s}
      - {cue: 4, at: 0 s, look: a, fade: 3 K}
      - {cue: 5, at: 0 s, look: gone}
"""
    assert faults(text) == [
        ("6:22", "'2' has no unit"),
        ("8:9", "the cue has no start"),
        ("9:42", "'K' is no unit for a time"),
    ]
    assert dead_ends(text) == [("10:33", "cue 5 goes to look 'gone', and no look is called that")]


def test_a_file_that_is_no_show_is_problems_only() -> None:
    with pytest.raises(ProblemsFound) as refused:
        load_show(b"- a\n")
    assert [problem.what for problem in refused.value.problems] == ["the file is not a mapping of keys to values"]


@pytest.mark.parametrize(
    ("colour", "cure"),
    [
        ("sRGB 1.0 0.1 0", "write sRGB 255 26 0"),  # 0.1 x 255 = 25.5, and halves go up
        ("sRGB 0 0.5 1", "write sRGB 0 128 255"),
        ("sRGB 1 1 0", None),
        ("sRGB 1 128.5 0", None),
    ],
)
def test_a_screen_colour_that_looks_like_parts_of_one_is_warned_of(colour: str, cure: str | None) -> None:
    text = "cuedeck: 1\nrig: {a: {type: rgb, address: 1.1}}\nlooks:\n"
    loaded = load_show(f"{text}  x: {{a: {{colour: {colour}}}}}\n  y: {{everything: {{colour: {colour}}}}}\n".encode())
    found = [(problem.place.line, problem.place.column, problem.cure) for problem in check_references(loaded)]
    assert found == ([] if cure is None else [(4, 19, cure), (5, 28, cure)])
    assert not any(problem.is_error for problem in check_references(loaded))


def test_a_look_that_names_no_light_is_told_the_nearest() -> None:
    text = "cuedeck: 1\nrig: {rim left: {type: dimmer, address: 1.1}}\nlooks:\n  edges: {rim lefft: 45 %}\n"
    (problem,) = check_references(load_show(text.encode()))
    assert str(problem) == (
        "show.yaml:4:11: error: look 'edges' names 'rim lefft', and no light of the rig is called that\n"
        "    write 'rim left'"
    )


def test_a_look_like_an_unknown_one_is_reported() -> None:
    assert dead_ends("cuedeck: 1\nlooks:\n  a: {}\n  b: {like: c}\n") == [
        ("4:13", "look 'b' is like 'c', and no look is called that")
    ]


def test_looks_that_are_like_each_other_are_reported_and_those_outside_the_circle_are_not() -> None:
    text = "cuedeck: 1\nlooks:\n  a: {like: b}\n  b: {like: a}\n  c: {like: a}\n  d: {like: d}\n"
    found = dead_ends(text)
    assert [place for place, _ in found] == ["3:13", "4:13", "6:13"]
    assert all("is like itself" in what for _, what in found)


CUES = """\
cuedeck: 1
looks: {a: {}}
shots:
  1:
    cues:
"""


def test_cues_that_wait_for_each_other_are_reported_and_those_outside_the_circle_are_not() -> None:
    text = (
        CUES
        + "      - {cue: 1, after: 2, look: a}\n"
        + "      - {cue: 2, with: 1, look: a}\n"
        + "      - {cue: 3, after: 1, look: a}\n"
        + "      - {cue: 4, after: 4, look: a}\n"
    )
    assert dead_ends(text) == [
        ("6:25", "cue 1 never happens: it waits for itself"),
        ("7:24", "cue 2 never happens: it waits for itself"),
        ("9:25", "cue 4 never happens: it waits for itself"),
    ]


def test_two_cues_of_one_name_are_reported_at_the_second() -> None:
    text = CUES + "      - {cue: 1, at: 0 s, look: a}\n      - {cue: 1, at: 1 s, look: a}\n"
    assert dead_ends(text) == [("7:15", "shot 1 has two cues called '1'")]


def test_a_fault_of_the_second_of_two_cues_of_one_name_is_reported_there() -> None:
    text = CUES + "      - {cue: 1, at: 0 s, look: a}\n      - {cue: 1, at: 1 s, look: gone}\n"
    assert ("7:33", "cue 1 goes to look 'gone', and no look is called that") in dead_ends(text)


def test_a_cue_that_waits_for_an_unknown_one_is_reported() -> None:
    text = CUES + "      - {cue: 1, at: 0 s, look: a}\n      - {cue: 2, after: 9, look: a}\n"
    assert dead_ends(text) == [("7:25", "cue 2 waits for cue '9', and this shot has no such cue")]


def test_a_cue_that_could_not_be_read_is_still_there_to_be_waited_for() -> None:
    text = CUES + "      - {cue: 1, at: soon, look: a}\n      - {cue: 2, after: 1, look: a}\n"
    assert [place for place, _ in faults(text)] == ["6:22"]
    assert dead_ends(text) == []


def test_a_circuit_that_is_not_under_mains_is_reported() -> None:
    text = "cuedeck: 1\nmains: {circuits: {wall: 16 A}}\nrig: {a: {type: dimmer, address: 1.1, circuit: wal}}\n"
    assert dead_ends(text) == [("3:48", "'a' is on circuit 'wal', which is not under mains")]


@pytest.mark.parametrize("name", ["everything", "like"])
def test_a_light_cannot_have_a_name_that_looks_use_as_a_word(name: str) -> None:
    text = f"cuedeck: 1\nrig:\n  {name}: {{type: dimmer, address: 1.1}}\n"
    assert dead_ends(text) == [("3:3", f"a light cannot be called '{name}': looks use that word")]


@pytest.mark.parametrize(
    ("line", "place"),
    [
        ('rig: {"a\\e[31m": {type: dimmer, address: 1.1}}', "2:7"),
        ('title: "x\\n"', "2:8"),
        ('shots: {"1\\e[2J": {}}', "2:9"),
    ],
)
def test_a_name_that_does_not_print_is_refused_so_that_no_escape_sequence_reaches_a_terminal(
    line: str, place: str
) -> None:
    where, what = faults(f"cuedeck: 1\n{line}\n")[0]
    assert where == place
    assert "a character that does not print" in what
    assert what.isprintable()
