"""Shows to measure with, and their folders."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from cuedeck.folder.folder import ShowFolder
from cuedeck.show import SHOW_FILE
from cuedeck.timeline.opening import OpenedShow, open_show
from cuedeck.timeline.plan import ShotPlan

SHOT = "1"
LONGEST_S = 1_000
"""A longer fade has packets that equal the one before: it has 65,536 steps."""


@contextmanager
def show_folder(text: str) -> Iterator[Path]:
    """Make a show folder with a show file, for as long as it is needed."""
    with TemporaryDirectory(prefix="cuedeck-bench-") as place:
        folder = Path(place) / "measure"
        folder.mkdir()
        (folder / SHOW_FILE).write_text(text, encoding="utf-8")
        yield folder


def plan_of(folder: Path) -> ShotPlan:
    """Return the only shot of a show folder."""
    return ShowFolder(folder).open().plan(SHOT)


def open_text(text: str) -> OpenedShow:
    """Open a show that is one file. Raises ValueError where it has an error."""
    files = {SHOW_FILE: text.encode()}
    opened = open_show(files.__getitem__)
    if opened.errors:
        raise ValueError(f"the show of the benchmark has errors: {opened.errors[0]}")
    return opened


def fading_text(length_s: int, *, universes: int = 1, lights: int = 15, osc_port: int | None = None) -> str:
    """Return a show whose lights rise in 16 bits for the whole shot, `LONGEST_S` at most: no packet equals another."""
    length_s = min(length_s, LONGEST_S)
    osc = [] if osc_port is None else [f"osc: {{port: {osc_port}}}"]
    lines = ["cuedeck: 1", "title: A show to measure with", *osc, "on stop: hold", "rig:"]
    for universe in range(1, universes + 1):
        for light in range(lights):
            x, y = (light % 5 - 2) / 2, (light // 5 - 1) / 2
            where = f"address: {universe}.{1 + 4 * light}, at: [{x}, {y}, 1.5]"
            lines.append(f"  light {universe}-{light + 1}: {{type: two-tone 16-bit, {where}}}")
    lines += ["looks:", "  dark: {everything: out}", "  lit: {everything: {level: 100 %, colour: 5600 K}}"]
    lines += ["shots:", f'  "{SHOT}":', f"    length: {length_s} s", "    cues:"]
    lines += ["      - {cue: 1, at: 0 s, look: dark}"]
    lines += [f"      - {{cue: 2, at: 0 s, look: lit, fade: {length_s} s, curve: linear}}"]
    lines += ["      - {cue: 3, at: operator, look: lit}"] if osc else []
    return "\n".join(lines) + "\n"


def cue_list_text(lights: int, cues: int, *, by_hand: bool = False) -> str:
    """Return a show with so many lights, and a shot with so many cues half a second apart; every other by hand."""
    lines = ["cuedeck: 2", "rig:"]
    for light in range(lights):
        universe, slot = divmod(light * 4, 512)
        at = f"[{light % 20 / 10 - 1:.1f}, {light // 20 / 10:.1f}, 1]"
        lines.append(f"  light {light + 1}: {{type: two-tone 16-bit, address: {universe + 1}.{slot + 1}, at: {at}}}")
    lines += ["looks:", "  black: {everything: {level: out, colour: 5600 K}}"]
    for cue in range(2, cues + 1):
        named = dict.fromkeys([1, *((cue * 7 + part) % lights + 1 for part in range(6))])
        levels = ", ".join(f"light {light}: -{(cue + light) % 5 + 1} stop" for light in named)
        lines.append(f"  look {cue}: {{{levels}}}")
    lines += ["shots:", '  "1":', f"    length: {max(cues * 0.5 + 20, 40):g} s", "    cues:"]
    lines.append("      - {cue: 1, at: 0 s, look: black}")
    for cue in range(2, cues + 1):
        start = "operator" if by_hand and cue % 2 else f"{cue * 0.5:g} s"
        lines.append(f"      - {{cue: {cue}, at: {start}, look: look {cue}, fade: 0.4 s, curve: even stops}}")
    return "\n".join(lines) + "\n"
