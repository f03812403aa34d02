"""What every part of a show's model has in common."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationInfo, field_validator
from pydantic_core import PydanticCustomError


class MayBeEmpty:
    """Marks a section whose key may stand with nothing behind it."""

    @classmethod
    def __get_pydantic_json_schema__(cls, core_schema: Any, handler: Any) -> dict[str, Any]:
        return {"anyOf": [handler(core_schema), {"type": "null"}]}


class Model(BaseModel):
    """A part of a show: unknown keys are errors, values do not change, a key that is written has a value."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    @field_validator("*", mode="before")
    @classmethod
    def _not_empty(cls, value: Any, info: ValidationInfo) -> Any:
        about = cls.model_fields[info.field_name or ""]
        if value is None and about.default is None and MayBeEmpty not in about.metadata:
            # Left out, the key would mean something; left empty, it is most often a slip.
            raise PydanticCustomError("empty", "this is empty")
        return value
