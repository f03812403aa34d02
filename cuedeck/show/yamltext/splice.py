"""Where new text goes in a YAML text, and which characters make place for it.

Every function returns splices which do not overlap; that nothing but the value asked for is inside them
is owned here.
"""

from __future__ import annotations

from cuedeck.show.source import Data
from cuedeck.show.yamltext.brackets import insert_in_brackets, key_style, remove_from_brackets
from cuedeck.show.yamltext.document import Document, Splice, is_below
from cuedeck.show.yamltext.nodes import Entry, Node, NodeKind, indicator_end
from cuedeck.show.yamltext.writing import goes_in_lines, write_block, write_inline, write_key, write_literal, write_tail


def replace_value(document: Document, parent: Node | None, entry: Entry, value: Data) -> list[Splice]:
    """Put a value in the place of another. The anchor and the comments beside the old value stay."""
    old = entry.value
    if _stands_in_lines(document, parent, entry, value):
        return _replace_by_lines(document, parent, entry, value)
    if old.is_block_scalar:
        return _replace_block_scalar(document, parent, entry, value)
    flow = parent is not None and parent.flow
    text = write_inline(value, old.style, flow=flow)
    if parent is not None and old.is_block and is_below(document, entry):
        return [(entry.lead, entry.lead, " " + text), document.lines_of(old.content, old.end)]
    if old.is_empty:
        colon = ":" if entry.key is not None and entry.head == entry.key.end else ""
        return [(old.content, old.end, f"{colon} {text}")]
    return [(old.content, old.end, text)]


def rename_key(parent: Node, entry: Entry, name: str) -> list[Splice]:
    """Put a key in the place of another, in its quotes."""
    assert entry.key is not None  # noqa: S101 - for the type checker: only a mapping has names
    return [(entry.key.content, entry.key.end, write_key(name, entry.key.style, flow=parent.flow))]


def insert_entry(
    document: Document, around: Node | None, holder: Entry, index: int, name: str | None, value: Data
) -> list[Splice]:
    """Add an entry to a list or mapping, before the entry with an index or, behind the last, at the end.

    `around` is the list or mapping in which the holder of the entry stands.
    """
    parent = holder.value
    first: Data = [value] if name is None else {name: value}
    if not parent.entries and _stands_in_lines(document, around, holder, first):
        return replace_value(document, around, holder, first)
    if parent.flow:
        return insert_in_brackets(document, parent, index, name, value)
    column = document.column(parent.content)
    in_lines = _looks_in_lines(document, parent, value)
    before = parent.entries[index - 1] if index else parent.entries[0]
    tail = write_tail(value, column, document.page, is_item=name is None, in_lines=in_lines)
    head = "-" if name is None else write_key(name, key_style(parent), flow=False) + ":"
    line_break = document.page.newline + " " * column
    if not index:
        return [(before.start, before.start, head + tail + line_break)]
    end = document.line_end(before.end)
    return [*_closed(document, before, end), (end, end, line_break + head + tail)]


def remove_entry(document: Document, around: Node | None, holder: Entry, index: int) -> list[Splice]:
    """Take an entry out, and its lines where it stands alone in them."""
    parent = holder.value
    if parent.flow:
        return remove_from_brackets(document, parent, index)
    entry = parent.entries[index]
    if len(parent.entries) == 1:
        return replace_value(document, around, holder, [] if parent.kind is NodeKind.LIST else {})
    if document.is_first_in_line(entry.start):
        return [document.lines_of(entry.start, entry.end)]
    # The first entry shares its line with the dash of the list around it: the next one moves up.
    following = parent.entries[index + 1].start
    end = document.line_end(entry.end)
    clear = "#" not in document.text[end:following]
    return [(entry.start, following if clear else end, "")]


def _closed(document: Document, entry: Entry, end: int) -> list[Splice]:
    """Keep a text after | that ends with the file, without a line break, from gaining one by what follows."""
    last = list(entry.walk())[-1]
    if end < len(document.text) or not last.is_block_scalar:
        return []
    header = indicator_end(document.text, last)
    indicator = document.text[last.content : header].rstrip("+-")
    return [(last.content, header, indicator + "-")]


def _stands_in_lines(document: Document, parent: Node | None, entry: Entry, value: Data) -> bool:
    old = entry.value
    if not isinstance(value, dict | list) or not value or parent is None or parent.flow:
        return False
    if old.is_collection and not old.entries:
        return goes_in_lines(value) and "#" not in document.text[old.content : old.end]
    return old.is_block if old.is_collection else _looks_in_lines(document, parent, value)


def _looks_in_lines(document: Document, parent: Node, value: Data) -> bool:
    """Whether a new value goes in lines: as its nearest neighbour does, or as reads better."""
    if not isinstance(value, dict | list) or not value:
        return False
    neighbours = [entry.value for entry in parent.entries if entry.value.is_collection and entry.value.entries]
    if neighbours:
        return not neighbours[-1].flow
    return goes_in_lines(value) or parent is document.root.value


def _replace_by_lines(document: Document, parent: Node | None, entry: Entry, value: Data) -> list[Splice]:
    assert parent is not None  # noqa: S101 - for the type checker: a root has no lines around it
    old, page = entry.value, document.page
    if old.is_block and is_below(document, entry):
        column = document.column(old.content)
        if isinstance(value, dict) and column <= document.column(parent.content):
            # A list may stand right under its key, a mapping may not.
            column += page.mapping_indent
        return [(document.line_start(old.content), old.end, " " * column + write_block(value, column, page))]
    if parent.kind is NodeKind.LIST and entry.lead == entry.head and not old.is_block_scalar:
        column = document.column(entry.start) + 2 if old.is_empty else document.column(old.content)
        return [(old.content, old.end, (" " if old.is_empty else "") + write_block(value, column, page))]
    # A list may stand right under its key, but not right under a dash.
    deeper = page.indent_under_key(value) if parent.kind is NodeKind.MAPPING else page.mapping_indent
    column = document.column(parent.content) + deeper
    lines = page.newline + " " * column + write_block(value, column, page)
    start = old.content if "#" in document.text[entry.lead : old.content] else entry.lead
    if old.is_block_scalar:
        header = indicator_end(document.text, old)
        return [(start, header, ""), (document.line_end(header), max(old.end, document.line_end(header)), lines)]
    colon = ":" if entry.key is not None and entry.head == entry.key.end else ""
    end = document.line_end(old.end)
    return [(start, old.end, colon), (end, end, lines)] if end > start else [(start, end, colon + lines)]


def _replace_block_scalar(document: Document, parent: Node | None, entry: Entry, value: Data) -> list[Splice]:
    assert parent is not None  # noqa: S101 - for the type checker: a show is a mapping
    old = entry.value
    header = indicator_end(document.text, old)
    body = document.line_end(header)
    column = document.column(parent.content) + document.page.mapping_indent
    literal = write_literal(value, column, document.page) if isinstance(value, str) else None
    new, lines = literal or (write_inline(value, None, flow=False), None)
    below = document.page.newline + lines if lines is not None else ""
    return [(old.content, header, new), (body, max(body, old.end), below)]
