"""Opening a show, all its checks done, beside the bare YAML loader and a plain reading of what it loads."""

from __future__ import annotations

import time
from collections.abc import Iterator

import yaml

from cuedeck.bench.shows import open_text
from cuedeck.bench.timings import median_s
from cuedeck.light.curves import CURVES

LIGHTS = 60
SHOTS = 20
CUES_OF_A_SHOT = 10
LOOKS = 20
_SLOTS_OF_A_LIGHT = 4
_LIGHTS_OF_A_UNIVERSE = 120
_CURVES = tuple(CURVES)


def large_show_text(times: int = 1) -> str:
    """Return a show of 60 lights, 20 looks for 60 lights each and 20 shots of 10 cues, or so many times that."""
    lights = [f"light {n}" for n in range(LIGHTS * times)]
    lines = ["cuedeck: 1", "title: A show to measure with", "mains: {circuits: {wall: 63 A}}", "rig:"]
    lines += [f"  {name}: {_fixture(n)}" for n, name in enumerate(lights)]
    lines.append("looks:")
    for look in range(LOOKS * times):
        lines.append(f"  look {look}:")
        lines += [f"    light {(look // LOOKS) * LIGHTS + n}: {_setting(look, n)}" for n in range(LIGHTS)]
    lines.append("shots:")
    for shot in range(SHOTS * times):
        lines += _shot(shot, LOOKS * times)
    return "\n".join(lines) + "\n"


def _fixture(number: int) -> str:
    universe, slot = divmod(number, _LIGHTS_OF_A_UNIVERSE)
    address = f"{universe + 1}.{1 + _SLOTS_OF_A_LIGHT * slot}"
    x, y = (number % 10 - 5) / 5, (number % 7 - 3) / 4
    return f"{{type: two-tone 16-bit, address: {address}, at: [{x}, {y}, 1.5], circuit: wall, loss: 0.5 stop}}"


def _setting(look: int, light: int) -> str:
    if (look + light) % 3 == 0:
        return "out"
    level = f"-{(look + light) % 12 / 2} stop" if light % 2 else f"{1 + (7 * light + 13 * look) % 100} %"
    return f"{{level: {level}, colour: {2800 + 50 * light} K}}"


def _shot(number: int, looks: int) -> Iterator[str]:
    yield f'  "{number + 1}":'
    yield f"    title: measure {number + 1}"
    yield "    move:"
    yield "      keys:"
    yield from (f"        - {{time: {2 * n} s, slide: {40 * n} mm, table: {15 * n} deg}}" for n in range(10))
    yield "    cues:"
    yield f"      - {{cue: 1, at: 0 s, look: look {number % looks}}}"
    for cue in range(2, CUES_OF_A_SHOT + 1):
        places = (f"slide {36 * cue} mm", f"table {13 * cue} deg rising", f"{10 * cue} % of the move")
        start = ("operator", *places)[cue % 4]
        look, curve = (number + cue) % looks, _CURVES[cue % len(_CURVES)]
        yield f"      - {{cue: {cue}, at: {start}, look: look {look}, fade: 1.2 s, curve: {curve}}}"


def read_plainly(text: str) -> int:
    """Load a show with the bare loader, walk through it and return how many numbers with a unit it holds.

    No place is kept and nothing is checked: it is the least that any reader of such a file does.
    """
    found = 0
    nodes: list[object] = [yaml.load(text, Loader=yaml.CSafeLoader)]
    while nodes:
        node = nodes.pop()
        if isinstance(node, dict):
            nodes += node.values()
        elif isinstance(node, list):
            nodes += node
        elif isinstance(node, str):
            number, _, unit = node.partition(" ")
            if unit in ("s", "mm", "deg", "%", "stop", "K", "A"):
                float(number)
                found += 1
    return found


def report() -> str:
    """Run both and say how they compare, for a day's show and for one of ten times its size."""
    return "\n".join(_report(times, repeats) for times, repeats in ((1, 9), (10, 3)))


def _report(times: int, repeats: int) -> str:
    text = large_show_text(times)
    open_text(text)  # once for the imports
    ours_s = median_s(lambda: open_text(text), repeats, time.process_time)
    plain_s = median_s(lambda: read_plainly(text), repeats, time.process_time)
    return (
        f"opening a show with all checks, {LIGHTS * times} lights, {LOOKS * times} looks, {SHOTS * times} shots,"
        f" {SHOTS * CUES_OF_A_SHOT * times} cues, {len(text) / 1000:.0f} kB\n"
        f"  cuedeck              {ours_s * 1000:8.1f} ms\n"
        f"  YAML loader alone    {plain_s * 1000:8.1f} ms   cuedeck takes {ours_s / plain_s:.1f} times as long"
    )
