"""The JSON Schema of a routine, made from the tables of the language, for text editors.

JSON Schema draft 2020-12 (json-schema.org/draft/2020-12). It says which words may stand where and
what a value may look like; words are wanted as the reference page spells them, where the checker
also takes capitals and hyphens. What one line means beside another (a name twice, a key above, the
beats of a bar, a note the instrument lacks) only `trainer check` can say.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from trainer.routine.fields import (
    CLIMBED,
    DEFAULTS_FIELDS,
    KINDS,
    OF,
    ROUTINE_FIELDS,
    Field,
    Kind,
    climb_fields,
)
from trainer.routine.load import MOST_ENTRIES

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_CLIMB = "speed climb"


def schema() -> dict[str, Any]:
    """The whole schema, ready for `json.dumps`."""
    return {
        "$schema": DIALECT,
        "title": "A practice routine",
        "type": "object",
        "properties": _properties(ROUTINE_FIELDS)
        | {
            "defaults": _mapping(DEFAULTS_FIELDS.values())
            | {"description": "What holds for every exercise unless it says something else."},
            "exercises": {
                "type": "array",
                "minItems": 1,
                "maxItems": MOST_ENTRIES,
                "items": _any_entry(),
                "description": "What is played, in order.",
            },
        },
        "required": [*_required(ROUTINE_FIELDS), "exercises"],
        "additionalProperties": False,
        "allOf": [_needed_where_no_default(name) for name in _required_or_inherited()],
        "$defs": {word: _entry(kind) for word, kind in KINDS.items()}
        | {_climb_name(word): _climb(word) for word in CLIMBED},
    }


def _properties(fields: Iterable[Field]) -> dict[str, Any]:
    return {field.name: _property(field) for field in fields}


def _property(field: Field) -> dict[str, Any]:
    default = f" Without it: {field.default_says}." if field.default_says else ""
    says = f"{field.explanation}{default} Write {field.reader.says}."
    return {**field.reader.schema, "description": says}


def _mapping(fields: Iterable[Field]) -> dict[str, Any]:
    return {"type": "object", "properties": _properties(fields), "additionalProperties": False}


def _required(fields: Iterable[Field]) -> list[str]:
    """Those that no default can stand in for."""
    return [field.name for field in fields if field.required and not field.inherits]


def _any_entry() -> dict[str, Any]:
    """Exactly one kind's word, then the fields of that kind."""
    return {
        "type": "object",
        "oneOf": [{"required": [word]} for word in KINDS],
        "allOf": [
            {"if": {"required": [word]}, "then": {"$ref": f"#/$defs/{_pointer(word)}"}}
            for word in KINDS
        ],
    }


def _pointer(name: str) -> str:
    """A name inside a reference: a space is written %20 (RFC 6901, section 6)."""
    return name.replace(" ", "%20")


def _entry(kind: Kind) -> dict[str, Any]:
    if kind.word == _CLIMB:
        return _climb_on_any()
    return _entry_with(kind, kind.fields)


def _entry_with(kind: Kind, fields: Iterable[Field]) -> dict[str, Any]:
    fields = tuple(fields)
    opening = {**kind.opening.schema, "description": f"{kind.explanation}"}
    one = _mapping(fields) | {"required": [kind.word, *_required(fields)]}
    one["properties"] = {kind.word: opening} | one["properties"]
    return one


def _climb_name(climbed: str) -> str:
    return f"{_CLIMB} on {climbed}"


def _climb(climbed: str) -> dict[str, Any]:
    return _entry_with(KINDS[_CLIMB], climb_fields(climbed))


def _climb_on_any() -> dict[str, Any]:
    """A climb has the fields of what it climbs on."""
    return {
        "properties": {OF.name: _property(OF)},
        "allOf": [
            {
                "if": _climbs_on(word),
                "then": {"$ref": f"#/$defs/{_pointer(_climb_name(word))}"},
            }
            for word in CLIMBED
        ],
    }


def _climbs_on(word: str) -> dict[str, Any]:
    said = {"properties": {OF.name: {"const": word}}}
    return said if word == OF.default else said | {"required": [OF.name]}


def _required_or_inherited() -> list[str]:
    """Fields some kind requires, but that may stand under 'defaults' instead."""
    names = (
        field.name
        for kind in KINDS.values()
        for field in kind.fields
        if field.required and field.inherits
    )
    return list(dict.fromkeys(names))


def _needed_where_no_default(name: str) -> dict[str, Any]:
    """Without this default, every entry whose kind requires the field must have it."""
    said_once = {"properties": {"defaults": {"required": [name]}}, "required": ["defaults"]}
    strict = [
        {"if": condition, "then": {"required": [name]}} for condition in _entries_requiring(name)
    ]
    return {"if": said_once, "else": {"properties": {"exercises": {"items": {"allOf": strict}}}}}


def _entries_requiring(name: str) -> list[dict[str, Any]]:
    plain = [
        {"required": [word]}
        for word, kind in KINDS.items()
        if word != _CLIMB and _requires(kind.fields, name)
    ]
    climbs = [
        {"allOf": [{"required": [_CLIMB]}, _climbs_on(word)]}
        for word in CLIMBED
        if _requires(climb_fields(word), name)
    ]
    return plain + climbs


def _requires(fields: Iterable[Field], name: str) -> bool:
    return any(field.name == name and field.required for field in fields)
