"""Plain data as YAML text, in the quotes, brackets and indent that the file around it uses.

The invariant owned here: a text is written without quotes only where `read_source` gives that very text
back from the place it is written to.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from cuedeck.show.problems import ProblemsFound
from cuedeck.show.source import Data, read_source

WIDEST_FLOW = 100
"""The most characters that a list or mapping in brackets is given where nothing beside it shows the way."""

_RAW = "\\x20-\\x7e\\xa0-\\u2027\\u202a-\\ud7ff\\ue000-\\ufefe\\uff00-\\ufffd\\U00010000-\\U0010ffff"
_WRITABLE = re.compile(f"[{_RAW}]*")
_TO_ESCAPE = re.compile(f'[^{_RAW}]|["\\\\]')
_SHORT_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r", "\0": "\\0"}


@dataclass(frozen=True)
class Page:
    """How a file is laid out: its line ends, and how much deeper a mapping or list stands than its key."""

    newline: str = "\n"
    mapping_indent: int = 2
    list_indent: int = 2

    def indent_under_key(self, value: Data) -> int:
        """Return how many columns deeper a block value stands than its key."""
        return self.list_indent if isinstance(value, list) else self.mapping_indent


def write_key(name: str, style: str | None, *, flow: bool) -> str:
    """Return a key: in the given quotes, or plain where it reads back so."""
    probe = f"a: {{{name}: x}}\n" if flow else f"{name}: x\n"
    expected: Data = {"a": {name: "x"}} if flow else {name: "x"}
    return _quoted(name, style) or (name if _reads(name, probe, expected) else _double(name))


def write_scalar(text: str | None, style: str | None, *, flow: bool) -> str:
    """Return a value: in the given quotes, or plain where it reads back so. None is written `~`."""
    if text is None:
        return "~"
    probe = f"a: {{b: {text}}}\nc: [{text}, {text} ]\n" if flow else f"a: {text}\nb:\n- {text}\n"
    expected: Data = {"a": {"b": text}, "c": [text, text]} if flow else {"a": text, "b": [text]}
    return _quoted(text, style) or (text if _reads(text, probe, expected) else _double(text))


def write_flow(value: Data) -> str:
    """Return a value on one line, lists and mappings in brackets."""
    if isinstance(value, dict):
        return f"{{{', '.join(f'{write_key(k, None, flow=True)}: {write_flow(v)}' for k, v in value.items())}}}"
    if isinstance(value, list):
        return f"[{', '.join(write_flow(item) for item in value)}]"
    return write_scalar(value, None, flow=True)


def write_inline(value: Data, style: str | None, *, flow: bool) -> str:
    """Return a value that goes on behind its key: a scalar in the given quotes, the rest in brackets."""
    return write_flow(value) if isinstance(value, dict | list) else write_scalar(value, style, flow=flow)


def write_block(value: Data, column: int, page: Page) -> str:
    """Return a list or mapping without brackets. Its first line is not indented, the others to `column`."""
    if isinstance(value, dict):
        parts = [write_key(k, None, flow=False) + ":" + write_tail(v, column, page) for k, v in value.items()]
    elif isinstance(value, list):
        parts = ["-" + write_tail(item, column, page, is_item=True) for item in value]
    else:
        raise ValueError("only a list or mapping can be written in lines")
    return (page.newline + " " * column).join(parts)


def write_tail(value: Data, column: int, page: Page, *, is_item: bool = False, in_lines: bool | None = None) -> str:
    """Return what stands behind the colon or the dash of an entry that starts in `column`."""
    if not (goes_in_lines(value) if in_lines is None else in_lines):
        return " " + write_inline(value, None, flow=False)
    if is_item:
        return " " + write_block(value, column + 2, page)
    deeper = column + page.indent_under_key(value)
    return page.newline + " " * deeper + write_block(value, deeper, page)


def goes_in_lines(value: Data) -> bool:
    """Whether a value is better read in lines than in brackets: it holds lists or mappings, or is long."""
    if not isinstance(value, dict | list) or not value:
        return False
    items = value.values() if isinstance(value, dict) else value
    return any(isinstance(item, dict | list) and item for item in items) or len(write_flow(value)) > WIDEST_FLOW


def write_literal(text: str, column: int, page: Page) -> tuple[str, str] | None:
    """Return the indicator and the indented lines of a text after `|`, or None where it needs quotes."""
    body = text.removesuffix("\n")
    lines = body.split("\n")
    plain = all(_WRITABLE.fullmatch(line) and line == line.rstrip() for line in lines)
    if "\n" not in text or not plain or not lines[0] or not lines[-1] or lines[0].startswith(" "):
        return None
    indented = [" " * column + line if line else "" for line in lines]
    return "|" if text != body else "|-", page.newline.join(indented)


def _quoted(text: str, style: str | None) -> str | None:
    if style == "'" and _WRITABLE.fullmatch(text):
        return "'" + text.replace("'", "''") + "'"
    return _double(text) if style in ("'", '"') else None


def _double(text: str) -> str:
    return f'"{_TO_ESCAPE.sub(_escape, text)}"'


def _escape(found: re.Match[str]) -> str:
    character = found[0]
    return _SHORT_ESCAPES.get(character) or (
        f"\\x{ord(character):02x}" if ord(character) < 0x100 else f"\\u{ord(character):04x}"
    )


def _reads(text: str, probe: str, expected: Data) -> bool:
    if not text or not _WRITABLE.fullmatch(text):
        return False
    try:
        return read_source("probe", probe.encode()).data == expected
    except ProblemsFound:
        return False
