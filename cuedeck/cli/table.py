"""Tables of text, as commands print them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from cuedeck.visible import visible_line


def table_lines(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """Yield the lines of a table, each column as wide as its widest cell."""
    every = [[visible_line(cell) for cell in row] for row in (heading, *rows)]
    widths = [max(len(row[n]) for row in every) for n in range(len(heading))]
    for row in every:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
