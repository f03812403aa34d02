"""The JSON Schema of the show file: it knows every key, and never refuses what the loader reads."""

from __future__ import annotations

import os
import random
import re
from collections.abc import Iterator
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from cuedeck.rig.types import BUILT_IN
from cuedeck.show.load import load_show
from cuedeck.show.problems import ProblemsFound
from cuedeck.show.schema import show_schema
from tests.show.editors import VERSIONS, as_an_editor
from tests.show.mutations import DEMO, ODD_TEXTS, mutate_as_tree
from tests.test_readme import block

MUTANTS = int(os.environ.get("CUEDECK_MUTATIONS", "1000"))
CHUNK = 200
SCHEMA = show_schema()
VALIDATOR = Draft202012Validator(SCHEMA)

RICH = """\
cuedeck: 2
include: []
title: Harrow pocket barometer
camera: {fps: 23.976, timecode: 23.976, shoot fps: 48,
  shutter: 1/50 s, iso: 800, stop: f/32, holds: {below: 6 stop, above: 5 stop}, at: [0, -1.6, .4]}
mains: {volts: 230, hertz: 50, circuits: {wall: 16 A, 2: 10 A}}
refresh: 40 Hz
slots: patched
on stop: hold
osc: {bind: 0.0.0.0, port: 8765, allow: [192.168.1.20, 127.0.0.1]}
types:
  lamp: {channels: [intensity], white: 3200 K, lumens: 8200, size: 0.12}
  panel:
    channels: [intensity 16-bit, colour temperature, fixed 0, x, y]
    colour temperature: {low: 2800 K, high: 6500 K, even in: kelvin}
    dimmer: s-curve
    lux at 1 m: 5200
    watts: 150
    tenth switch: on
  measured:
    channels: [intensity 24-bit inverted, colour temperature 8-bit]
    colour temperature: {0 %: 2810 K, 50 %: 3900 K, 100 %: 6480 K}
    dimmer: {0 %: 0, 10 %: 42 lux, 50 %: 1180 lux, 100 %: 5210}
    tenth switch: "off"
  spot:
    modes:
      5 channels: [red, green, blue, {channel: strobe, ranges: {open: 0-10, on: 11}, default: open}, white]
      7:
        - intensity 16-bit
        - red
        - {channel: fan 16-bit, default: 30 %}
        - {channel: gobo, ranges: {open: 0-10, spin: 11-255}, default: spin 40 %, snap: middle}
        - {channel: on, default: value 37}
    emitters:
      red: {x: 0.69, y: 0.31, luminance: 20}
rig:
  rim left: {type: panel, address: 1.10, at: [-0.9, 0.7, 0.5], circuit: wall, loss: 1.3 stop, never above: 80 %}
  rim right: {type: measured, address: 1.100, rides: slide, circuit: 2, never below: -6.5 stop, never above: full}
  7: {type: spot, mode: 7, address: "2.1"}
  spare: {type: dimmer}
groups:
  rims: [rim left, rim right, 7]
looks:
  black: {everything: out}
  nothing:
  edges: {rims: -1 stop, 7: {level: 45 %, colour: sRGB 255 128 0, gobo: spin 40 %, on: value 12}}
  reveal: {like: edges, everything: {colour: 3200 K -137 mired}, rim left: {level: full, colour: xy 0.31 0.33}}
shots:
  1:
    title: 2024-05-01
    move: moves/slide-in.csv
    length: 10 s
    trigger:
      - {line: CTS, edge: closing, does: start}
      - {line: DCD, edge: both, does: next cue, debounce: 30 ms}
      - {line: RI, does: cue 5}
    signal: {line: RTS, lasts: 500 ms}
    top speed: {slide: 300 mm/s}
    cues:
      - {cue: 1, at: 0 s, look: black, title: yes}
      - {cue: 2, at: slide 60 mm falling pass 2, look: edges, fade: 2 s, curve: even stops, colour path: channels}
      - {cue: 3, after: 2, wait: 0.5 s, look: reveal, fade: 500 ms, curve: ease, skip: yes}
      - {cue: on, with: 3, look: edges}
      - {cue: 5, at: operator, look: black}
  played:
    starts at: 01:00:00:00
    move: {file: moves/arm.csv, columns: {Frame: frame, SLD_POS: slide mm}}
    cues: [{cue: 1, at: 01:00:04:12, look: black}, {cue: 2, at: pan 30 deg while slide over 10 cm, look: edges}]
  2:
    move: {ease: linear, keys: [{time: 0 s, slide: 0 mm, pan: 0 deg}, {time: 2 s, slide: 12 cm, pan: -30°}]}
    trigger: {line: DSR, does: start}
    signal: {line: DTR}
    cues: [{cue: 1, at: 40 % of the move, look: black}, {cue: 2, at: 50 frames, look: edges}]
"""
OFF_SPEED = """\
cuedeck: 2
camera: {play fps: 29.97, timecode: 29.97df, shoot fps: 120}
refresh: camera
shots:
  1:
    starts at: "01:00:00;00"
    move: {file: a.csv}
    cues: [{cue: 1, at: "1:00:04;12", look: black}]
looks: {black: {everything: out}}
"""
SHOWS = {
    "demo": (DEMO / "show.yaml").read_text(encoding="utf-8"),
    "readme": "\n".join(block("first show", "yaml")) + "\n",
    "rich": RICH,
    "off speed": OFF_SPEED,
}
WRONG = (
    "riq: {}",
    "on_stop: hold",
    "on stop: dark",
    "title: [a]",
    "title:",
    "camera:",
    "camera: {shutter: }",
    "camera: {at: ~}",
    "refresh:",
    "slots:",
    "include:",
    "types: {t: {channels: }}",
    "types: {t: {channels: [intensity], dimmer: }}",
    "types: {t: {channels: [intensity], watts: }}",
    "types: {t: {channels: [intensity, colour temperature], colour temperature: }}",
    "types: {t: {channels: [{channel: fan, default: }]}}",
    "types: {t: {channels: [{channel: fan, default: 1 %, snap: }]}}",
    "rig: {a: {type: dimmer, address: }}",
    "rig: {a: {type: dimmer, mode: ~}}",
    "rig: {a: {type: dimmer, never above: }}",
    "rig: {a: {type: dimmer, never below: 30}}",
    "rig: {a: {type: dimmer, never below: low}}",
    "looks: {a: {like: }}",
    "looks: {a: {everything: }}",
    "looks: {a: {rim: {level: }}}",
    "looks: {a: {rim: {colour: }}}",
    "looks: {a: {rim: {red: }}}",
    "shots: {a: {move: }}",
    "shots: {a: {length: }}",
    "shots: {a: {title: }}",
    "shots: {a: {cues: [{cue: 1, at: 0 s, look: b, fade: }]}}",
    "shots: {a: {cues: [{cue: 1, at: , after: 2, look: b}]}}",
    "shots: {a: {cues: [{cue: 1, after: 2, wait: , look: b}]}}",
    "camera: {shutter: 50 fps}",
    "camera: {shutter: 2}",
    "camera: {stop: 32}",
    "camera: {iso: fast}",
    "camera: {fps: 0}",
    "camera: {fps: 25 fps}",
    "camera: {fps: 25, play fps: 25}",
    "camera: {shoot fps: 0}",
    "camera: {timecode: [25]}",
    "camera: {timecode: fast}",
    "refresh: film",
    "shots: {a: {starts at: 1 h}}",
    "shots: {a: {move: {file: a.csv, colums: {a: b}}}}",
    "shots: {a: {move: {file: [a.csv]}}}",
    "shots: {a: {cues: [{cue: 1, at: 01:00:04, look: b}]}}",
    "camera: {at: [0, 1]}",
    "camera: {at: [0, 1, high]}",
    "camera: {at: [0, 1, 5000]}",
    "mains: {volts: 0}",
    "mains: {circuits: {wall: 16}}",
    "refresh: 44",
    "slots: 5",
    "include: {a: b}",
    "include: [[a]]",
    "slots: all",
    "types: {t: {}}",
    "types: {t: {channels: []}}",
    "types: {t: {channels: [intensity], modes: {a: [intensity]}}}",
    "types: {t: {channels: [fred]}}",
    "types: {t: {channels: [intensity 12-bit]}}",
    "types: {t: {channels: [{default: 5 %}]}}",
    "types: {t: {channels: [{channel: fan, default: 5}]}}",
    "types: {t: {channels: [{channel: fan, ranges: {open: 0-1000}}]}}",
    "types: {t: {channels: [{channel: fan, snap: sometimes}]}}",
    "types: {t: {channels: [intensity], lux at 1m: 5}}",
    "types: {t: {channels: [intensity], dimmer: cube}}",
    "types: {t: {channels: [intensity], dimmer: {10: 4 lux}}}",
    "types: {t: {channels: [intensity], dimmer: {10 %: 4 stop}}}",
    "types: {t: {channels: [intensity], dimmer: {}}}",
    "types: {t: {channels: [intensity, colour temperature], colour temperature: {low: 2800 K}}}",
    "types: {t: {channels: [intensity, colour temperature], colour temperature: {0 %: 2800 K}}}",
    "types: {t: {channels: [red], emitters: {red: {x: 0.7, y: 0.3}}}}",
    "types: {t: {channels: [red], emitters: {reed: {x: 0.7, y: 0.3, luminance: 1}}}}",
    "types: {t: {channels: [red], emitters: {red: {x: 7, y: 0.3, luminance: 1}}}}",
    "types: {t: {channels: [intensity], tenth switch: up}}",
    "rig: 5",
    "rig: {a: {address: 1.1}}",
    "rig: {a: {type: dimmer, address: 21}}",
    "rig: {a: {type: dimmer, address: 1.1.1}}",
    "rig: {a: {type: dimmer, circut: w}}",
    "rig: {a: {type: [dimmer]}}",
    "rig: {a: }",
    "groups: {a: []}",
    "groups: {a: b}",
    "looks: {a: 45 %}",
    "looks: {a: {rim: 45}}",
    "looks: {a: {rim: [1]}}",
    "looks: {a: {rim: }}",
    "looks: {a: {rim: dim}}",
    "looks: {a: {rim: {level: 45 K}}}",
    "looks: {a: {rim: {colour: 5600}}}",
    "looks: {a: {rim: {colour: sRGB 1 2}}}",
    "looks: {a: {rim: {red: 40}}}",
    "looks: {'': {}}",
    f"looks: {{{'x' * 81}: {{}}}}",
    "shots: {a: }",
    "shots: {a: {cues: 3}}",
    "shots: {a: {move: [1]}}",
    "shots: {a: {move: {keys: [{time: 0 s}]}}}",
    "shots: {a: {move: {keys: [{time: 0 s, slide: 0 mm}, {time: 1 s, slide: 5}]}}}",
    "osc: {port: 70000}",
    "osc: {bind: localhost}",
    "osc: {allow: 127.0.0.1}",
    "shots: {a: {trigger: on}}",
    "shots: {a: {top speed: 300 mm/s}}",
    "shots: {a: {top speed: {slide: 300 mm}}}",
    "shots: {a: {top speed: {slide: 300/s}}}",
    "shots: {a: {top speed: {slide: 300 Hz}}}",
    "shots: {a: {trigger: {line: CTS}}}",
    "shots: {a: {trigger: {line: RTS, does: start}}}",
    "shots: {a: {trigger: {line: CTS, does: stop}}}",
    "shots: {a: {trigger: {line: CTS, does: start, edge: open}}}",
    "shots: {a: {trigger: {line: CTS, does: start, debounce: 20}}}",
    "shots: {a: {signal: {line: CTS}}}",
    "shots: {a: {signal: RTS}}",
    "shots: {a: {cues: [{cue: 1, look: b}]}}",
    "shots: {a: {cues: [{cue: 1, at: 1 s}]}}",
    "shots: {a: {cues: [{at: 1 s, look: b}]}}",
    "shots: {a: {cues: [{cue: 1, at: 1 s, with: 2, look: b}]}}",
    "shots: {a: {cues: [{cue: 1, at: 1 s, wait: 1 s, look: b}]}}",
    "shots: {a: {cues: [{cue: 1, at: soon, look: b}]}}",
    "shots: {a: {cues: [{cue: 1, at: 5, look: b}]}}",
    "shots: {a: {cues: [{cue: 1, at: slide 60, look: b}]}}",
    "shots: {a: {cues: [{cue: 1, at: 0 s, look: b, curve: even}]}}",
    "shots: {a: {cues: [{cue: 1, at: 0 s, look: b, fade: 2}]}}",
)


def alarms(text: str, version: str) -> list[str]:
    """Return what an editor with the schema marks in a show."""
    errors = VALIDATOR.iter_errors(as_an_editor(text, version))
    return [f"{'/'.join(str(step) for step in error.absolute_path)}: {error.message}" for error in errors]


def is_read(text: str) -> bool:
    """Whether the loader has nothing to say about a show."""
    try:
        return load_show(text.encode()).problems == ()
    except ProblemsFound:
        return False


# --- the schema ---------------------------------------------------------------------------------------------------


def test_it_keeps_to_the_metaschema_of_2020_12() -> None:
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(SCHEMA)


def parts(node: Any) -> Iterator[dict[str, Any]]:
    if isinstance(node, dict):
        yield node
        for part in node.values():
            yield from parts(part)
    elif isinstance(node, list):
        for part in node:
            yield from parts(part)


def properties() -> dict[str, dict[str, Any]]:
    """Return every key of the format with its schema, by `part.key`."""
    places = {"Show": SCHEMA, **SCHEMA["$defs"]}
    return {
        f"{name}.{key}": about
        for name, place in places.items()
        for mapping in (place, *place.get("anyOf", ()))
        for key, about in mapping.get("properties", {}).items()
    }


def test_every_key_says_what_it_is() -> None:
    assert [key for key, about in properties().items() if not about.get("description", "").endswith(".")] == []


def test_every_mapping_of_fixed_keys_forbids_others() -> None:
    fixed = [part for part in parts(SCHEMA) if part.get("type") == "object" and "properties" in part]
    assert len(fixed) > 8
    assert [part for part in fixed if "additionalProperties" not in part] == []


def test_every_pattern_is_one_that_editors_know_too() -> None:
    """ECMA-262 has no named groups of Python's kind, no \\A and no \\Z (from memory)."""
    patterns = [part["pattern"] for part in parts(SCHEMA) if isinstance(part.get("pattern"), str)]
    assert len(patterns) > 20
    assert [pattern for pattern in patterns if re.search(r"\(\?P|\\[AZ]|\(\?[a-z]", pattern)] == []


def test_every_example_and_every_default_is_right_by_its_own_schema() -> None:
    texts = [part for part in parts(SCHEMA) if isinstance(part.get("examples"), list)]
    assert len(texts) > 20
    for part in texts:
        assert [one for one in part["examples"] if not Draft202012Validator(part).is_valid(one)] == []
    for key, part in properties().items():
        assert "default" not in part or VALIDATOR.evolve(schema=part).is_valid(part["default"]), key


# --- what is right ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("name", SHOWS)
def test_a_right_show_raises_no_alarm(name: str, version: str) -> None:
    assert is_read(SHOWS[name])
    assert alarms(SHOWS[name], version) == []


def test_the_rich_show_has_every_key_of_the_format() -> None:
    used = {key for text in (RICH, OFF_SPEED) for part in parts(as_an_editor(text, "YAML 1.2")) for key in part}
    assert {key.partition(".")[2] for key in properties()} - used == set()


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("kind", BUILT_IN)
def test_a_light_of_any_built_in_type_is_right(kind: str, version: str) -> None:
    assert alarms(f"cuedeck: 1\nrig: {{key: {{type: {kind}, address: 1.1}}}}\n", version) == []


# --- what is wrong ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("line", WRONG)
def test_what_the_loader_refuses_for_its_shape_is_marked(line: str, version: str) -> None:
    text = f"cuedeck: 1\n{line}\n"
    assert not is_read(text)
    assert alarms(text, version)


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("text", ["title: a\n", "cuedeck: 99\n", "cuedeck:\n", "- cuedeck: 1\n", "cuedeck\n"])
def test_a_file_that_is_no_show_is_marked(text: str, version: str) -> None:
    assert not is_read(text)
    assert alarms(text, version)


def test_a_range_that_yaml_takes_for_a_number_needs_quotes() -> None:
    """The one alarm that the loader does not share, see the module: it buys the mark at 'red: 40'."""
    show = "cuedeck: 1\nlooks: {{a: {{key: {{gobo: {}}}}}}}\n"
    assert is_read(show.format("1e3"))
    assert alarms(show.format("1e3"), "YAML 1.2")
    assert alarms(show.format("'1e3'"), "YAML 1.2") == []


# --- no false alarms ----------------------------------------------------------------------------------------------

NUMBER_IN_DISGUISE = re.compile(r"[-+]?[0-9.][0-9a-fA-FxXoeE._+:-]*")
"""Texts that YAML may take for a number, of which only plain decimals are put in: see the range above."""
PLAIN_TEXTS = (
    "01:00:04:12", "29.97df", "camera", "pan 30 deg while slide over 5 mm",
    "on", "off", "yes", "no", "y", "true", "False", "~", "null", "", "2024-05-01", "25", "1.10", "-0.9", "45 %", "3",
    "-1.5 stop", "full", "2 s", ".5 s", "1/3 s", "60 frames", "arm 20 deg rising", "12 cm", "5600 K Duv -0.003",
    "x", "red 16-bit", "fixed 7", "[red, green]", "{level: full}", "{}", "[]", "[0, 0, 0]", "'7'", '" 2 s "',
    "{channel: fan, default: 30 %}", "träger 5 mm", "a: b", "0-10", "value 12", "spin 40 %", "\N{MINUS SIGN}3 stop",
)  # fmt: skip


def scalars(text: str) -> list[tuple[int, int]]:
    """Return where the scalars of a show stand in its text, keys too."""
    found = [token for token in yaml.scan(text, Loader=yaml.CSafeLoader) if isinstance(token, yaml.ScalarToken)]
    return [(token.start_mark.index, token.end_mark.index) for token in found]


POOL = sorted({text[start:end] for text in SHOWS.values() for start, end in scalars(text)} | {*PLAIN_TEXTS, *ODD_TEXTS})
POOL = [text for text in POOL if not NUMBER_IN_DISGUISE.fullmatch(text) or re.fullmatch(r"-?\d{1,9}(\.\d+)?", text)]


def mutant(seed: int) -> str:
    """Return a show with a few of its words exchanged, or its tree changed, by the seed."""
    dice = random.Random(seed)  # noqa: S311 - the same damage for the same seed is the point
    text = SHOWS[dice.choice(sorted(SHOWS))]
    if dice.randrange(3) == 0:
        return mutate_as_tree(dice, text.encode()).decode("utf-8", "replace")
    for start, end in sorted(dice.sample(scalars(text), dice.choice((1, 1, 2))), reverse=True):
        text = text[:start] + dice.choice(POOL) + text[end:]
    return text


@pytest.mark.parametrize("first", range(0, MUTANTS, CHUNK))
def test_what_the_loader_reads_raises_no_alarm(first: int) -> None:
    read = {seed: text for seed in range(first, first + CHUNK) if is_read(text := mutant(seed))}
    assert len(read) > CHUNK / 10
    found = {(seed, version): alarms(text, version) for seed, text in read.items() for version in VERSIONS}
    assert {which: what for which, what in found.items() if what} == {}
