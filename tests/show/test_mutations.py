"""A show that is damaged in any way opens or says what is wrong with it; nothing else ever comes out.

Every copy of the demo show is damaged by a seeded generator, so a failure names the seed that makes it
again. 2,000 copies are made as a rule. To make more: CUEDECK_MUTATIONS=20000 pytest tests/show/test_mutations.py
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import random
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import yaml

from cuedeck.show.load import SHOW_FILE
from cuedeck.show.problems import Problem, ProblemsFound
from cuedeck.timeline.opening import OpenedShow, open_show
from cuedeck.timeline.plan import FiredCue

CHUNK = 100
MUTATIONS = int(os.environ.get("CUEDECK_MUTATIONS", "2000"))
ON_DISK = range(900_000, 900_020)

DEMO = Path(__file__).parents[2] / "shows" / "barometer"
WHOLE = {path.relative_to(DEMO).as_posix(): path.read_bytes() for path in (DEMO / SHOW_FILE, *DEMO.glob("moves/*.csv"))}
MOVE_FILES = sorted(name for name in WHOLE if name != SHOW_FILE)
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
    "\x1b[31mred", "\u2028", "\u202e", "\ufeff", "\U0001f4a1 lamp", "٣ s", "name " * 30, "{}{what}%s", "1", "2", "6",
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
    "time",
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
    text: str = yaml.serialize(root, Dumper=yaml.SafeDumper, allow_unicode=True, width=110)
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
    """Return the files of the demo show with the damage that belongs to a seed."""
    dice = random.Random(seed)  # noqa: S311 - the same damage for the same seed is the point
    files = dict(WHOLE)
    of_move: tuple[Callable[[random.Random, bytes], bytes], ...] = (mutate_as_bytes, mutate_lines, mutate_cells)
    for _ in range(dice.choice((1, 1, 1, 2))):
        kind = dice.randrange(10)
        if kind < 5:
            files[SHOW_FILE] = mutate_as_tree(dice, files[SHOW_FILE])
        elif kind < 8:
            files[SHOW_FILE] = dice.choice((mutate_as_bytes, mutate_as_bytes, mutate_lines))(dice, files[SHOW_FILE])
        else:
            name = dice.choice(MOVE_FILES)
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
    """Render the first, a middle and the last packet of every shot, with nothing and with everything fired."""
    for shot in show.show.shots:
        plan = show.plan(shot)
        for fired in ([], [FiredCue(cue, 7) for cue in plan.operator_cues]):
            timeline = plan.timeline(fired)
            last = timeline.packet_count - 1
            packets = sorted({0, last // 2, last})
            slots = timeline.slots(packets)
            assert slots.shape == (len(packets), len(timeline.patch.universes), 512)


def chunks() -> list[range]:
    return [range(first, min(first + CHUNK, MUTATIONS)) for first in range(0, MUTATIONS, CHUNK)]


@pytest.mark.parametrize("seeds", chunks(), ids=str)
def test_a_damaged_show_opens_or_says_what_is_wrong(seeds: range) -> None:
    failures: list[str] = []
    with_errors = 0
    for seed in seeds:
        files = mutated(seed)
        try:
            show, problems = opened(files)
            assert show is not None or problems, "it does not open and says nothing"
            has_errors = show is None or any(problem.is_error for problem in problems)
            if show is not None and not has_errors:
                render_ends(show)
        except Exception as error:
            failures.append(f"seed {seed}: {type(error).__name__}: {error}")
            continue
        with_errors += has_errors
        failures += [f"seed {seed}: {problem}: {fault}" for problem in problems for fault in faults_of(problem, files)]
    assert not failures, "\n".join(failures)
    assert with_errors >= len(seeds) / 3, "the damage does not bite"


def test_the_same_seed_does_the_same_damage() -> None:
    assert all(mutated(seed) == mutated(seed) for seed in range(20))


def test_the_show_that_is_damaged_was_whole_before() -> None:
    show, problems = opened(WHOLE)
    assert show is not None
    assert problems == ()


@pytest.mark.parametrize("seed", ON_DISK)
def test_the_command_checks_a_damaged_folder_and_touches_nothing(seed: int, tmp_path: Path) -> None:
    for name, raw in mutated(seed).items():
        path = tmp_path / "damaged" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(raw)
    before = fingerprints(tmp_path)
    done = subprocess.run(
        [sys.executable, "-m", "cuedeck", "check", "damaged", "--json"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode in (0, 1), done.stderr
    assert "Traceback" not in done.stderr
    assert "internal error" not in done.stderr
    problems = json.loads(done.stdout)["problems"]
    assert (done.returncode == 1) == any(problem["severity"] == "error" for problem in problems)
    assert fingerprints(tmp_path) == before


def fingerprints(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }
