"""Shows damaged by a seeded generator, and what must hold for each of them.

`python -m tests.show.mutations 0 100` tries the damage of those seeds in this process, each within a bound of
processor time, and prints as JSON what it found.
"""

from __future__ import annotations

import errno
import json
import os
import random
import re
import resource
import signal
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn, TypedDict

import yaml

from cuedeck.show import SHOW_FILE
from cuedeck.show.problems import Problem, ProblemsFound
from cuedeck.timeline.opening import OpenedShow, open_show
from cuedeck.timeline.plan import FiredCue

MOST_SECONDS = 2.0
"""Most processor time that opening and rendering one damaged show may take."""

DEMO = Path(__file__).parents[2] / "shows" / "barometer"


def _thinned(table: bytes) -> bytes:
    """Return a table with its head, each tenth line and its last: most of the time to open a show is its tables."""
    head, *lines = table.splitlines(keepends=True)
    return b"".join((head, *lines[:-1:10], lines[-1]))


MOVES = {path.relative_to(DEMO).as_posix(): _thinned(path.read_bytes()) for path in DEMO.glob("moves/*.csv")}
EVERY_KEY = {
    SHOW_FILE: b"""\
cuedeck: 2
include: [types/own.yaml, looks/common.yaml]
title: Everything that a show can say
camera: {fps: 29.97, timecode: 29.97df, shoot fps: 24,
  shutter: 1/50 s, iso: 800, stop: f/16, holds: {below: 6 stop, above: 4 stop}, at: [0, -1.6, 0.4]}
mains: {volts: 230, hertz: 50, circuits: {wall: 16 A}}
refresh: camera
slots: patched
on stop: hold
types:
  two-tone-panel:
    channels: [intensity 16-bit, colour temperature inverted, fixed 0]
    colour temperature: {0 %: 2810 K, 50 %: 3900 K, 100 %: 6480 K}
    dimmer: {0 %: 0, 10 %: 42 lux, 50 %: 1180 lux, 100 %: 5210 lux}
    lux at 1 m: 5210
    watts: 150
    tenth switch: "on"
rig:
  rim left: {type: two-tone-panel, address: 1.1, at: [-0.9, 0.7, 0.5], circuit: wall, loss: 1.3 stop}
  rim right: {type: two-tone-panel, address: 1.11, rides: slide}
  key: {type: spot, mode: 12 channels, address: 2.1}
  wash: {type: hue-wash, address: 2.101}
  dot: {type: point, address: 2.201, never above: -0.5 stop}
  bulb: {type: dimmer, address: 1.512, never below: 5 %, never above: full}
groups:
  rims: [rim left, rim right]
looks:
  lit: {like: edges, rims: {level: 0 stop, colour: 3200 K -137 mired}, wash: {level: 30 %, hue: 40 %, saturation: 70 %}}
  tinted: {key: {level: full, colour: sRGB 255 128 0, strobe: slow to fast 40 %}, dot: {level: 50 %, x: 31 %, y: 33 %}}
  driven: {key: {red: 100 %, white: 20 %, fan: value 37}, everything: {level: -2 stop}}
shots:
  "1":
    title: all starts
    move:
      ease: linear
      keys:
        - {time: 0 s, slide: 0 mm, table: -30 deg}
        - {time: 2 s, slide: 90 mm}
        - {time: 6 s, slide: 10 mm, table: 45 deg}
    length: 8 s
    starts at: 01:00:00;00
    cues:
      - {cue: 1, at: 0 s, look: edges}
      - {cue: 2, at: slide 60 mm rising, look: lit, fade: 0.4 s, curve: even stops}
      - {cue: 3, after: 2, wait: 0.1 s, look: tinted, fade: 0.5 s, curve: ease, colour path: channels, title: warmer}
      - {cue: 4, with: 3, wait: 1 s, look: driven, fade: 0.1 s, curve: even lightness}
      - {cue: 5, at: 50 % of the move, look: shared, fade: 0.2 s, skip: no}
      - {cue: 6, at: table 0 deg pass 1, look: edges, fade: 0.3 s}
      - {cue: 7, at: 180 frames, look: lit, fade: 0.1 s}
      - {cue: 8, at: operator, look: edges, fade: 1 s}
      - {cue: 9, at: 01:00:09;12, look: lit, fade: 0.1 s}
      - {cue: 10, at: slide 60 mm falling while table over 0 deg, look: edges}
  "2":
    move: {file: moves/slide-in.csv, columns: {time s: time s, slide mm: arm mm}}
    cues:
      - {cue: 1, at: arm 60 mm while arm under 100 mm, look: lit}
""",
    "types/own.yaml": b"""\
# The lights of the house.
types:
  spot:
    modes:
      8 channels: [intensity, red, green, blue, white, {channel: strobe, ranges: {open: 0-10, fast: 11-255}}]
      12 channels:
        - intensity 24-bit
        - red
        - green
        - blue
        - white
        - {channel: strobe, ranges: {open: 0-10, slow to fast: 11-255}, default: open, snap: middle}
        - {channel: fan, default: 30 %}
        - {channel: mirror 16-bit inverted, default: value 128, snap: end}
        - fixed 255
    emitters:
      red: {x: 0.69, y: 0.31, luminance: 20}
      green: {x: 0.17, y: 0.70, luminance: 60}
      blue: {x: 0.14, y: 0.05, luminance: 6}
      white: {x: 0.33, y: 0.34, luminance: 100}
    dimmer: s-curve
  hue-wash: {channels: [intensity, hue, saturation], dimmer: square, watts: 90}
  point: {channels: [intensity, x 16-bit, y 16-bit]}
""",
    "looks/common.yaml": b"""\
looks:
  edges:
    everything: out
    rims: -1 stop
    key: {level: 45 %, colour: 5600 K Duv +0.003, strobe: open, fan: 50 %}
  shared: {wash: {level: full, colour: xy 0.3127 0.3290}, bulb: 10 %}
groups:
  house: [wash, dot, bulb]
""",
}
"""A show that says everything a show can say, in three files."""
WHOLE = (
    {SHOW_FILE: (DEMO / SHOW_FILE).read_bytes(), **MOVES},
    {**EVERY_KEY, **MOVES},
)
"""The shows that are damaged, in turn."""
_BREAK = re.compile(r"\r\n|[\n\r\x85\u2028\u2029]")
"""The line breaks of YAML 1.1."""

# fmt: off
ODD_TEXTS = (
    "", " ", "~", "null", "0", "-1", "1e400", "nan", "inf", "1/0", "1/0 s", "9" * 12, "9" * 400, "-" + "9" * 40 + " mm",
    "999999999999.999999999999/999999999999 Hz", "40000000000.000000000001/999999999 Hz",
    "40.000000000001/999999999 Hz", "1/999999999999 s", "24/1 min", "1440 min", "86400 s", "0 s", "-0 s", "100 %",
    "100.0000000001 %", "-40 stop", "0 stop", "out", "full", "operator", "40 % of the move",
    "slide 60 mm falling pass 9999", "arm 0 deg", "table 0 mm", "table 1/3 mm rising", "999999999 frames", "1.512",
    "63999.1", "1.1", "0.0", "01:00:04:12", "yes", "no", "everything", "like", "black", "dimmer", "dimmer 16-bit",
    "fixed 256", "red", "intensity", "moves/slide-in.csv", "moves", "../show.yaml", "show.yaml", "/etc/hostname",
    "moves/rim-arc.csv\0", "patched", "512", "24", "even stops", "f/0", "f/32", "23.976", "2 s\nx: 1", "a\tb",
    "5600 K Duv +0.051", "3200 K -137 mired", "3200 K -9999 mired", "xy 0.3127 0.3290", "xy 0 1", "xy 0.5 1/0",
    "sRGB 255 128 0", "sRGB 0 0 0", "sRGB 256 0 0", "0-10", "10-0", "11-255", "255", "256", "value 0", "value 255",
    "value 256", "open 40 %", "slow to fast", "fixed 0", "intensity 24-bit inverted", "x", "hue 16-bit",
    "strobe 8-bit", "s-curve", "start", "end", "rims", "spot", "12 channels", "looks/common.yaml", "types",
    "./show.yaml", "a/../b", "types/own.yaml", "0 lux", "-1 lux", "99999999999 lux", "u'v'", "channels", "3",
    "0.0000000001", "1000 K", "40000 K", "\x1b[31mred", "\u2028", "\u202e", "\ufeff", "\U0001f4a1 lamp", "٣ s",
    "name " * 30, "{}{what}%s", "1", "2", "6",
)
UNITS = (
    "s", "ms", "min", "mm", "cm", "m", "deg", "°", "%", "stop", "K", "Hz", "A", "frames", "of the move", "furlong", "",
)
ODD_BYTES = (
    b"\0", b"\x1b", b"\x07", b"\x0b", b"\x0c", b"\x1c", b"\x7f", b"\xff", b"\xc2\x85", b"\xe2\x80\xa8", b"\xed\xa0\x80",
    b"\r", b"\n", b"\t", b" ", b"---\n", b"...\n", b"'", b'"', b"[", b"]", b"{", b"}", b":", b": ", b",", b"#", b"&a ",
    b"*a ", b"!!binary ", b"!x ", b"<<: ", b"? ", b"| ", b"> ", b"%", b"@", b"`", b"9" * 30, b"-", b"1e9", b"1e308",
    b"\xef\xbb\xbf",
)
TAGS = (
    "!x", "!!python/object:os.system", *(f"tag:yaml.org,2002:{name}" for name in ("binary", "set", "int")),
)
ODD_RATES = (
    "1 Hz", "44 Hz", "45 Hz", "0 Hz", "1/3 Hz", "40000000000.000000000001/999999999 Hz", "40.000000000001 Hz",
)
SPARE_KEYS = (
    "refresh", "refresh", "slots", "on stop", "length", "rides", "dimmer", "with", "wait", "at", "white", "like",
    "time", "include", "groups", "modes", "mode", "emitters", "tenth switch", "colour path", "snap", "default",
    "ranges", "channels", "colour", "everything", "never above", "never below",
)
CELLS = (
    "", "nan", "inf", "-inf", "1e308", "1e9", "-1e9", "9" * 400, "x", "0", "-1", " 5 ", "1_0", "٣", '"1', '"1\n"',
    "1;2",
)
HEADS = (
    "time s", "time ms", "frame", "slide mm", "slide", "mm", "", "slide m", "arm deg", "pan ft", "\x1b mm",
    "time s,time s",
)
# fmt: on

Files = dict[str, bytes]
Node = yaml.Node


# --- the show as a tree -------------------------------------------------------------------------------------------


def mappings(node: Node, seen: set[int] | None = None) -> Iterator[yaml.MappingNode]:
    """Yield every mapping of a tree once, also where the tree contains itself."""
    seen = set() if seen is None else seen
    if id(node) in seen:
        return
    seen.add(id(node))
    if isinstance(node, yaml.MappingNode):
        yield node
        for _, value in node.value:
            yield from mappings(value, seen)
    elif isinstance(node, yaml.SequenceNode):
        for value in node.value:
            yield from mappings(value, seen)


def entries(root: Node) -> list[tuple[yaml.MappingNode, int]]:
    return [(mapping, index) for mapping in mappings(root) for index in range(len(mapping.value))]


def scalar(text: str) -> yaml.ScalarNode:
    return yaml.ScalarNode("tag:yaml.org,2002:str", text)


def listed(*nodes: Node) -> yaml.SequenceNode:
    return yaml.SequenceNode("tag:yaml.org,2002:seq", list(nodes), flow_style=True)


def mapped(*pairs: tuple[Node, Node]) -> yaml.MappingNode:
    return yaml.MappingNode("tag:yaml.org,2002:map", list(pairs), flow_style=True)


def mutate_tree(dice: random.Random, root: Node) -> None:
    """Change one thing in a tree of YAML nodes."""
    places = entries(root)
    if not places or not isinstance(root, yaml.MappingNode):
        return
    mapping, index = dice.choice(places)
    key, value = mapping.value[index]
    other, other_index = dice.choice(places)
    other_key, other_value = other.value[other_index]

    def put(new_key: Node, new_value: Node) -> None:
        mapping.value[index] = (new_key, new_value)

    match dice.randrange(18):
        case 0:
            put(scalar(dice.choice((key.value, "x")) + dice.choice(("s", "_", "", "\n", "\x1b"))), value)
        case 1:
            put(scalar(dice.choice(ODD_TEXTS)), value)
        case 2:
            mapping.value.insert(index, (key, value))
        case 3:
            del mapping.value[index]
        case 4:
            put(key, other_value)
            other.value[other_index] = (other_key, value)
        case 5:
            put(other_key, value)
        case 6:
            put(key, other_value)  # an alias, and where it is a parent of its own, a circle
        case 7:
            put(key, listed(*[value] * dice.randrange(4)))
        case 8:
            put(key, mapped((dice.choice((key, other_key)), value)))
        case 9:
            put(key, mapped())
        case 10:
            value.tag = dice.choice(TAGS)
        case 11:
            put(dice.choice((listed(key), mapped((key, key)), key)), other_value)
        case 12:
            mapping.value.append((yaml.ScalarNode("tag:yaml.org,2002:merge", "<<"), other_value))
        case 13:
            dice.shuffle(mapping.value)
        case 14:
            name = dice.choice(SPARE_KEYS)
            spare = (scalar(name), scalar(dice.choice(ODD_RATES if name == "refresh" else ODD_TEXTS)))
            dice.choice((root, mapping)).value.append(spare)
        case _:
            put(
                key, scalar(mutated_text(dice, value.value) if isinstance(value.value, str) else dice.choice(ODD_TEXTS))
            )


def mutated_text(dice: random.Random, text: str) -> str:
    """Return a value with another unit, another number, or something else altogether."""
    match dice.randrange(4):
        case 0:
            return re.sub(r"[^\d\s./+-][^\d]*$", dice.choice(UNITS), text)
        case 1:
            number = dice.choice(
                ("0", "-1", "1/3", "1e3", "9" * 12, "9" * 13, ".000000000001", "0.5", "12", "2", "1/0")
            )
            return re.sub(r"[\d.]+", number, text, count=1)
        case 2:
            return f"{text} {dice.choice(UNITS)}"
        case _:
            return dice.choice(ODD_TEXTS)


def mutate_as_tree(dice: random.Random, raw: bytes) -> bytes:
    try:
        root = yaml.compose(raw, Loader=yaml.CSafeLoader)
    except (yaml.YAMLError, UnicodeDecodeError):
        return raw
    if root is None:
        return raw
    for _ in range(dice.choice((1, 1, 1, 2, 3))):
        mutate_tree(dice, root)
    text: str = yaml.serialize(root, Dumper=yaml.CSafeDumper, allow_unicode=True, width=110)
    return text.encode("utf-8", "surrogatepass")


# --- the files as bytes -------------------------------------------------------------------------------------------


def mutate_as_bytes(dice: random.Random, raw: bytes) -> bytes:
    at = dice.randrange(len(raw) + 1)
    end = min(at + dice.choice((1, 1, 2, 10, 100, 1000)), len(raw))
    match dice.randrange(7):
        case 0:
            return raw[:at] + bytes(byte ^ 1 << dice.randrange(8) for byte in raw[at : at + 1]) + raw[at + 1 :]
        case 1:
            return raw[:at] + raw[end:]
        case 2:
            return raw[:at]
        case 3:
            return raw[:at] + raw[at:end] * dice.choice((2, 3, 50)) + raw[end:]
        case 4:
            return re.sub(rb"\d+", b"9" * dice.choice((1, 6, 12, 400)), raw, count=1 + dice.randrange(3))
        case _:
            return raw[:at] + dice.choice(ODD_BYTES) * dice.choice((1, 1, 1, 2, 60)) + raw[at:]


def mutate_lines(dice: random.Random, raw: bytes) -> bytes:
    lines = raw.splitlines(keepends=True)
    if not lines:
        return raw
    at, other = dice.randrange(len(lines)), dice.randrange(len(lines))
    match dice.randrange(6):
        case 0:
            del lines[at]
        case 1:
            lines.insert(other, lines[at])
        case 2:
            lines[at], lines[other] = lines[other], lines[at]
        case 3:
            lines[at] = b" " * dice.randrange(1, 5) + lines[at]
        case 4:
            lines[at] = lines[at].lstrip()
        case _:
            ending = dice.choice((b"\r\n", b"\r", b"\xc2\x85", b"\xe2\x80\xa8", b"\n\n"))
            lines = [line.rstrip(b"\r\n") + ending for line in lines]
    return b"".join(lines)


def mutate_cells(dice: random.Random, raw: bytes) -> bytes:
    rows = [line.split(",") for line in raw.decode("utf-8", "replace").split("\n")]
    row = rows[dice.choice((0, dice.randrange(len(rows))))]
    at = dice.randrange(len(row))
    match dice.randrange(6):
        case 0:
            row.append(dice.choice(CELLS))
        case 1:
            del row[at]
        case 2:
            factor = dice.choice((-1, 0, 1000, 1e7))
            for one in rows[1:]:
                one[-1:] = [str(float(cell) * factor) for cell in one[-1:] if re.fullmatch(r"-?\d+\.\d+", cell)]
        case 3:
            rows = rows[: dice.randrange(4)]
        case _:
            row[at] = dice.choice(HEADS if row is rows[0] else CELLS)
    return "\n".join(",".join(row) for row in rows).encode("utf-8", "replace")


def mutated(seed: int) -> Files:
    """Return the files of a show with the damage that belongs to a seed."""
    dice = random.Random(seed)  # noqa: S311 - the same damage for the same seed is the point
    files = dict(WHOLE[seed % len(WHOLE)])
    yaml_files = [name for name in files if name.endswith(".yaml")]
    of_move: tuple[Callable[[random.Random, bytes], bytes], ...] = (mutate_as_bytes, mutate_lines, mutate_cells)
    for _ in range(dice.choice((1, 1, 1, 2))):
        kind = dice.randrange(10)
        if kind < 5:
            name = dice.choice(yaml_files)
            files[name] = mutate_as_tree(dice, files[name])
        elif kind < 8:
            name = dice.choice(yaml_files)
            files[name] = dice.choice((mutate_as_bytes, mutate_as_bytes, mutate_lines))(dice, files[name])
        else:
            name = dice.choice(sorted(MOVES))
            files[name] = dice.choice(of_move)(dice, files[name])
    return files


# --- what must hold -----------------------------------------------------------------------------------------------


def opened(files: Files) -> tuple[OpenedShow | None, tuple[Problem, ...]]:
    def read(name: str) -> bytes:
        if name not in files:
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))
        return files[name]

    try:
        show = open_show(read)
    except ProblemsFound as found:
        return None, found.problems
    return show, show.problems


def faults_of(problem: Problem, files: Files) -> Iterator[str]:
    """Yield what is wrong with the way a problem is told."""
    place = problem.place
    raw = files.get(place.file)
    if raw is None:
        yield f"no file is called {place.file!r}"
    elif not 1 <= place.line <= len(_BREAK.split(raw.decode("utf-8", "replace"))):
        yield f"{place.file} has no line {place.line}"
    if place.column < 1:
        yield f"there is no column {place.column}"
    for words in (problem.what, problem.cure):
        if not words.strip():
            yield "it says nothing"
        if not words.isprintable():
            yield f"it does not print as a line: {words!r}"


def render_ends(show: OpenedShow) -> None:
    """Render the first, a middle and the last packet of every shot that can run, with nothing and with all fired."""
    for shot in show.show.shots:
        plan = show.plan(shot)
        if plan.errors:
            continue
        for fired in ([], [FiredCue(cue, 7) for cue in plan.operator_cues]):
            timeline = plan.timeline(fired)
            last = timeline.packet_count - 1
            packets = sorted({0, last // 2, last})
            slots = timeline.slots(packets)
            assert slots.shape == (len(packets), len(timeline.patch.universes), 512)


class Findings(TypedDict):
    """What was found with some seeds."""

    failures: list[str]
    with_errors: int
    """How many of the damaged shows had an error."""
    most_memory_bytes: int


class TookTooLong(Exception):
    """A damaged show used more processor time than it may."""


@contextmanager
def bounded() -> Iterator[None]:
    """Raise TookTooLong where the work uses more than MOST_SECONDS of processor time."""

    def stop(*_: object) -> NoReturn:
        raise TookTooLong(f"more than {MOST_SECONDS:g} s of processor time")

    signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)


def try_seeds(seeds: Iterable[int]) -> Findings:
    """Open and render the damaged shows of some seeds."""
    failures: list[str] = []
    with_errors = 0
    for seed in seeds:
        files = mutated(seed)
        try:
            with bounded():
                has_errors, faults = try_files(files)
        except Exception as error:
            failures.append(f"seed {seed}: {type(error).__name__}: {error}")
            continue
        with_errors += has_errors
        failures += [f"seed {seed}: {fault}" for fault in faults]
    return Findings(failures=failures, with_errors=with_errors, most_memory_bytes=_most_memory_bytes())


def _most_memory_bytes() -> int:
    """Return the most memory that this process ever held.

    Linux counts in `ru_maxrss` what the process that started this one held; its own peak stands in /proc.
    """
    status = Path("/proc/self/status")
    if status.exists() and (peak := re.search(r"^VmHWM:\s+(\d+) kB", status.read_text(), re.MULTILINE)):
        return int(peak[1]) * 1024
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most * (1 if sys.platform == "darwin" else 1024)


def try_files(files: Files) -> tuple[bool, list[str]]:
    """Open a show, render it where it can run; return whether it has errors, and what is wrong with its problems."""
    show, problems = opened(files)
    assert show is not None or problems, "it does not open and says nothing"
    has_errors = show is None or any(problem.is_error for problem in problems)
    if show is not None:
        render_ends(show)
    return has_errors, [f"{problem}: {fault}" for problem in problems for fault in faults_of(problem, files)]


if __name__ == "__main__":
    print(json.dumps(try_seeds(range(int(sys.argv[1]), int(sys.argv[2])))))
