"""What keys act on: one of three places on the screen, and in each what is chosen there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum


class KeyPlace(StrEnum):
    """Where keys act."""

    PLAYHEAD = "playhead"
    CUES = "cues"
    LIGHTS = "lights"


PLACES = tuple(KeyPlace)


class Field(StrEnum):
    """What can be changed of a cue, in the order of its card."""

    STARTS = "starts"
    FADE = "fade"
    CURVE = "curve"
    LOOK = "look"
    COLOURS = "colours"
    NAME = "name"
    TITLE = "title"


FIELDS = tuple(Field)


@dataclass(frozen=True)
class Selection:
    """What is chosen."""

    place: KeyPlace = KeyPlace.PLAYHEAD
    cue: str | None = None
    field: Field = Field.STARTS
    light: str | None = None
    """A light; the one that leads, where a group is meant."""
    group: str | None = None
    """The group that is meant with it; None for the light alone."""

    def turned(self, by: int) -> Selection:
        """Return the next place, or the one before."""
        return replace(self, place=PLACES[(PLACES.index(self.place) + by) % len(PLACES)])

    def on_field(self, by: int) -> Selection:
        """Return the field below, or the one above."""
        index = min(max(FIELDS.index(self.field) + by, 0), len(FIELDS) - 1)
        return replace(self, field=FIELDS[index])

    def on_light(self, lights: Sequence[str], by: int) -> Selection:
        """Return the light below, or the one above, alone."""
        if not lights:
            return replace(self, light=None, group=None)
        at = lights.index(self.light) + by if self.light in lights else 0
        return replace(self, light=lights[min(max(at, 0), len(lights) - 1)], group=None)

    def within(self, cues: Sequence[str], lights: Sequence[str], groups: Sequence[str]) -> Selection:
        """Return it without what is not there any more."""
        return replace(
            self,
            cue=self.cue if self.cue in cues else None,
            light=self.light if self.light in lights else (lights[0] if lights else None),
            group=self.group if self.group in groups else None,
        )
