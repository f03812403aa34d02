"""Small shows for the screen, opened from texts."""

from __future__ import annotations

from cuedeck.timeline.opening import OpenedShow, open_show

RIG = """cuedeck: 1
title: a small set
refresh: 40 Hz
types:
  panel:
    channels: [intensity 16-bit, colour temperature]
    colour temperature: {low: 2800 K, high: 6500 K}
  wash:
    channels: [red, green, blue]
rig:
  left: {type: panel, address: 1.1, at: [-1, 0.5, 1]}
  right: {type: panel, address: 1.11, at: [1, 0.5, 1]}
  wall: {type: wash, address: 1.21, at: [0, 1.4, 0.2]}
  rider: {type: panel, address: 1.31, at: [0, -0.5, 0.4], rides: slide}
looks:
  black: {everything: out}
  edges: {left: full, right: 50 %}
  dusk: {wall: {level: 40 %, red: 0 %, green: 0 %, blue: 100 %}}
camera: {fps: 25}
"""
SHOTS = """shots:
  "1":
    title: reveal
    move: {keys: [{time: 0 s, slide: -300 mm}, {time: 4 s, slide: 300 mm}], ease: linear}
    cues:
      - {cue: 1, at: 0 s, look: black}
      - {cue: 2, at: slide 0 mm, look: edges, fade: 1 s, title: the edges}
      - {cue: 3, after: 2, wait: 0.5 s, look: dusk, fade: 0.5 s, curve: even stops}
  "2":
    title: by hand
    cues:
      - {cue: go, at: operator, look: edges, fade: 1 s}
      - {cue: more, after: go, look: dusk, fade: 1 s}
  macro:
    length: 2 s
"""


def opened(shots: str = SHOTS, rig: str = RIG) -> OpenedShow:
    """Return a show without errors."""
    files = {"show.yaml": (rig + shots).encode()}
    show = open_show(files.__getitem__)
    assert not show.errors, show.errors
    return show
