"""The form of a session's file as JSON Schema, for editors and other programs.

JSON Schema draft 2020-12 (json-schema.org/draft/2020-12), made from the tables the reader uses.
Lines it doesn't know are allowed, as the reader passes them over. Times are text, as YAML and
JSON write them; a YAML loader that makes dates of them must be told not to.
"""

from __future__ import annotations

from collections.abc import Iterable

from trainer.journal.field_kinds import Kept, KeptFields, Record, Records, Schema, flat
from trainer.journal.session_schema import SESSION

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def journal_schema() -> Schema:
    """The whole schema, ready for `json.dumps`."""
    return {"$schema": DIALECT, "title": "A practice session", **_mapping(SESSION)}


def _mapping(fields: KeptFields) -> Schema:
    stand = flat(fields)
    schema = {
        "type": "object",
        "properties": {field.key: _line(field) for field in stand},
        "required": [field.key for field in stand if field.required],
    }
    return schema | _conditions(stand)


def _line(field: Kept) -> Schema:
    match field.kind:
        case Record(fields=fields):
            schema = _mapping(fields)
        case Records(fields=fields):
            schema = {"type": "array", "items": _mapping(fields)}
        case kind:
            schema = kind.schema()
    return schema | {"description": field.says}


def _conditions(fields: Iterable[Kept]) -> Schema:
    """The line that is required unless another one says a certain word."""
    for field in fields:
        if field.required_unless is not None:
            key, word = field.required_unless
            says_so = {"properties": {key: {"const": str(word)}}, "required": [key]}
            return {"if": says_so, "else": {"required": [field.key]}}
    return {}
