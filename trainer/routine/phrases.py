"""Reading what a teacher says about playing: breaths, aims."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import yaml

from trainer.routine import patterns
from trainer.routine.model import Breaths
from trainer.routine.reader import (
    Reader,
    folded,
    items,
    meant,
    misread,
    number,
    part,
    read_or_say,
    scalar,
)
from trainer.routine.round import Aims

# Breaths

MOST_BEATS = 2000
"""As many as the longest passage has notes."""
_EVERY = re.compile(r"every (\d{1,6}) beats?")
_AFTER = re.compile(r"after beats? (\d{1,6}(?:(?:, | and |, and )\d{1,6})*)")
_BREATH_WORDS: dict[str, Breaths] = {
    "as needed": Breaths(as_needed=True),
    "none": Breaths(),
    "at the top": Breaths(at_top=True),
    "at the bottom": Breaths(at_bottom=True),
    "at the turns": Breaths(at_top=True, at_bottom=True),
}


def _breaths(node: yaml.Node) -> Breaths:
    found = Breaths()
    for one in items(node, _breath):
        found = Breaths(
            as_needed=found.as_needed or one.as_needed,
            at_top=found.at_top or one.at_top,
            at_bottom=found.at_bottom or one.at_bottom,
            every_beats=one.every_beats or found.every_beats,
            after_beats=(*found.after_beats, *one.after_beats),
        )
    return replace(found, after_beats=tuple(sorted(set(found.after_beats))))


def _breath(node: yaml.Node) -> Breaths:
    typed = scalar(node)
    words = folded(typed)
    if words in _BREATH_WORDS:
        return _BREATH_WORDS[words]
    every, after = _EVERY.fullmatch(words), _AFTER.fullmatch(words)
    if every is not None:
        return Breaths(every_beats=_beat_count(node, every[1]))
    if after is not None:
        beats = re.findall(r"\d+", after[1])
        return Breaths(after_beats=tuple(_beat_count(node, beat) for beat in beats))
    if words.isdecimal() and len(words) <= 6:
        return Breaths(after_beats=(_beat_count(node, words),))
    raise misread(
        node, f"'{typed}' is no place to breathe.", meant(typed, _BREATH_WORDS, BREATHS.says)
    )


def _beat_count(node: yaml.Node, digits: str) -> int:
    if not 1 <= int(digits) <= MOST_BEATS:
        raise misread(node, f"{digits} is no beat to breathe at.", f"Write 1 to {MOST_BEATS}.")
    return int(digits)


_BREATH_PATTERN = r"[Ee]very \d{1,4} beats?|([Aa]fter beats? )?\d{1,4}((, | and |, and )\d{1,4})*"
_BREATH_SCHEMA: dict[str, Any] = {
    "anyOf": [
        {"enum": list(_BREATH_WORDS)},
        {"type": "integer", "minimum": 1, "maximum": MOST_BEATS},
        {"type": "string", "pattern": patterns.whole(_BREATH_PATTERN)},
    ]
}
BREATHS: Reader[Breaths] = Reader(
    "places to breathe: 'as needed', 'at the top', 'at the turns', 'every 8 beats', "
    "'after beats 8, 16' or 'none'",
    _breaths,
    {"anyOf": [_BREATH_SCHEMA, {"type": "array", "minItems": 1, "items": _BREATH_SCHEMA}]},
)

# Aims

CENTS = number("an aim in cents", 1, 50, ("cents", "cent"))
EVENNESS = number("an aim for evenness", 1, 200, ("ms", "milliseconds"))
CLEAN = number("an aim for clean notes", 50, 100, ("%", "percent", "per cent"))


@dataclass(frozen=True)
class Aim:
    """One of the things a teacher may ask for."""

    reader: Reader[float]
    set_in: Callable[[Aims, float], Aims]
    explanation: str


AIMS_FIELDS: Mapping[str, Aim] = {
    "cents": Aim(
        CENTS,
        lambda aims, value: replace(aims, cents=value),
        "Every note within this many cents of its place.",
    ),
    "evenness": Aim(
        EVENNESS,
        lambda aims, value: replace(aims, evenness_ms=value),
        "Notes about an even line by no more than so many milliseconds.",
    ),
    "clean": Aim(
        CLEAN,
        lambda aims, value: replace(aims, clean=value / 100),
        "Share of the notes that are right and without a false note between.",
    ),
}
_AIMS_SAYS = "aims: {cents: 15, evenness: 25 ms, clean: 95 %}, each of them if you want it"


_WITHIN = re.compile(r"(?:within\s+)?(\d.*?\s*cents?)")
"""One aim alone, in its unit."""


def _aims(node: yaml.Node) -> Aims:
    if isinstance(node, yaml.ScalarNode) and folded(scalar(node)) == "none":
        return Aims()
    if isinstance(node, yaml.ScalarNode) and (within := _WITHIN.fullmatch(scalar(node))):
        return Aims(cents=CENTS.read(part(node, within[1])))
    if not isinstance(node, yaml.MappingNode):
        raise misread(node, "Aims need their names.")
    aims = Aims()
    pairs = yaml.SequenceNode("", node.value, node.start_mark, node.end_mark)
    for set_one in items(pairs, _aim):
        aims = set_one(aims)
    return aims


def _aim(pair: Any) -> Callable[[Aims], Aims]:
    name, value = pair
    typed = scalar(name)
    if folded(typed) not in AIMS_FIELDS:
        raise misread(name, f"'{typed}' is not an aim.", meant(typed, AIMS_FIELDS, _AIMS_SAYS))
    aim = AIMS_FIELDS[folded(typed)]
    found = read_or_say(aim.reader, value)
    return lambda aims: aim.set_in(aims, found)


AIMS: Reader[Aims] = Reader(
    _AIMS_SAYS,
    _aims,
    {
        "anyOf": [
            {"const": "none"},
            {
                "type": "object",
                "minProperties": 1,
                "properties": {name: dict(aim.reader.schema) for name, aim in AIMS_FIELDS.items()},
                "additionalProperties": False,
            },
        ]
    },
)
