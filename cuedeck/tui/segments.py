"""Text as segments of a strip."""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style


def runs(text: str, style: Style) -> list[Segment]:
    """Return a text in one style, blanks at either end as segments of their own.

    Exported pictures of a screen drop blanks at the start of a segment and shift what follows.
    """
    core = text.strip(" ")
    if not core:
        return [Segment(text, style)] if text else []
    start = text.index(core)
    parts = (text[:start], core, text[start + len(core) :])
    return [Segment(part, style) for part in parts if part]
