"""What the format says about a place: its schema found by the way that leads there, for texts that are not whole yet.

`doorlint.schema` judges a document; here the same schema is only looked up.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, TypeAlias

from ..schema import schema_text

Schema: TypeAlias = Mapping[str, Any]


@cache
def _whole(name: str) -> Schema:
    loaded: Schema = json.loads(schema_text(name))
    return loaded


def at(tokens: tuple[str, ...], name: str = "spec") -> Schema | None:
    """The schema of the value that a way leads to; None where the format knows nothing of it."""
    here: Schema | None = _whole(name)
    for token in tokens:
        if here is None:
            return None
        here = _child(_resolved(here, name), token)
    return None if here is None else _resolved(here, name)


def _child(schema: Schema, token: str) -> Schema | None:
    properties = schema.get("properties", {})
    if token in properties:
        return properties[token] or None
    found = schema.get("additionalProperties") or (schema.get("items") if token.isdecimal() else None)
    return found if isinstance(found, dict) else None


def _resolved(schema: Schema, name: str) -> Schema:
    """The schema with what it refers to; its own words come first."""
    while "$ref" in schema:
        target = _whole(name)["$defs"][schema["$ref"].removeprefix("#/$defs/")]
        schema = {**target, **{key: value for key, value in schema.items() if key != "$ref"}}
    return schema


def keys(schema: Schema, stated: Mapping[str, Any], name: str = "spec") -> dict[str, Schema]:
    """The keys that a mapping may have beside those `stated`, with their schemas: those that do not belong to what is
    stated (to its kind, for instance) are left out."""
    found = {
        key: _resolved(value, name)
        for key, value in schema.get("properties", {}).items()
        if value is not False and key not in stated
    }
    for one in schema.get("allOf", ()):
        if "if" in one and _holds(one["if"], stated, name):
            for key, value in one["then"].get("properties", {}).items():
                if value is False:
                    found.pop(key, None)
    return found


def _holds(condition: Schema, stated: Mapping[str, Any], name: str) -> bool:
    """Whether what is stated meets a condition of the few forms in which the schema says what belongs together."""
    if any(key not in stated for key in condition.get("required", ())):
        return False
    for key, value in condition.get("properties", {}).items():
        if key in stated:
            schema = _resolved(value, name)
            allowed, forbidden = schema.get("enum"), schema.get("not", {}).get("enum", ())
            if stated[key] in forbidden or (allowed is not None and stated[key] not in allowed):
                return False
    return True


def words(schema: Schema) -> dict[str, str]:
    """The words that a value may be, with what each means: those of a closed list, true and false."""
    found: dict[str, str] = {}
    for one in _sides(schema):
        found |= one.get("x-words", {})
        for value in one.get("enum", ()):
            if isinstance(value, bool):
                found["true" if value else "false"] = ""
            elif value == "unknown":
                found.setdefault("unknown", "The author knows that this is missing.")
    return found


def _sides(schema: Schema) -> Iterator[Schema]:
    """The schema, and what it adds for values of one type."""
    yield schema
    if isinstance(schema.get("then"), dict):
        yield _resolved(schema["then"], "spec")
    for one in schema.get("allOf", ()):
        if "if" not in one:
            yield _resolved(one, "spec")


def takes(schema: Schema, kind: str) -> bool:
    """Whether a value may be of a type, by JSON Schema's name of it."""
    listed = schema.get("type", ())
    return kind == listed if isinstance(listed, str) else kind in listed


def dimension(schema: Schema) -> tuple[str, str] | None:
    """(dimension, form) of a value that is a quantity, a band or a wire size."""
    if "x-form" not in schema:
        return None
    return str(schema.get("x-dimension", "")), str(schema["x-form"])
