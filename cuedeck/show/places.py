"""From a place in a file to what stands there: the way back from a problem to the cue or the light it is about."""

from __future__ import annotations

from cuedeck.show.problems import Place
from cuedeck.show.source import Path, Source


def path_at(source: Source, place: Place) -> Path:
    """Return the path of the last key or value that begins at a place or before it; empty where there is none."""
    known = {**source.values, **source.keys}
    before = [(where, path) for path, where in known.items() if where.file == place.file and where <= place]
    return max(before, key=lambda one: (one[0], len(one[1])), default=(place, ()))[1]
