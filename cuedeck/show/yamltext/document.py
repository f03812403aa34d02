"""A YAML text with its nodes and its lines, and the one way in which it is changed: by splices.

A splice is (from, to, new text), in characters. What lies outside the splices stays as it is, byte for byte.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from cuedeck.show.yamltext.nodes import Entry, NodeKind, parse_nodes
from cuedeck.show.yamltext.writing import Page

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


def _indents(document: Document) -> tuple[int, int]:
    """Return how much deeper than their keys the first nested mapping and the first list in lines stand."""
    found: dict[NodeKind, int] = {}
    for node in document.root.value.walk():
        for entry in node.entries if node.kind is NodeKind.MAPPING else ():
            if entry.value.is_block and is_below(document, entry):
                found.setdefault(entry.value.kind, document.column(entry.value.content) - document.column(node.content))
    mapping = found.get(NodeKind.MAPPING) or 2
    return mapping, found.get(NodeKind.LIST, mapping)


def is_below(document: Document, entry: Entry) -> bool:
    """Whether a value begins in a later line than its key or dash."""
    return _BREAK.search(document.text, entry.lead, entry.value.content) is not None
