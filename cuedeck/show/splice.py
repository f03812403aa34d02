"""Where new text goes in a YAML text, and which characters make place for it.

Every function returns splices: (from, to, new text), in characters, which do not overlap. What lies
outside them stays as it is, byte for byte; that nothing but the value asked for is inside is owned here.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from cuedeck.show.nodes import Entry, Kind, Node, indicator_end, parse_nodes, skip_gap
from cuedeck.show.source import Data
from cuedeck.show.writing import (
    Page,
    goes_in_lines,
    write_block,
    write_flow,
    write_inline,
    write_key,
    write_literal,
    write_tail,
)

Splice = tuple[int, int, str]

_BREAK = re.compile(r"\r\n|\n|\r")


@dataclass(frozen=True)
class Document:
    """A text, its nodes and the layout of its lines."""

    text: str
    root: Entry
    page: Page

    def column(self, index: int) -> int:
        """Return how many characters stand before an index in its line."""
        return index - self.line_start(index)

    def line_start(self, index: int) -> int:
        """Return where the line of an index starts."""
        return max(self.text.rfind("\n", 0, index), self.text.rfind("\r", 0, index)) + 1

    def line_end(self, index: int) -> int:
        """Return where the line of an index ends, before its line break."""
        found = _BREAK.search(self.text, index)
        return found.start() if found else len(self.text)

    def is_first_in_line(self, index: int) -> bool:
        """Whether only blanks stand before an index in its line."""
        return not self.text[self.line_start(index) : index].strip(" \t")

    def is_last_in_line(self, index: int) -> bool:
        """Whether only blanks and a comment follow an index in its line."""
        return self.text[index : self.line_end(index)].strip(" \t")[:1] in ("", "#")

    def ends_text(self, index: int) -> bool:
        """Whether the line before an index is the last of a text after |, to which its line break belongs."""
        nodes = (node for node in self.root.value.walk() if node.is_block_scalar)
        return any(node.content < index <= node.end + 2 for node in nodes)

    def lines_of(self, start: int, end: int) -> Splice:
        """Return the splice that takes out the whole lines from one index to another."""
        first, last = self.line_start(start), self.line_end(end)
        following = _BREAK.match(self.text, last)
        if following is None and first > 0 and not self.ends_text(first):
            # The last line of a file without a final line break: its neighbour becomes such a line.
            return first - (2 if self.text[:first].endswith("\r\n") else 1), last, ""
        return first, following.end() if following else last, ""


def read_document(text: str) -> Document:
    """Return a text that `read_source` has accepted, with its nodes."""
    node = parse_nodes(text)
    root = Entry(None, "", node.start, node.start, node)
    found = _BREAK.search(text)
    document = Document(text, root, Page(found[0] if found else "\n"))
    return Document(text, root, Page(document.page.newline, *_indents(document)))


def splice(text: str, splices: Sequence[Splice]) -> str:
    """Return the text with each splice made. Of two at one place the first comes first."""
    parts, done = [], 0
    for start, end, new in sorted(splices, key=lambda made: made[:2]):
        parts += [text[done:start], new]
        done = end
    return "".join([*parts, text[done:]])


def replace_value(document: Document, parent: Node | None, entry: Entry, value: Data) -> list[Splice]:
    """Put a value in the place of another. The anchor and the comments beside the old value stay."""
    old = entry.value
    if _stands_in_lines(document, parent, entry, value):
        return _replace_by_lines(document, parent, entry, value)
    if old.is_block_scalar:
        return _replace_block_scalar(document, parent, entry, value)
    flow = parent is not None and parent.flow
    text = write_inline(value, old.style, flow=flow)
    if parent is not None and old.is_block and _is_below(document, entry):
        return [(entry.lead, entry.lead, " " + text), document.lines_of(old.content, old.end)]
    if old.is_empty:
        colon = ":" if entry.key is not None and entry.head == entry.key.end else ""
        return [(old.content, old.end, f"{colon} {text}")]
    return [(old.content, old.end, text)]


def rename_key(parent: Node, entry: Entry, name: str) -> list[Splice]:
    """Put a key in the place of another, in its quotes."""
    assert entry.key is not None  # noqa: S101 - for the type checker: only a mapping has names
    return [(entry.key.content, entry.key.end, write_key(name, entry.key.style, flow=parent.flow))]


def insert_entry(document: Document, holder: Entry, index: int, name: str | None, value: Data) -> list[Splice]:
    """Add an entry to a list or mapping, before the entry with an index or, behind the last, at the end."""
    parent = holder.value
    if parent.flow:
        return _insert_in_brackets(document, parent, index, name, value)
    column = document.column(parent.content)
    in_lines = _looks_in_lines(document, parent, value)
    before = parent.entries[index - 1] if index else parent.entries[0]
    tail = write_tail(value, column, document.page, is_item=name is None, in_lines=in_lines)
    head = "-" if name is None else write_key(name, _key_style(parent), flow=False) + ":"
    line_break = document.page.newline + " " * column
    if not index:
        return [(before.start, before.start, head + tail + line_break)]
    end = document.line_end(before.end)
    return [*_closed(document, before, end), (end, end, line_break + head + tail)]


def remove_entry(document: Document, grandparent: Node | None, holder: Entry, index: int) -> list[Splice]:
    """Take an entry out, and its lines where it stands alone in them."""
    parent = holder.value
    if parent.flow:
        return _remove_from_brackets(document, parent, index)
    entry = parent.entries[index]
    if len(parent.entries) == 1:
        return replace_value(document, grandparent, holder, [] if parent.kind is Kind.LIST else {})
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


def _indents(document: Document) -> tuple[int, int]:
    """Return how much deeper than their keys the first nested mapping and the first list in lines stand."""
    found: dict[Kind, int] = {}
    for node in document.root.value.walk():
        for entry in node.entries if node.kind is Kind.MAPPING else ():
            if entry.value.is_block and _is_below(document, entry):
                found.setdefault(entry.value.kind, document.column(entry.value.content) - document.column(node.content))
    mapping = found.get(Kind.MAPPING) or 2
    return mapping, found.get(Kind.LIST, mapping)


def _is_below(document: Document, entry: Entry) -> bool:
    """Whether a value begins in a later line than its key or dash."""
    return _BREAK.search(document.text, entry.lead, entry.value.content) is not None


def _stands_in_lines(document: Document, parent: Node | None, entry: Entry, value: Data) -> bool:
    old = entry.value
    if not isinstance(value, dict | list) or not value or parent is None or parent.flow:
        return False
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
    if old.is_block and _is_below(document, entry):
        column = document.column(old.content)
        if isinstance(value, dict) and column <= document.column(parent.content):
            # A list may stand right under its key, a mapping may not.
            column += page.mapping_indent
        return [(document.line_start(old.content), old.end, " " * column + write_block(value, column, page))]
    if parent.kind is Kind.LIST and entry.lead == entry.head and not old.is_block_scalar:
        column = document.column(entry.start) + 2 if old.is_empty else document.column(old.content)
        return [(old.content, old.end, (" " if old.is_empty else "") + write_block(value, column, page))]
    column = document.column(parent.content) + page.indent_under_key(value)
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


def _key_style(parent: Node) -> str | None:
    """Return the quotes of the last key, which a new one shares."""
    key = parent.entries[-1].key if parent.entries else None
    return key.style if key is not None and key.style in ("'", '"') else None


def _insert_in_brackets(document: Document, parent: Node, index: int, name: str | None, value: Data) -> list[Splice]:
    new = write_flow(value)
    if name is not None:
        new = f"{write_key(name, _key_style(parent), flow=True)}: {new}"
    text, entries = document.text, parent.entries
    if not entries:
        blank = not text[parent.content + 1 : parent.end - 1].strip()
        return [(parent.content + 1, parent.end - 1 if blank else parent.content + 1, new)]
    if parent.kind is Kind.MAPPING and text[parent.content] != "{":
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


def _remove_from_brackets(document: Document, parent: Node, index: int) -> list[Splice]:
    text, entries = document.text, parent.entries
    entry = entries[index]
    after = _after_comma(text, entry.end)
    if len(entries) == 1:
        if parent.kind is Kind.MAPPING and text[parent.content] != "{":
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
    """Return the splice that takes out the comma behind an entry."""
    after = _after_comma(text, entry.end)
    return [(after - 1, after, "")] if after is not None else []
