"""Text as segments of a strip."""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style


def runs(text: str, style: Style) -> list[Segment]:
    """Return a text in one style, blanks at either end as segments of their own, without its colour.

    Exported pictures of a screen drop blanks at the start of a segment and shift what follows; equal
    styles would be joined again.
    """
    core = text.strip(" ")
    start = text.index(core)
    blank = Style(bgcolor=style.bgcolor)
    parts = ((text[:start], blank), (core, style), (text[start + len(core) :], blank))
    return [Segment(part, part_style) for part, part_style in parts if part]
