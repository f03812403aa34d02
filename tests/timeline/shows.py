"""Small shows, written out as text and opened without a folder."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from cuedeck.show import SHOW_FILE
from cuedeck.timeline.opening import OpenedShow, open_show
from cuedeck.timeline.plan import FiredCue, ShotPlan

HEAD = """\
cuedeck: 1
refresh: 40 Hz
slots: 24
types:
  panel: {channels: [intensity, colour temperature], colour temperature: {low: 2500 K, high: 5000 K}}
  old: {channels: [intensity], dimmer: square}
rig:
  key: {type: dimmer, address: 1.1}
  old: {type: old, address: 1.2}
  panel: {type: panel, address: 1.3}
  tube: {type: rgb, address: 1.5}
"""
"""Packet n is for n x 25 ms; slots 1 to 7 carry the lights."""

LOOKS = """\
looks:
  black: {everything: out}
  full: {everything: full}
  key: {key: full}
  old: {old: full}
  half: {key: 50 %, old: 50 %}
  dim: {key: -2 stop, old: -2 stop}
  warm: {panel: {level: full, colour: 2500 K}}
  cool: {panel: {level: full, colour: 5000 K}}
  warm out: {panel: {level: out, colour: 2500 K}}
  panel out: {panel: out}
"""


def opened(text: str, files: Mapping[str, str] | None = None) -> OpenedShow:
    """Open a show whose files are texts."""
    held = {SHOW_FILE: text, **(files or {})}

    def read(name: str) -> bytes:
        if name not in held:
            raise FileNotFoundError(2, "No such file or directory", name)
        return held[name].encode()

    return open_show(read)


def plan(*cues: str, shot: str = "", head: str = HEAD, looks: str = LOOKS) -> ShotPlan:
    """Return the plan of a shot with these cues, in a show without a fault."""
    found = opened(show_text(*cues, shot=shot, head=head, looks=looks))
    assert [str(problem) for problem in found.errors] == []
    return found.plan("1")


def show_text(*cues: str, shot: str = "", head: str = HEAD, looks: str = LOOKS) -> str:
    """Return the text of a show with one shot, its cues written inside braces."""
    lines = "".join(f"      - {{{cue}}}\n" for cue in cues)
    return f"{head}{looks}shots:\n  1:\n{shot}    cues:\n{lines or '      []'}"


def slots_of(plan: ShotPlan, packets: Iterable[int], slots: int = 1, fired: Iterable[FiredCue] = ()) -> list[list[int]]:
    """Return the first few slots of some packets."""
    return plan.timeline(fired).slots(list(packets))[:, 0, :slots].tolist()


def first_packet_lit(plan: ShotPlan, slot: int = 1, fired: Iterable[FiredCue] = ()) -> int | None:
    """Return the number of the first packet in which a slot is not at zero."""
    timeline = plan.timeline(fired)
    column = timeline.slots(range(timeline.packet_count))[:, 0, slot - 1]
    return int(column.argmax()) if column.any() else None
