"""A show file as an editor sees it: parsed by YAML into numbers, booleans and texts, not into texts alone."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

import yaml

CORE_NUMBER = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?|0o[0-7]+|0x[0-9a-fA-F]+")
"""Numbers of the core schema of YAML 1.2.2, section 10.3.2; the infinite ones are left out."""


def yaml_1_1(node: yaml.ScalarNode) -> Any:
    """Return what PyYAML's safe loader makes of a scalar, with dates as the texts that JSON has for them."""
    try:
        value = yaml.SafeLoader("").construct_object(node)
    except (ValueError, yaml.YAMLError):
        return node.value
    return node.value if isinstance(value, date) else value


def yaml_1_2(node: yaml.ScalarNode) -> Any:
    """Return what the core schema of YAML 1.2.2 makes of a scalar."""
    text: str = node.value
    if node.style not in (None, ""):
        return text
    if text in ("", "~", "null", "Null", "NULL"):
        return None
    if text in ("true", "True", "TRUE", "false", "False", "FALSE"):
        return text.lower() == "true"
    if not CORE_NUMBER.fullmatch(text):
        return text
    if text[:2] in ("0x", "0o"):
        return int(text, 0)
    return int(text) if re.fullmatch(r"[-+]?[0-9]{1,4000}", text) else float(text)


VERSIONS: Mapping[str, Callable[[yaml.ScalarNode], Any]] = {"YAML 1.1": yaml_1_1, "YAML 1.2": yaml_1_2}


def as_an_editor(text: str, version: str) -> Any:
    """Return a show as an editor sees it. Keys are the texts of the file in all of them."""
    return _value(yaml.compose(text.removeprefix("\ufeff"), Loader=yaml.CSafeLoader), VERSIONS[version])


def _value(node: yaml.Node, scalar: Callable[[yaml.ScalarNode], Any]) -> Any:
    if isinstance(node, yaml.MappingNode):
        return {key.value: _value(part, scalar) for key, part in node.value}
    if isinstance(node, yaml.SequenceNode):
        return [_value(part, scalar) for part in node.value]
    assert isinstance(node, yaml.ScalarNode)
    return scalar(node)
