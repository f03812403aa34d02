"""Values that stand in several places of a file at once: an anchor (&name) and the aliases (*name) for it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cuedeck.show.source import Data
from cuedeck.show.yamltext.nodes import Entry, Node, NodeKind


def aliases(root: Entry, anchor: str | None = None) -> Iterator[Node]:
    """Yield the aliases of a file, in its order; those for one anchor where it is given."""
    return (node for node in root.walk() if node.kind is NodeKind.ALIAS and anchor in (None, node.anchor))


def anchored(root: Entry, anchor: str) -> Node:
    """Return the node that an anchor names."""
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
    """Return what a node reads as."""
    if node.kind is NodeKind.ALIAS:
        return data_of(root, anchored(root, node.anchor or ""))
    if node.kind is NodeKind.LIST:
        return [data_of(root, entry.value) for entry in node.entries]
    if node.kind is NodeKind.MAPPING:
        return {entry.name: data_of(root, entry.value) for entry in node.entries}
    return None if node.reads_as_nothing else node.value
