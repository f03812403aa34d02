"""YAML as people write it: random documents with comments, blank lines, quotes, brackets, anchors and line ends."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable

from hypothesis import strategies as st

_PLAIN = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9 ./%-]*[A-Za-z0-9%])?")
_WORDS = (
    "-1.5 stop",
    "45 %",
    "1.10",
    "01:00:04:12",
    "on",
    "it's",
    "a: b",
    "# no",
    "x",
    "",
    "é 😀",
    "rim left",
    "[",
    "~",
)
_NAMES = ("rim left", "fill", "key", "1", "colour temperature", "no", "a: b", "1.10", "é", "x#y", "look", "at", "title")


class _Writer:
    """Writes one document. Every choice is drawn from the generator, so that Hypothesis can replay it."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.anchors: list[str] = []

    def document(self) -> str:
        head = self.rng.choice(["", "", "# a show\n", "\n", "---\n"])
        if self.rng.random() < 0.1:
            return head + self.flow_mapping(3) + "\n"
        text = head + self.block_mapping(0, 3) + self.rng.choice(["", "\n", "# the end\n", "...\n"])
        return text[:-1] if self.rng.random() < 0.2 and not text.endswith("|\n") and "|" not in text else text

    def chance(self, probability: float) -> bool:
        return self.rng.random() < probability

    def gap(self, indent: int) -> str:
        """Whole lines that mean nothing."""
        if self.chance(0.6):
            return ""
        return self.rng.choice(["\n", " " * indent + "# a remark\n", "\n\n", "# at the margin\n"])

    def comment(self) -> str:
        return self.rng.choice(["", "", "", "   # why", " # {x: [y"])

    def names(self) -> list[str]:
        return self.rng.sample(_NAMES, self.rng.randint(1, 4))

    def key(self, name: str) -> str:
        return self.scalar(name)

    def scalar(self, text: str) -> str:
        styles: list[Callable[[str], str]] = [json.dumps]
        if "\n" not in text:
            styles.append(lambda t: "'" + t.replace("'", "''") + "'")
        if _PLAIN.fullmatch(text):
            styles += [str] * 4
        return self.rng.choice(styles)(text)

    def anchored(self, written: str) -> str:
        if not self.chance(0.12):
            return written
        self.anchors.append(f"a{len(self.anchors)}")
        return f"&{self.anchors[-1]} {written}"

    def block_mapping(self, indent: int, depth: int) -> str:
        text = ""
        for name in self.names():
            text += self.gap(indent) + " " * indent + self.key(name) + ":" + self.block_value(indent, depth)
        return text

    def block_list(self, indent: int, depth: int) -> str:
        text = ""
        for _ in range(self.rng.randint(1, 3)):
            text += self.gap(indent) + " " * indent + "-"
            if depth and self.chance(0.3):
                text += " " + self.block_mapping(indent + 2, depth - 1).lstrip(" \n") if self.chance(0.7) else ""
                text = text if text.endswith("\n") else text + "\n"
                text = re.sub(r"- #[^\n]*\n(?:[ ]*#[^\n]*\n|\n)*[ ]*", "- ", text)
            else:
                text += self.block_value(indent, 0)
        return text

    def block_value(self, indent: int, depth: int) -> str:
        kind = self.rng.choice(["scalar", "scalar", "flow", "mapping", "list", "empty", "alias", "literal", "wrapped"])
        deeper = indent + self.rng.choice([2, 4])
        if kind == "mapping" and depth:
            return self.comment() + "\n" + self.block_mapping(deeper, depth - 1)
        if kind == "list" and depth:
            return self.comment() + "\n" + self.block_list(self.rng.choice([indent, deeper]), depth - 1)
        if kind == "empty":
            return self.comment() + "\n"
        if kind == "alias" and self.anchors:
            return f" *{self.rng.choice(self.anchors)}{self.comment()}\n"
        if kind == "literal":
            head = self.rng.choice(["|", "|-", ">", ">-"])
            return f" {head}{self.comment()}\n{' ' * deeper}some words\n{' ' * deeper}and more\n"
        if kind == "wrapped":
            return f" some words\n{' ' * deeper}and more\n"
        written = self.flow(2) if kind == "flow" else self.scalar(self.rng.choice(_WORDS))
        return " " * self.rng.randint(1, 3) + self.anchored(written) + self.comment() + "\n"

    def flow(self, depth: int) -> str:
        kind = self.rng.choice(["scalar", "scalar", "list", "mapping", "alias"])
        if kind == "alias" and self.anchors:
            return f"*{self.rng.choice(self.anchors)} "
        if kind == "scalar" or not depth:
            return self.anchored(self.scalar(self.rng.choice(_WORDS)))
        return self.flow_mapping(depth) if kind == "mapping" else self.flow_list(depth)

    def flow_list(self, depth: int) -> str:
        return self.bracketed("[]", [self.flow(depth - 1) for _ in range(self.rng.randint(0, 3))])

    def flow_mapping(self, depth: int) -> str:
        return self.bracketed("{}", [f"{self.key(name)}: {self.flow(depth - 1)}" for name in self.names()])

    def bracketed(self, pair: str, items: list[str]) -> str:
        space = self.rng.choice(["", "", " "])
        separator = self.rng.choice([", ", ", ", " , ", ",   "])
        last = self.rng.choice(["", "", ","]) if items else ""
        return pair[0] + space + separator.join(items) + last + space + pair[1]


@st.composite
def yaml_texts(draw: st.DrawFn) -> bytes:
    """Return the bytes of a document that reads, with any line ends and perhaps a byte order mark."""
    text = _Writer(draw(st.randoms(use_true_random=False))).document()
    newline = draw(st.sampled_from(["\n", "\n", "\r\n"]))
    mark = draw(st.sampled_from(["", "", "\ufeff"]))
    return (mark + text.replace("\n", newline)).encode()


ODD_TEXTS = (
    "", "~", "null", "Null", "on", "1.10", "- a", "-", "a: b", "a:", ": a", ":", "#x", "x #y", "x#y", "a, b", "]", "}",
    "a]b", "{a", "'", '"', "it's", 'say "x"', "\n", "a\nb", "a\nb\n", "a\n\n", "\na", " a", "a ", "a\tb", "\t", "<<",
    "=", "---", "--- a", "...", "!x", "&x", "*x", "%x", "@x", "`x", "? x", "?", "?x", ",", "| x", ">", "|", "\ufeff",
    "\x85", "\u2028", "\0", "\x7f", "\uffff", "é😀", "\\", "a\\nb", "\r", "a\r\nb", "01:00:04:12", "-1.5 stop", "0x1f",
)  # fmt: skip

new_texts = st.one_of(st.sampled_from(ODD_TEXTS), st.text(max_size=20), st.text("ab:#,[]{}'\"-? \n!&*|>%@", max_size=8))
