"""The OpenAPI description of the JSON interface, made from its operations and the types of their answers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from estimator import __version__
from estimator.amounts import AMOUNTS
from estimator.descriptions import CHEMISTRIES, MOISTURE_SIGNS, MOISTURES, TAGS_THAT_COUNT
from estimator.errors import ShownTable
from estimator.importer.choices import GAPS
from estimator.logbook.records.names import LONGEST
from estimator.schema import collect

if TYPE_CHECKING:
    from starlette.requests import Request

    from estimator.page.door.forms import Sent

TEXT: dict[str, Any] = {"type": "string", "maxLength": 200}  # no text of a form is longer
NAME: dict[str, Any] = {"type": "string", "minLength": 1, "maxLength": LONGEST}
DAY: dict[str, Any] = {"type": "string", "format": "date"}


def field_of(name: str) -> tuple[dict[str, Any], str]:
    """Schema and meaning of a field; those of an amount come from the library's table of amounts."""
    if name in FIELDS:
        return FIELDS[name]
    known = AMOUNTS[name]
    kind = "integer" if name == "series" else "number"
    unit = f" [{known.unit}]" if known.unit else " [0..1]" if known.share else ""
    return {"type": kind, "minimum": known.low, "maximum": known.high}, known.help + unit


FIELDS: dict[str, tuple[dict[str, Any], str]] = {
    "files": (
        {"type": "array", "items": {"type": "string", "format": "binary"}, "minItems": 1, "maxItems": 2},
        "one or two files of the meter",
    ),
    "lawn": (
        {"type": "array", "items": NAME, "maxItems": 60},
        "lawns in mowing order; all where none is named",
    ),
    "lawn_one": (NAME, "the lawn that was mown"),
    "lawn_one_maybe": (NAME, "only mows of this lawn"),
    "only_lawn": (NAME, "only mows of this lawn"),
    "go_on_as": (NAME, "mowing goes on as on this lawn, instead of as in the log so far"),
    "one_more": ({"type": "string", "enum": ["yes"]}, "also each lawn's chance with the charge that is left"),
    "pack": (NAME, "may be left out where one pack is described"),
    "machine": (NAME, "may be left out where one machine is described"),
    "spare": (NAME, "a second full pack"),
    "moisture": (
        {"type": "string", "enum": list(MOISTURES)},
        "how wet the grass is: " + ", ".join(f"{name} {sign}" for name, sign in MOISTURE_SIGNS.items()),
    ),
    "started": ({"type": "string", "format": "date-time"}, "when the mow began, where the file does not say"),
    "tags": (TEXT, "tags, separated by commas: " + TAGS_THAT_COUNT),
    "page": ({"type": "integer", "minimum": 1, "maximum": 100_000}, "which page of the list"),
    "sizes_ah": (TEXT, "sizes that can be bought [Ah], separated by spaces"),
    "order": ({"type": "string", "enum": ["given", "lawns", "area"]}, "as given, or best for lawns or area"),
    "tag": (TEXT, "mows with this tag compared with those without"),
    "changed_on": (DAY, "mows from this day on compared with those before"),
    "since": (DAY, "only mows from this day on"),
    "until": (DAY, "only mows up to this day"),
    "name": (NAME, "what you call it"),
    "at": (TEXT, "where the second mow begins: minutes from the start, or the time of day, such as 12:40"),
    "kind": ({"type": "string", "enum": ["lawn", "pack", "machine", "meter"]}, "what it is"),
    "kind_mown": ({"type": "string", "enum": ["lawn", "pack", "machine"]}, "what both are"),
    "into": (NAME, "the one that gets its mows"),
    "mow": (NAME, "any word, the same for all readings of a mow"),
    "first": (
        {"type": "integer", "minimum": 0, "maximum": 10_000_000},
        "number of the first reading of this post, counted from 0; send on from the number that is answered",
    ),
    "readings": (
        {"type": "string", "maxLength": 200_000},
        "a line a reading: seconds, amps, volts and, if measured, the pack's temperature [°C]",
    ),
    "chemistry": ({"type": "string", "enum": list(CHEMISTRIES)}, "kind of cells"),
    "gaps": ({"type": "string", "enum": list(GAPS)}, "what minutes without readings were; else by the volts"),
    "capacity_guessed": (
        {"type": "string", "enum": ["yes"]},
        "the capacity is a guess, since the label is gone",
    ),
}
"""Schema and meaning of the fields that are not amounts; fields with the same meaning share a name."""

SENT_AS = {"lawn_one": "lawn", "lawn_one_maybe": "lawn", "kind_mown": "kind"}
NEEDED = {
    "files", "lawn_one", "at", "kind", "kind_mown", "into", "mow", "readings", "name", "area_m2", "chemistry",
    "series", "capacity_ah",
}  # fmt: skip


@dataclass(frozen=True)
class Operation:
    """One entry of the interface.

    fields : names of what it takes, explained in `FIELDS`; brings : "query", "form" (with files) or "json"
    answer : the dataclass that is returned; ask : the function that answers
    """

    method: str
    path: str
    words: str
    fields: Sequence[str]
    brings: str
    answer: type
    ask: Callable[[Request, Sent], Any]
    status: int = 200


def openapi(operations: Sequence[Operation]) -> dict[str, Any]:
    """The description as plain JSON (OpenAPI 3.1)."""
    paths: dict[str, dict[str, Any]] = {}
    for operation in operations:
        paths.setdefault(operation.path, {})[operation.method.lower()] = _operation(operation)
    schemas: dict[str, Any] = {"Trouble": _TROUBLE}
    for kind in (ShownTable, *(operation.answer for operation in operations)):
        collect(kind, schemas, "#/components/schemas/")
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "mowcharge",
            "version": __version__,
            "description": "Questions to one logbook. Discharge current is positive; names tell units. "
            "Fields that end in _std, also before the unit, are standard uncertainties (one sigma); "
            "1.645 of them are half the width of the 90 % band that the page shows as ±.",
        },
        "security": [{"secret": []}],
        "paths": paths,
        "components": {
            "securitySchemes": {"secret": {"type": "http", "scheme": "bearer"}},
            "schemas": schemas,
        },
    }


_TROUBLE = {
    "type": "object",
    "required": ["error"],
    "properties": {
        "error": {"type": "string", "description": "one line: what is wrong and how to mend it"},
        "table": {
            "description": "what a refused file holds, and what would make it readable",
            "$ref": "#/components/schemas/ShownTable",
        },
    },
}


def _operation(operation: Operation) -> dict[str, Any]:
    trouble, answer = (
        {"content": {"application/json": {"schema": {"$ref": f"#/components/schemas/{name}"}}}}
        for name in ("Trouble", operation.answer.__name__)
    )
    responses: dict[str, Any] = {
        str(operation.status): {"description": "the answer", **answer},
        "400": {"description": "a form that cannot be read", **trouble},
        "401": {"description": "the secret is missing or wrong", **trouble},
        "413": {"description": "too much was sent", **trouble},
        "422": {"description": "something cannot be taken as it is", **trouble},
    }
    if operation.status == 201:
        responses["409"] = {"description": "the file is in the logbook already", **trouble}
    described: dict[str, Any] = {"summary": operation.words, "responses": responses}
    parameters = [
        {"name": SENT_AS.get(name, name), "in": "query", "required": False,
         "description": field_of(name)[1], "schema": field_of(name)[0]}
        for name in operation.fields
        if operation.brings == "query"
    ]  # fmt: skip
    if "{number}" in operation.path:
        responses["404"] = {"description": "there is no such mow", **trouble}
        number = {"type": "integer", "minimum": 1, "maximum": 2**31 - 1}
        parameters.append({"name": "number", "in": "path", "required": True, "schema": number})
    if parameters:
        described["parameters"] = parameters
    if operation.brings != "query":
        kind = "multipart/form-data" if operation.brings == "form" else "application/json"
        body = {
            "type": "object",
            "required": [SENT_AS.get(name, name) for name in operation.fields if name in NEEDED],
            "properties": {
                SENT_AS.get(name, name): {**field_of(name)[0], "description": field_of(name)[1]}
                for name in operation.fields
            },
        }
        described["requestBody"] = {"required": True, "content": {kind: {"schema": body}}}
    return described
