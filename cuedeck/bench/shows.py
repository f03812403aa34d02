"""A show to measure with: a shot whose every packet differs from the one before, in every universe."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from cuedeck.folder.folder import ShowFolder
from cuedeck.show.load import SHOW_FILE
from cuedeck.timeline.plan import ShotPlan

SHOT = "1"
LONGEST_S = 1_000
"""A shot that is longer has packets that are the same as the one before: a fade has 65,536 steps."""


@dataclass(frozen=True)
class MadeShow:
    """A show folder that was made."""

    folder: Path

    @property
    def plan(self) -> ShotPlan:
        """Its only shot."""
        return ShowFolder(self.folder).open().plan(SHOT)


def show_text(length_s: int, universes: int, lights: int, osc_port: int | None = None) -> str:
    """Return a show in which the lights of each universe rise in 16 bits for the whole length of the shot."""
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


@contextmanager
def made_show(
    length_s: int, *, universes: int = 1, lights: int = 15, osc_port: int | None = None
) -> Iterator[MadeShow]:
    """Make a show folder for as long as it is needed."""
    with TemporaryDirectory(prefix="cuedeck-bench-") as place:
        folder = Path(place) / "measure"
        folder.mkdir()
        text = show_text(min(length_s, LONGEST_S), universes, lights, osc_port)
        (folder / SHOW_FILE).write_text(text, encoding="utf-8")
        yield MadeShow(folder)
