"""JSON Schema of answers, from their types: what `--json-schema` prints and what the interface describes."""

from __future__ import annotations

import ast
import inspect
import types
import typing
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from functools import cache
from importlib import import_module
from typing import Any

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema_of_answer(ask: Callable[..., Any]) -> dict[str, Any]:
    """The schema of a function's answer, as one plain object.

    >>> from estimator.answers.plan import plan_of_day
    >>> schema = schema_of_answer(plan_of_day)
    >>> schema["title"], schema["properties"]["sure"]
    ('PlanAnswer', {'type': ['number', 'null']})
    """
    parts: dict[str, Any] = {}
    hint = typing.get_type_hints(ask, localns=_known(ask.__module__))["return"]
    if typing.get_origin(hint) is Iterator:  # answers with one object after the other
        hint = typing.get_args(hint)[0]
    name = collect(hint, parts, "#/$defs/")
    whole = parts.pop(name)
    return {"$schema": DIALECT, "title": name, **whole, "$defs": parts}


def collect(hint: Any, schemas: dict[str, Any], where: str) -> str:
    """Put the schema of a dataclass and of all its parts into `schemas`; returns its name there.

    where : what a reference to a part begins with, such as "#/$defs/"
    """
    kind, inside = typing.get_origin(hint) or hint, typing.get_args(hint)
    name: str = kind.__name__ + "".join(f"Of{each.__name__}" for each in inside)
    if name not in schemas:
        schemas[name] = {}
        stands = dict(zip(getattr(kind, "__parameters__", ()), inside, strict=False))
        hints = _hints(kind)
        properties = {
            each.name: _schema(stands.get(hints[each.name], hints[each.name]), schemas, where)
            for each in fields(kind)
        }
        schemas[name] = {"type": "object", "required": list(properties), "properties": properties}
    return name


def _schema(hint: Any, schemas: dict[str, Any], where: str) -> dict[str, Any]:
    origin, inside = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType):
        options = [_schema(each, schemas, where) for each in inside if each is not type(None)]
        return {"anyOf": [*options, {"type": "null"}]} if type(None) in inside else {"anyOf": options}
    if is_dataclass(origin or hint):
        return {"$ref": where + collect(hint, schemas, where)}
    simple = {str: "string", bool: "boolean", int: "integer"}
    if hint in simple:
        return {"type": simple[hint]}
    if hint is float:
        return {"type": ["number", "null"]}  # what is unknown or infinite is null
    if hint in (date, datetime):
        return {"type": "string"}
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return {"type": "object"}
    if isinstance(origin, type) and issubclass(origin, Sequence):
        return {"type": "array", "items": _schema(inside[0], schemas, where)}
    return {}


@cache
def _hints(kind: type) -> dict[str, Any]:
    return typing.get_type_hints(kind, localns=_known(kind.__module__))


@cache
def _known(module: str) -> dict[str, Any]:
    """The names that a module imports for type checking only, which its annotations use too."""
    found: dict[str, Any] = {}
    for node in ast.walk(ast.parse(inspect.getsource(import_module(module)))):
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            for each in node.body:
                if isinstance(each, ast.ImportFrom) and each.module and each.module.startswith("estimator"):
                    home = import_module(each.module)
                    found |= {name.asname or name.name: getattr(home, name.name) for name in each.names}
    return found
