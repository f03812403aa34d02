"""The JSON Schema of show.yaml, for editors: made from the models, which hold each fact once.

Whatever it refuses the loader refuses too; what it lets pass, `cuedeck check` may still refuse. One
exception is meant: a name of a range that YAML takes for a number, such as 1e3, needs quotes in an editor.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from fractions import Fraction
from itertools import pairwise
from typing import Any

from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import core_schema

from cuedeck.show.model import Show
from cuedeck.show.schema_parts import WORD, JsonSchema
from cuedeck.show.units import Quantity, print_number

SCHEMA_FILE = "show.schema.json"
_YAML_BOOLEANS = {"on": True, "off": False, "yes": True, "no": False, "true": True, "false": False}
"""The words that YAML, 1.1 or 1.2, takes for a boolean."""


def show_schema() -> JsonSchema:
    schema = Show.model_json_schema(schema_generator=_ShowSchema)
    return {"$schema": _ShowSchema.schema_dialect, **schema, "title": "A show of cuedeck"}


class _ShowSchema(GenerateJsonSchema):
    """Makes the schema as the file is written: texts that YAML may read as other kinds, names as keys."""

    def field_title_should_be_set(self, schema: Any) -> bool:  # noqa: ARG002 - the signature is pydantic's
        """Leave the title to the kind of value: that of a field would say its key again."""
        return False

    def str_schema(self, schema: core_schema.StringSchema) -> JsonSchema:
        """Return any word: what YAML takes for a number or a boolean, the loader reads as it was typed."""
        return {**super().str_schema(schema), "type": list(WORD)}

    def literal_schema(self, schema: core_schema.LiteralSchema) -> JsonSchema:
        """Return a choice of words, with the booleans that YAML makes of some of them."""
        words = list(schema["expected"])
        return {"enum": [*words, *(_YAML_BOOLEANS[word] for word in words if word in _YAML_BOOLEANS)]}

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchema:
        """Return a value that may be left out: a key that is written has a value, see `Model`."""
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchema:
        """Return a value with its default as the file would write it, where it is one text or number."""
        inner = self.generate_inner(schema["schema"])
        default = _as_written(schema.get("default"))
        return inner if default is None else {**inner, "default": default}

    def model_schema(self, schema: core_schema.ModelSchema) -> JsonSchema:
        """Return a part of a show, each key with the words about it in the model."""
        part = super().model_schema(schema)
        for name, words in _attribute_docstrings(schema["cls"]).items():
            part["properties"][schema["cls"].model_fields[name].alias or name]["description"] = words
        return part

    def tuple_schema(self, schema: core_schema.TupleSchema) -> JsonSchema:
        """Return a list of so many values of one kind, in words that older editors know too."""
        listed = dict(super().tuple_schema(schema))
        return {**listed, "items": listed.pop("prefixItems")[0]}

    def dict_schema(self, schema: core_schema.DictSchema) -> JsonSchema:
        """Return a mapping from names, each of which keeps to the pattern of its kind."""
        keys = self.generate_inner(schema["keys_schema"])
        named: JsonSchema = {"type": "object", "additionalProperties": self.generate_inner(schema["values_schema"])}
        names = {key: part for key, part in keys.items() if key not in ("type", "title", "examples")}
        self.update_with_validations(named, schema, self.ValidationsMapping.object)
        return {**named, "propertyNames": names}


def _attribute_docstrings(model: type) -> dict[str, str]:
    """Return the texts below the fields of a model. pydantic can read them too, but does so whenever cuedeck starts."""
    (written,) = ast.parse(textwrap.dedent(inspect.getsource(model))).body
    assert isinstance(written, ast.ClassDef)  # noqa: S101 - for the type checker
    return {
        field.target.id: inspect.cleandoc(str(below.value.value))
        for field, below in pairwise(written.body)
        if isinstance(field, ast.AnnAssign)
        and isinstance(field.target, ast.Name)
        and isinstance(below, ast.Expr)
        and isinstance(below.value, ast.Constant)
    }


def _as_written(default: object) -> Any:
    if isinstance(default, Fraction):
        return print_number(default)
    if isinstance(default, Quantity):
        return str(default)
    if isinstance(default, tuple):
        return list(default)
    return default if isinstance(default, (str, int)) else None
