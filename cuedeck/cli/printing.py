"""Printing for people: notes on standard error, tables on standard output."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence

from cuedeck.visible import visible_line


def say(text: str) -> None:
    """Print a note on standard error: standard output is for data."""
    print(text, file=sys.stderr)


def print_table(heading: Sequence[str], rows: Iterable[Sequence[str]], indent: str = "") -> None:
    """Print a table whose columns are as wide as their widest cells."""
    for line in table_lines(heading, rows):
        print(f"{indent}{line}")


def table_lines(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """Yield the lines of a table, each column as wide as its widest cell."""
    every = [[visible_line(cell) for cell in row] for row in (heading, *rows)]
    widths = [max(len(row[n]) for row in every) for n in range(len(heading))]
    for row in every:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def number_range(first: int, last: int) -> str:
    """Return a range such as "3-8", or one number."""
    return str(first) if first == last else f"{first}-{last}"
