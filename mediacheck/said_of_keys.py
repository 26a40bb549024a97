"""What each key of a model means, read from the lines below its attributes when somebody asks.

It must not be needed to read a file: pydantic can do the same when a class is made, and then each start of
the program reads its own source.
"""

from __future__ import annotations

import ast
import functools
import inspect
import itertools
import textwrap
from typing import Any

from pydantic import BaseModel, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema


class SaidOfKeys(BaseModel):
    """A model whose JSON Schema describes each key with the docstring of its attribute."""

    @classmethod
    def __get_pydantic_json_schema__(cls, core: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Called by pydantic (its name for it)."""
        schema = handler(core)
        keys = handler.resolve_ref_schema(schema).get("properties", {})
        said = attribute_docstrings(cls)
        for name, field in cls.model_fields.items():
            key = keys.get(field.alias or name)
            if key is not None and name in said:
                key.setdefault("description", said[name])
        return schema


def attribute_docstrings(of: type[Any]) -> dict[str, str]:
    """The docstring below each annotated attribute of a class and its bases, where their source is there."""
    found: dict[str, str] = {}
    for one in reversed(of.__mro__):
        if issubclass(one, SaidOfKeys):
            found |= _own(one)
    return found


@functools.cache
def _own(of: type[Any]) -> dict[str, str]:
    try:
        tree = ast.parse(textwrap.dedent(inspect.getsource(of))).body[0]
    except OSError:
        return {}
    lines = tree.body if isinstance(tree, ast.ClassDef) else []
    return {
        name.target.id: inspect.cleandoc(words.value.value)
        for name, words in itertools.pairwise(lines)
        if isinstance(name, ast.AnnAssign)
        and isinstance(name.target, ast.Name)
        and isinstance(words, ast.Expr)
        and isinstance(words.value, ast.Constant)
        and isinstance(words.value.value, str)
    }
