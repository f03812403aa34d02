"""What a person does to a show in one step."""

from __future__ import annotations

from dataclasses import dataclass

from cuedeck.show.yamltext.changes import Change


@dataclass(frozen=True)
class Edit:
    """Changes that belong together, with a name."""

    name: str
    """What undo calls it: move cue 3 to slide 62 mm."""
    changes: tuple[Change, ...]
    joins: str = ""
    """Edits in a row that say the same here are one step of undo, under the name of the last; empty joins none."""
