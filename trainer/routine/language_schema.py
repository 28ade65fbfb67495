"""The JSON Schema of a routine, made from the tables of the language, for text editors.

JSON Schema draft 2020-12 (json-schema.org/draft/2020-12). It says which words may stand where and
what a value may look like; words are wanted as the reference page spells them, where the checker
also takes capitals and hyphens. What one line means beside another (a name twice, a key above, one
number above another, the beats of a bar, a note the instrument lacks, a level that is only named)
and what stands in other files, only `trainer check` can say.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from trainer.music.scales import ArpeggioKind, ScaleKind
from trainer.routine import patterns
from trainer.routine.entry_list import MOST_ENTRIES
from trainer.routine.exercise_notes import needed_mode
from trainer.routine.fields import (
    CLIMBED,
    DEFAULTS_FIELDS,
    KINDS,
    OF,
    ROUTINE_FIELDS,
    WEEK_FIELDS,
    Field,
    Kind,
    climb_fields,
)
from trainer.routine.level_words import LEAVE_OUT
from trainer.routine.second_part import has_seven_notes

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_CLIMB = "speed climb"


def schema() -> dict[str, Any]:
    """The whole schema, ready for `json.dumps`; what several entries share stands in it once."""
    whole = _whole()
    shared = dict(_shared(whole))
    fields: dict[str, Any] = {}
    parts: dict[str, Any] = _with_references(whole, shared, fields)
    return parts | {"$defs": parts["$defs"] | fields}


def _shared(node: Any) -> Iterator[tuple[str, str]]:
    """Every property's schema as text → the name it gets, numbered where a name has several."""
    names: Counter[str] = Counter()
    seen: set[str] = set()
    for name, one in _every_property(node):
        text = json.dumps(one)
        if text not in seen:
            seen.add(text)
            names[name] += 1
            yield text, f"{name} {names[name]}" if names[name] > 1 else name


def _every_property(node: Any) -> Iterator[tuple[str, Any]]:
    """The explained properties of every mapping inside, with the names of their definitions."""
    children = node.values() if isinstance(node, dict) else node if isinstance(node, list) else ()
    if isinstance(node, dict):
        for name, one in node.get("properties", {}).items():
            if isinstance(one, dict) and "description" in one:
                yield f"field {name}", one
    for child in children:
        yield from _every_property(child)


def _with_references(node: Any, shared: Mapping[str, str], fields: dict[str, Any]) -> Any:
    """The same schema with a reference for each shared part; the parts go into `fields`."""
    if isinstance(node, list):
        return [_with_references(one, shared, fields) for one in node]
    if not isinstance(node, dict):
        return node
    name = shared.get(json.dumps(node))
    within = {key: _with_references(one, shared, fields) for key, one in node.items()}
    if name is None:
        return within
    fields[name] = within
    return {"$ref": f"#/$defs/{_pointer(name)}"}


def _whole() -> dict[str, Any]:
    return {
        "$schema": DIALECT,
        "title": "A practice routine",
        "type": "object",
        "properties": _properties(ROUTINE_FIELDS)
        | {
            "defaults": _mapping(DEFAULTS_FIELDS.values())
            | {"description": "What holds for every exercise unless it says something else."},
            "week": _mapping(WEEK_FIELDS.values())
            | {"minProperties": 1, "description": "What is played on which day, and in which key."},
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
        "allOf": [
            *(_needed_where_no_default(name) for name in _required_or_inherited()),
            _unless_by_default("key", [_WITHOUT_NOTES_OR_KEY]),
            _unless_by_default("aims", [_PROGRESS_WITHOUT_AIMS]),
            _unless_by_default("partner", [_PURE_WITHOUT_DRONE]),
        ],
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
    one = _entry_with(kind, kind.fields)
    if kind.word in _FORMS:
        one["allOf"] = [*_modes_together(*_FORMS[kind.word]), _major_unless_said(kind)]
    if kind.word in ("passage", "trills"):
        one["allOf"] = [_DRONE_WITHOUT_KEY]
    if kind.word in _PARALLELS_IN:
        one["allOf"].append(_PARALLELS_IN[kind.word])
    return one


def _entry_with(kind: Kind, fields: Iterable[Field]) -> dict[str, Any]:
    fields = tuple(fields)
    opening = {**kind.opening.schema, "description": f"{kind.explanation}"}
    one = _mapping(fields) | {"required": [kind.word, *_required(fields)]}
    one["properties"] = {kind.word: opening} | one["properties"]
    if "levels" in one["properties"]:
        at_a_level = _mapping(field for field in fields if field.name != "levels")
        choice = {"anyOf": [{"const": LEAVE_OUT}, at_a_level]}
        one["properties"]["levels"] = {
            **one["properties"]["levels"],
            "additionalProperties": choice,
        }
    return one


_FORMS: dict[str, tuple[str, Iterable[ScaleKind | ArpeggioKind]]] = {
    "scale": ("form", tuple(ScaleKind)),
    "arpeggio": ("chord", tuple(ArpeggioKind)),
}


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


def _major_unless_said(kind: Kind) -> dict[str, Any]:
    """Without a form, a key that names no mode is major, and G sharp major there is not."""
    name, _ = _FORMS[kind.word]
    return {
        "if": {"not": {"required": [name]}},
        "then": {"properties": {"key": _no_text_like(patterns.whole(patterns.ONLY_MINOR))}},
    }


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
    return _unless_by_default(
        name,
        [{"if": condition, "then": {"required": [name]}} for condition in _entries_requiring(name)],
    )


def _unless_by_default(name: str, strict: list[dict[str, Any]]) -> dict[str, Any]:
    """What holds for every entry where 'defaults' doesn't have the field."""
    said_once = {"properties": {"defaults": {"required": [name]}}, "required": ["defaults"]}
    return {"if": said_once, "else": {"properties": {"exercises": {"items": {"allOf": strict}}}}}


_WITHOUT_NOTES_OR_KEY = {
    "if": {"required": ["long tones"]},
    "then": {"anyOf": [{"required": ["notes"]}, {"required": ["key"]}]},
}
_PROGRESS_WITHOUT_AIMS = {
    "if": {"required": ["progress"]},
    "then": {"required": ["aims"], "properties": {"aims": {"not": {"const": "none"}}}},
}
_PARALLEL = "^in (thirds|sixths)"
_KEYED = f"^drone|{_PARALLEL}"
"""Partners that take their notes from the key, and may be pure to something."""
_NO_PARALLELS = {"properties": {"partner": {"not": {"type": "string", "pattern": _PARALLEL}}}}
_PARALLELS_OF_SEVEN = {
    "if": {
        "properties": {
            "form": {"enum": [str(form) for form in ScaleKind if not has_seven_notes(form)]}
        },
        "required": ["form"],
    },
    "then": _NO_PARALLELS,
}
_PARALLELS_IN = {"scale": _PARALLELS_OF_SEVEN, "arpeggio": _NO_PARALLELS}
_DRONE_WITHOUT_KEY = {
    "if": {
        "properties": {"partner": {"type": "string", "pattern": _KEYED}},
        "required": ["partner"],
    },
    "then": {"required": ["key"]},
}
_PURE_WITHOUT_DRONE = {
    "if": {
        "properties": {"temperament": {"enum": ["pure above the drone", "pure"]}},
        "required": ["temperament"],
    },
    "then": {"properties": {"partner": {"pattern": _KEYED}}, "required": ["partner"]},
}


def _no_text_like(pattern: str) -> dict[str, Any]:
    return {"not": {"type": "string", "pattern": pattern}}


def _modes_together(name: str, forms: Iterable[ScaleKind | ArpeggioKind]) -> list[dict[str, Any]]:
    """A form or chord that belongs to one mode stands beside no key of the other."""
    return [
        {
            "if": {"properties": {name: {"const": str(form)}}, "required": [name]},
            "then": {"properties": {"key": _no_text_like(rf"{mode.other}\s*$")}},
        }
        for form in forms
        if (mode := needed_mode(form)) is not None
    ]


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
