"""The machine-readable copy of a paper: its facts as JSON, and the schema that describes them.

Every paper carries the sheet that it was drawn from as an attachment, `facts.json`, so that a distributor's or
auditor's program reads the same figures as a person. The schema is JSON Schema, draft 2020-12, made from the sheet's
own class; its words are the class's docstrings. A change of a sheet changes the schema, and `EDITION` goes up with it.
"""

from __future__ import annotations

import dataclasses
import functools
import inspect
import json
import re
import types
import typing
from datetime import date
from decimal import Decimal
from typing import Any

from shopdocs.documents.press.sheets import Sheet, to_json

EDITION = 1
FILE_NAME = "facts.json"
MEDIA_TYPE = "application/json"
DRAFT = "https://json-schema.org/draft/2020-12/schema"
PLAIN: dict[Any, dict[str, Any]] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    Decimal: {"type": "string", "pattern": r"^-?\d+(\.\d+)?$", "description": "an exact decimal number"},
    date: {"type": "string", "format": "date"},
}


def paper_name(cls: type[Sheet]) -> str:
    """'claim' for ClaimSheet, 'repair_order' for RepairOrderSheet."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", "_", cls.__name__.removesuffix("Sheet")).lower()


def schema_id(cls: type[Sheet]) -> str:
    """The schema's name, a URN: nothing is fetched from it."""
    return f"urn:shopdocs:paper:{paper_name(cls)}:{EDITION}"


def facts_file(sheet: Sheet) -> bytes:
    """The bytes of `facts.json`: the schema's name, and everything that the paper prints."""
    told = {"schema": schema_id(type(sheet)), "facts": to_json(sheet)}
    # Half a character, which no door lets in, becomes '?' here as it does in print.
    return (json.dumps(told, ensure_ascii=False, indent=1) + "\n").encode("utf-8", "replace")


@functools.cache
def json_schema(cls: type[Sheet]) -> dict[str, Any]:
    """The schema of `facts.json` of one kind of paper. A record used twice is described once, under `$defs`."""
    defs: dict[str, Any] = {}
    facts = _reference(cls, defs)
    return {
        "$schema": DRAFT,
        "$id": schema_id(cls),
        "title": f"What a paper of the kind '{paper_name(cls)}' prints",
        "type": "object",
        "properties": {"schema": {"const": schema_id(cls)}, "facts": facts},
        "required": ["schema", "facts"],
        "additionalProperties": False,
        "$defs": dict(sorted(defs.items())),
    }


def _reference(cls: type, defs: dict[str, Any]) -> dict[str, Any]:
    if cls.__name__ not in defs:
        defs[cls.__name__] = {}  # taken before its fields are read: a record may hold its own kind
        hints = typing.get_type_hints(cls)
        names = [field.name for field in dataclasses.fields(cls)]
        defs[cls.__name__] = {
            "type": "object",
            "description": inspect.cleandoc(cls.__doc__ or ""),
            "properties": {name: _type(hints[name], defs) for name in names},
            "required": names,
            "additionalProperties": False,
        }
    return {"$ref": f"#/$defs/{cls.__name__}"}


def _type(hint: Any, defs: dict[str, Any]) -> dict[str, Any]:
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        inner = next(arg for arg in args if arg is not type(None))
        return {"anyOf": [_type(inner, defs), {"type": "null"}]}
    if origin is tuple:
        return {"type": "array", "items": _type(args[0], defs)}
    if dataclasses.is_dataclass(hint):
        return _reference(typing.cast(type, hint), defs)
    return PLAIN[hint]
