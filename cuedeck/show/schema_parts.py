"""How values of a show are written, for editors: the JSON Schema of texts and of short forms.

YAML in an editor makes 25 a number and, in its older version, `on` a boolean, where cuedeck reads both as
texts. So a schema names the kinds that YAML can make of a right text; a pattern binds strings only. A
pattern never refuses what the loader reads: where it cannot say exactly what is right, it lets more pass.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

JsonSchema = dict[str, Any]
"""A JSON Schema, 2020-12."""

TEXT = ("string",)
NUMBER = ("string", "number")
WORD = ("string", "number", "boolean")
"""What YAML can make of any word."""
ONE_LINE = r"^[^\u0000-\u001f\u007f-\u009f\u2028\u2029]*$"


def whole_text(pattern: str) -> str:
    """Return a pattern for the whole of a text, with room around it."""
    return rf"^\s*(?:{pattern})\s*$"


def one_of(words: Iterable[str]) -> str:
    """Return a pattern for one of several words, longest first; spaces may be wider."""
    escaped = [word.replace("\\", r"\\").replace(".", r"\.").replace(" ", r"\s+") for word in words]
    return f"(?:{'|'.join(sorted(escaped, key=len, reverse=True))})"


def value_schema(
    kind: str, examples: str, pattern: str | None = None, types: Iterable[str] = TEXT, cure: str = "", **limits: Any
) -> JsonSchema:
    """Return the schema of a value: what it is, examples parted by ' or ', a pattern for the whole text.

    `limits` are further keywords, such as minimum=0 for a value that is a number. `patternErrorMessage` is no
    keyword of the standard, which lets others stand; editors that know it show it.
    """
    kinds = list(types)
    schema: JsonSchema = {"title": kind, "type": kinds[0] if len(kinds) == 1 else kinds}
    if pattern is not None:
        schema |= {"pattern": pattern, "patternErrorMessage": cure or f"write {kind} such as {examples}"}
    return schema | limits | {"examples": examples.split(" or ")}


def names_beside(schema: JsonSchema, field: str) -> JsonSchema:
    """Return the schema of a mapping whose own keys stand beside names: those of `field`, which the file never says."""
    own = {key: part for key, part in schema["properties"].items() if key != field}
    named = schema["properties"][field]
    beside = {key: named[key] for key in ("additionalProperties", "propertyNames") if key in named}
    return {**schema, "properties": own, **beside}


def short_or(schema: JsonSchema, short: Mapping[str, Any]) -> JsonSchema:
    """Return the schema of a mapping that has a short form too; the words about it stand outside both."""
    about: JsonSchema = {key: schema[key] for key in ("title", "description") if key in schema}
    long = {key: part for key, part in schema.items() if key not in about}
    return {**about, "anyOf": [dict(short), long]}


def key_condition(key: str, **more: Any) -> JsonSchema:
    """Return the condition that a key stands in a mapping with a value, and what else then holds of its value."""
    return {"required": [key], "properties": {key: {"not": {"type": "null"}, **more}}}
