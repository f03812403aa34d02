"""Adding to lists and mappings in brackets, and taking out of them, with their commas and comments."""

from __future__ import annotations

from cuedeck.show.source import Data
from cuedeck.show.yamltext.document import Document, Splice
from cuedeck.show.yamltext.nodes import Entry, Node, NodeKind, skip_gap
from cuedeck.show.yamltext.writing import write_flow, write_key


def key_style(parent: Node) -> str | None:
    """Return the quotes of the last key, which a new one shares."""
    key = parent.entries[-1].key if parent.entries else None
    return key.style if key is not None and key.style in ("'", '"') else None


def insert_in_brackets(document: Document, parent: Node, index: int, name: str | None, value: Data) -> list[Splice]:
    """Add an entry to a list or mapping in brackets, before the entry with an index or at the end."""
    new = write_flow(value)
    if name is not None:
        new = f"{write_key(name, key_style(parent), flow=True)}: {new}"
    text, entries = document.text, parent.entries
    if not entries:
        blank = not text[parent.content + 1 : parent.end - 1].strip()
        return [(parent.content + 1, parent.end - 1 if blank else parent.content + 1, new)]
    if parent.kind is NodeKind.MAPPING and text[parent.content] != "{":
        # One pair in a list in brackets, [a: b], gets braces of its own.
        return [(parent.content, parent.content, "{"), (parent.end, parent.end, f", {new}}}")]
    return _insert_beside(document, parent, index, new)


def _insert_beside(document: Document, parent: Node, index: int, new: str) -> list[Splice]:
    text, entries = document.text, parent.entries
    between = text[entries[-2].end : entries[-1].start] if len(entries) > 1 else ", "
    separator = "," if between == "," else ", "
    own_lines = document.is_first_in_line(entries[-1].start)
    line_break = document.page.newline + " " * document.column(entries[-1].start)
    if not index:
        start = entries[0].start
        return [(start, start, new + ("," + line_break if own_lines else separator))]
    before = entries[index - 1]
    if not own_lines:
        return [(before.end, before.end, separator + new)]
    after = _after_comma(text, before.end)
    if after is None and not document.is_last_in_line(before.end):
        return [(before.end, before.end, "," + line_break + new)]
    end = document.line_end(after or before.end)
    if after is None:
        return [(before.end, before.end, ","), (end, end, line_break + new)]
    if not document.is_last_in_line(after):
        return [(after, after, line_break + new + ",")]
    return [(end, end, line_break + new + ",")]


def _after_comma(text: str, end: int) -> int | None:
    """Return where the comma behind an entry in brackets ends, or None where there is none."""
    comma = skip_gap(text, end)
    return comma + 1 if text.startswith(",", comma) else None


def remove_from_brackets(document: Document, parent: Node, index: int) -> list[Splice]:
    """Take an entry out of a list or mapping in brackets, with one comma, and its line where it has one."""
    text, entries = document.text, parent.entries
    entry = entries[index]
    after = _after_comma(text, entry.end)
    if len(entries) == 1:
        if parent.kind is NodeKind.MAPPING and text[parent.content] != "{":
            return [(parent.content, parent.end, "{}")]
        inner = text[parent.content + 1 : parent.end - 1]
        if "#" not in inner:
            return [(parent.content + 1, parent.end - 1, "")]
        return [(entry.start, after or entry.end, "")]
    is_last = index == len(entries) - 1
    own_comma = _own_comma(text, entries[index - 1]) if is_last and after is None else []
    if document.is_first_in_line(entry.start) and document.is_last_in_line(after or entry.end):
        return [*own_comma, document.lines_of(entry.start, after or entry.end)]
    if not is_last:
        clear = "#" not in text[after or entry.end : entries[index + 1].start]
        return [(entry.start, entries[index + 1].start if clear else after or entry.end, "")]
    if "#" in text[entries[index - 1].end : entry.start]:
        return [*own_comma, (entry.start, after or entry.end, "")]
    return [(entries[index - 1].end, entry.end, "")]


def _own_comma(text: str, entry: Entry) -> list[Splice]:
    after = _after_comma(text, entry.end)
    return [(after - 1, after, "")] if after is not None else []
