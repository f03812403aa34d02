"""What the screen says about light, cues and time, in short texts."""

from __future__ import annotations

import colorsys
import math
from collections.abc import Sequence

import numpy as np
from rich.cells import cell_len, set_cell_size

from cuedeck.report.lanes import percent_text
from cuedeck.rig.dimmer import Dimmer
from cuedeck.rig.state import FixtureState
from cuedeck.show.model import Cue
from cuedeck.show.units import Duration
from cuedeck.timeline.plan import ShotPlan
from cuedeck.timeline.positions import AxisPosition
from cuedeck.timing.labels import frame_at, frame_count
from cuedeck.timing.moves import print_position
from cuedeck.tui.rehearsal import Rehearsal
from cuedeck.visible import visible_line

HUES = ["red", "orange", "yellow", "green", "green", "cyan", "cyan", "blue", "blue", "violet", "magenta", "red"]
"""The name of each twelfth of the circle of hues, the first around 0 degrees."""
LONGEST_TEXT = 200
LEVEL_SHAPES = "○◔◑◕●"


def level_text(level: float) -> str:
    """Return a level 0 to 1 in whole percent; what is not quite out or full is not called so."""
    return percent_text(level)


def stops_text(light: float) -> str:
    """Return how far light is under full, in stops."""
    return "out" if light <= 0 else f"{min(math.log2(light), 0) + 0.0:.1f} stop"


def light_text(light: float) -> str:
    """Return a share of the full light; little of it with more digits."""
    percent = light * 100
    return f"{percent:.0f} % light" if percent >= 10 or percent <= 0 else f"{percent:.2g} % light"


def light_of(dimmer: Dimmer, level: float) -> float:
    """Return how much of its full light a light gives at a control value, 0 to 1."""
    return float(dimmer.light_from_control(np.array([level]))[0])


def level_shape(level: float) -> str:
    """Return a disc as full as the level: empty only when out, filled only when full."""
    return LEVEL_SHAPES[0 if level <= 0 else 4 if level >= 1 else min(max(round(level * 4), 1), 3)]


def colour_text(state: FixtureState) -> str:
    """Return the colour of a light: its colour temperature, else the name of its hue."""
    if state.kelvin is not None:
        return f"{round(state.kelvin, -1):.0f} K"
    hue, saturation, value = colorsys.rgb_to_hsv(*state.screen_colour)
    if value == 0:
        return "no colour"
    if saturation < 0.12:
        return "white"
    name = HUES[round(hue * 12) % 12]
    return f"pale {name}" if saturation < 0.45 else name


def axes_texts(positions: Sequence[AxisPosition]) -> list[str]:
    """Return axes and where they are, slide 120.5 mm, and shorter texts: without units, then fewer and fewer axes."""
    texts = [f"{one.axis} {print_position(one.position, one.unit)}" for one in positions]
    short = [text.removesuffix(f" {one.unit}") for text, one in zip(texts, positions, strict=True)]
    fewer = ["  ".join([*short[:count], "…"]) for count in range(len(short) - 1, -1, -1)]
    return ["  ".join(texts), "  ".join(short), *fewer]


def start_label(cue: Cue, rehearsal: Rehearsal) -> str:
    """Return the label of the frame that a cue starts in, or that it waits."""
    start_s = rehearsal.starts[cue.cue]
    plan = rehearsal.plan
    if start_s is None:
        return "when fired"
    frame = frame_at(start_s, plan.fps_on_set)
    is_in_frame = frame < frame_count(rehearsal.playhead.length_s, plan.fps_on_set)
    return plan.labels.label(frame) if is_in_frame else "at the end"


def fade_text(cue: Cue, plan: ShotPlan) -> str:
    """Return how long a cue fades on set, and along which curve."""
    fade = cue.fade if plan.speed == 1 else Duration.of(plan.fade_s(cue))
    return f"{fade}  {cue.curve}" if cue.fade.base else "at once"


def shot_text(plan: ShotPlan) -> str:
    """Return the name and the title of a shot."""
    return f"shot {plan.name} {plan.shot.title or ''}".strip()


def clipped(text: str, width: int) -> str:
    """Return a text on one line that takes no more cells than asked, an ellipsis at its end where it was cut."""
    text = visible_line(text)
    if cell_len(text) <= width:
        return text
    return set_cell_size(text, width - 1) + "…" if width > 0 else ""


def without_markup(text: str) -> str:
    """Return a text for a place that reads markup: Textual's own escape leaves some brackets open."""
    return clipped(text, LONGEST_TEXT).replace("[", "(").replace("]", ")")


def two_ends(left: str, right: str, width: int) -> str:
    """Return a line with a text at each end; the right one keeps its room."""
    right = clipped(right, width)
    left = clipped(left, max(width - cell_len(right) - 2, 0))
    return f"{left}{' ' * max(width - cell_len(left) - cell_len(right), 0)}{right}"
