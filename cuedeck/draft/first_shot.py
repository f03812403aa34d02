"""The first shot of a show, and what leads a new user to the first cue that lights something."""

from __future__ import annotations

from cuedeck.draft.steps import Edit
from cuedeck.errors import Refusal
from cuedeck.show.model import Shot
from cuedeck.show.source import Data
from cuedeck.show.yamltext.changes import Change, SetValue
from cuedeck.timeline.opening import OpenedShow

BLACK = "black"
LENGTH = "10 s"


def first_shot(opened: OpenedShow) -> Edit:
    """Return the edit that adds a shot with a cue that starts out of black. Raises Refusal without a light."""
    if not opened.patch.lights:
        raise Refusal(
            "this show has no light yet: write one under 'rig' in show.yaml, such as"
            " 'key: {type: dimmer, address: 1.1}'"
        )
    shots = opened.show.shots
    name = next(str(number) for number in range(1, len(shots) + 2) if str(number) not in shots)
    cue: Data = {"cue": "1", "at": "0 s", "look": BLACK}
    changes: list[Change] = []
    if BLACK not in opened.show.looks:
        changes.append(SetValue(("looks", BLACK), {"everything": "out"}))
    changes.append(SetValue(("shots", name), {"length": LENGTH, "cues": [cue]}))
    return Edit(f"new shot {name}", tuple(changes))


def guide_text(shot: Shot | None, *, is_lit: bool, is_nudged: bool) -> str:
    """Return what to do next on the way to a first cue that lights something; nothing once there is one."""
    if shot is None:
        return "this show has no shot yet: n makes one, with a cue that starts out of black"
    if is_nudged:
        return "the light is nudged, and in no look yet: K makes a new look of it for this cue"
    if is_lit or len(shot.cues) > 2:
        return ""
    if len(shot.cues) < 2:
        return "go to where the light is to come (→, or g to type it); n adds a cue there"
    return "tab goes to the lights, ↑ ↓ choose one, → brings it up; K then makes a look of it"
