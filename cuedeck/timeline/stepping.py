"""A shot walked through frame by frame: which camera frame is held, and the packet that lights it.

The light of a frame is that of the first packet at or after the frame begins, so that a cue at a frame is
seen in it. Commands come in as words, whether they were typed or keys.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

import numpy as np

from cuedeck.arrays import Slots
from cuedeck.show.problems import choice_of
from cuedeck.show.units import UnitError, shorten
from cuedeck.timeline.plan import FiredCue, ShotPlan
from cuedeck.timing.labels import frame_count

WORDS = "Enter (next frame), back, goto FRAME or a timecode, fire or fire CUE, blackout, release, stop"


class FrameSteps:
    """A walk through the frames of a shot."""

    def __init__(self, plan: ShotPlan, first_frame: int = 0) -> None:
        self.plan = plan
        self.fired: Sequence[FiredCue] = ()
        self.timeline = plan.timeline()
        self.frame = first_frame
        """The camera frame that is held, the first being 0."""
        self.is_over = False
        """Whether the last frame has been left."""

    def __repr__(self) -> str:
        return f"<FrameSteps at frame {self.frame} of shot {self.plan.name}>"

    @property
    def last_frame(self) -> int:
        return frame_count(self.timeline.length_s, self.plan.fps_on_set) - 1

    @property
    def time_s(self) -> Fraction:
        return self.frame / self.plan.fps_on_set

    @property
    def packet(self) -> int:
        return ceil(self.time_s * self.plan.refresh_hz)

    def slots(self) -> Slots:
        """Return the slots that light the frame, shape (universes, 512)."""
        return np.asarray(self.timeline.slots([self.packet])[0])

    def follow(self, word: str) -> None:
        """Do what a word says; an empty one goes to the next frame. Raises UnitError, and then stays where it is."""
        verb, _, rest = word.strip().partition(" ")
        if verb in ("", "next"):
            self.is_over = self.frame >= self.last_frame
            self.frame = min(self.frame + 1, self.last_frame)
        elif verb == "back":
            self.frame = max(self.frame - 1, 0)
        elif verb == "goto":
            self.frame = self.frame_of(rest.strip())
        elif verb == "fire":
            self._fire(rest.strip())
        else:
            raise UnitError(f"'{shorten(word)}' is no word here", f"write one of: {WORDS}")

    def frame_of(self, text: str) -> int:
        """Return the frame that a number or a timecode means. Raises UnitError."""
        cure = f"write a frame from 0 to {self.last_frame}, or a timecode"
        if ":" in text:
            frame = self.plan.labels.frame_of(text)
        elif text.isascii() and text.isdigit() and len(text) < 10:
            frame = int(text)
        else:
            raise UnitError(f"'{shorten(text)}' is no frame", cure)
        if frame > self.last_frame:
            raise UnitError(f"the shot has no frame {shorten(text)}", cure)
        return frame

    def _fire(self, cue: str) -> None:
        waiting = self.plan.waiting_cues(self.fired)
        if not waiting:
            raise UnitError("no cue waits for the operator", "go on with Enter")
        if cue and cue not in waiting:
            raise UnitError(f"no cue '{shorten(cue)}' waits for the operator", choice_of(cue, waiting))
        self.fired = (*self.fired, FiredCue(cue or waiting[0], self.packet))
        self.timeline = self.plan.timeline(self.fired, like=self.timeline)
