"""Where the parts of a YAML text begin and end, measured in characters.

PyYAML's marks alone do not tell: those of block collections and block scalars run on over the comments
and blank lines that follow, an alias is lost when nodes are composed, and an anchor counts as part of its
value. The tree here is built from events, and this module owns what "the value itself" is: the text from
`content` to `end`, with nothing of what stands around it. An anchor (&name) and its aliases (*name) share a value.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import yaml

from cuedeck.show.source import EMPTY_TEXTS, Data
from cuedeck.show.spelling import as_one

_GAP = re.compile(r"(?:[ \t\r\n]+|#[^\r\n]*)*")
_PROPERTY = re.compile(r"&[0-9A-Za-z_-]+|!<[^>]*>|![^\s,\[\]{}]*")
_BLANK_TAIL = re.compile(r"(?:\r\n|\n|\r)(?:[ \t]*(?:\r\n|\n|\r))*[ \t]*\Z")
_LAST_BREAK = re.compile(r"(?:\r\n|\n|\r)\Z")
_INDICATOR = re.compile(r"[|>][-+0-9]*")


class NodeKind(StrEnum):
    """What a node is. An alias stands for another node."""

    SCALAR = "scalar"
    LIST = "list"
    MAPPING = "mapping"
    ALIAS = "alias"


@dataclass(frozen=True)
class Node:
    """A value or key: properties (anchor, tag) from `start` to `bare`, the value from `content` to `end`."""

    kind: NodeKind
    start: int
    bare: int
    content: int
    end: int
    style: str | None = None
    """The quotes or block indicator of a scalar: ' \" | > or None where it is plain."""
    flow: bool = False
    """Whether this is a list or mapping in brackets, or one pair in a list in brackets."""
    anchor: str | None = None
    """The name after & of an anchor, or after * of an alias."""
    value: str = ""
    """The text of a scalar as it is read."""
    entries: tuple[Entry, ...] = ()

    @property
    def is_empty(self) -> bool:
        return self.content == self.end

    @property
    def reads_as_nothing(self) -> bool:
        """Whether this stands for no value: nothing written, or a plain ~ or null."""
        return self.kind is NodeKind.SCALAR and self.style is None and self.value in EMPTY_TEXTS

    @property
    def is_collection(self) -> bool:
        return self.kind in (NodeKind.LIST, NodeKind.MAPPING)

    @property
    def is_block(self) -> bool:
        """Whether this is a list or a mapping without brackets."""
        return self.is_collection and not self.flow

    @property
    def is_block_scalar(self) -> bool:
        """Whether this is a text after | or >."""
        return self.style in ("|", ">")

    def index_of(self, step: str | int) -> int | None:
        """Return which entry a step of a path leads to, or None where there is none."""
        if self.kind is NodeKind.LIST and isinstance(step, int):
            return step if 0 <= step < len(self.entries) else None
        if self.kind is not NodeKind.MAPPING or not isinstance(step, str):
            return None
        return next((index for index, entry in enumerate(self.entries) if entry.name == step), None)

    def walk(self) -> Iterator[Node]:
        """Yield this node and all that stands in it, keys too."""
        yield self
        for entry in self.entries:
            yield from entry.walk()


@dataclass(frozen=True)
class Entry:
    """A key with its value, or an item of a list."""

    key: Node | None
    name: str
    """The key as it is read; nothing for an item."""
    start: int
    """The first character: of the key, or the dash of an item."""
    head: int
    """Just after the colon or the dash; where an item in brackets starts."""
    value: Node

    @property
    def end(self) -> int:
        """Just after the last character of the value, or after the colon or dash where there is none."""
        return max(self.head, self.value.end)

    @property
    def lead(self) -> int:
        """Just after the colon or dash, and after an anchor or tag where there is one."""
        return self.value.bare if self.value.bare > self.value.start else self.head

    def walk(self) -> Iterator[Node]:
        """Yield the key, the value, and all that stands in it."""
        if self.key is not None:
            yield self.key
        yield from self.value.walk()


def parse_nodes(text: str) -> Node:
    """Return the root of a text that `read_source` has accepted."""
    return _Builder(text).root()


def indicator_end(text: str, node: Node) -> int:
    found = _INDICATOR.match(text, node.content)
    return found.end() if found else node.content


def skip_gap(text: str, index: int) -> int:
    """Return the first character at or after an index that is neither blank nor in a comment."""
    found = _GAP.match(text, index)
    return found.end() if found else index


def _span(event: yaml.Event) -> tuple[int, int]:
    assert event.start_mark is not None and event.end_mark is not None  # noqa: S101, PT018 - for the type checker
    return event.start_mark.index, event.end_mark.index


class _Builder:
    def __init__(self, text: str) -> None:
        self.text = text
        self.events = yaml.parse(text, Loader=yaml.CSafeLoader)
        self.anchored: dict[str, Node] = {}

    def root(self) -> Node:
        for event in self.events:
            if isinstance(event, yaml.NodeEvent):
                return self._node(event)
        raise ValueError("a text without a node")

    def _node(self, event: yaml.Event) -> Node:
        start, end = _span(event)
        if isinstance(event, yaml.AliasEvent):
            return Node(NodeKind.ALIAS, start, start, start, end, anchor=event.anchor)
        assert isinstance(event, yaml.ScalarEvent | yaml.CollectionStartEvent)  # noqa: S101 - for the type checker
        bare, content = start, start
        if event.anchor is not None or event.tag is not None:
            bare, content = self._after_properties(start)
        node = (
            self._scalar(event, bare, content)
            if isinstance(event, yaml.ScalarEvent)
            else self._collection(event, bare, content)
        )
        if node.anchor is not None:
            self.anchored[node.anchor] = node
        return node

    def _after_properties(self, start: int) -> tuple[int, int]:
        """Return where the anchor and tag end, and where the value begins after them."""
        bare = content = start
        while found := _PROPERTY.match(self.text, content):
            bare = found.end()
            content = skip_gap(self.text, bare)
        return bare, content

    def _scalar(self, event: yaml.ScalarEvent, bare: int, content: int) -> Node:
        start, end = _span(event)
        style = event.style if event.style in ("'", '"', "|", ">") else None
        if style is None and event.value == "":
            content = end = bare
        if style in ("|", ">"):
            end = self._end_of_block_scalar(content, end)
        return Node(NodeKind.SCALAR, start, bare, content, end, style, anchor=event.anchor, value=event.value)

    def _end_of_block_scalar(self, content: int, end: int) -> int:
        written = self.text[content:end]
        found = _INDICATOR.match(written)
        keeps = found is not None and "+" in found[0]
        tail = (_LAST_BREAK if keeps else _BLANK_TAIL).search(written)
        return content + tail.start() if tail else end

    def _collection(self, event: yaml.CollectionStartEvent, bare: int, content: int) -> Node:
        is_list, flow = isinstance(event, yaml.SequenceStartEvent), bool(event.flow_style)
        closing = yaml.SequenceEndEvent if is_list else yaml.MappingEndEvent
        entries: list[Entry] = []
        after = content
        for inner in self.events:
            if isinstance(inner, closing):
                after = _span(inner)[1] if flow else after
                break
            entries.append(self._item(inner, after, flow) if is_list else self._pair(inner, after))
            after = entries[-1].end
        kind = NodeKind.LIST if is_list else NodeKind.MAPPING
        start, _ = _span(event)
        return Node(kind, start, bare, content, after, flow=flow, anchor=event.anchor, entries=tuple(entries))

    def _item(self, event: yaml.Event, after: int, flow: bool) -> Entry:
        value = self._node(event)
        if flow:
            return Entry(None, "", value.start, value.start, value)
        dash = skip_gap(self.text, after)
        return Entry(None, "", dash, dash + 1, _placed(value, dash + 1))

    def _pair(self, event: yaml.Event, after: int) -> Entry:
        key = self._node(event)
        value = self._node(next(self.events))
        mark = skip_gap(self.text, after)
        start = mark if self.text.startswith("?", mark) and mark < key.start else key.start
        name = as_one(self.anchored[key.anchor or ""].value if key.kind is NodeKind.ALIAS else key.value)
        colon = skip_gap(self.text, key.end)
        if self.text.startswith(":", colon) and colon < max(value.start, value.bare):
            return Entry(key, name, start, colon + 1, _placed(value, colon + 1))
        return Entry(key, name, start, key.end, _placed(value, key.end))


def _placed(value: Node, head: int) -> Node:
    """Return a value; one of which nothing is written, whose mark is that of whatever comes next, at `head`."""
    if value.kind is NodeKind.SCALAR and value.is_empty and value.bare == value.start:
        return replace(value, start=head, bare=head, content=head, end=head)
    return value


def aliases(root: Entry, anchor: str | None = None) -> Iterator[Node]:
    """Yield the aliases of a file, in its order; those for one anchor where it is given."""
    return (node for node in root.walk() if node.kind is NodeKind.ALIAS and anchor in (None, node.anchor))


def anchored(root: Entry, anchor: str) -> Node:
    return next(node for node in root.walk() if node.anchor == anchor and node.kind is not NodeKind.ALIAS)


def shared_anchor(root: Entry, around: Sequence[Node], inside: Sequence[Node]) -> str | None:
    """Return an anchor by which other places share a change, or None where it has its place to itself.

    `around` are the nodes that the change stands in, `inside` are those that it replaces or takes out.
    """
    gone = {node.start for node in inside}
    used = {node.anchor for node in aliases(root) if node.start not in gone}
    own = [node for node in (*around, *inside) if node.kind is not NodeKind.ALIAS]
    return next((node.anchor for node in own if node.anchor is not None and node.anchor in used), None)


def data_of(root: Entry, node: Node) -> Data:
    if node.kind is NodeKind.ALIAS:
        return data_of(root, anchored(root, node.anchor or ""))
    if node.kind is NodeKind.LIST:
        return [data_of(root, entry.value) for entry in node.entries]
    if node.kind is NodeKind.MAPPING:
        return {entry.name: data_of(root, entry.value) for entry in node.entries}
    return None if node.reads_as_nothing else node.value
