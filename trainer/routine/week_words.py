"""Reading the week: which key and which exercises on which day."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import yaml

from trainer.music.key import Key
from trainer.routine.key_words import ONE_KEY, read_key
from trainer.routine.model import DayAsked, FixedKey
from trainer.routine.problem import nearest
from trainer.routine.reader import (
    Reader,
    folded,
    is_word,
    items,
    misread,
    read_mapping,
    scalar,
    text,
)

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
FREE, ALL = "free", "all"
LONGEST_WORDS = 400
"""Characters said of one day."""
NAMES_SAYS = "the names of exercises, in brackets: [scale of the day, thirds]"
_NAME = text("the name of an exercise", 60)


def _names(node: yaml.Node) -> tuple[str, ...]:
    return items(node, lambda item: " ".join(_NAME.read(item).split()))


_NAMES_SCHEMA: dict[str, Any] = {
    "anyOf": [
        {"type": "string"},
        {"type": "array", "minItems": 1, "items": _NAME.schema},
    ]
}
NAMES: Reader[tuple[str, ...]] = Reader(NAMES_SAYS, _names, _NAMES_SCHEMA)


def _one_key(node: yaml.Node) -> Key:
    choice = read_key(node)(None)
    if not isinstance(choice, FixedKey):
        raise misread(node, "One day has one key.", "Write a key such as 'E flat'.")
    return choice.key


def _key_of_day(node: yaml.ScalarNode) -> Key:
    """What stands alone on a day's line, if it is neither 'free' nor 'all'."""
    typed = scalar(node)
    near = nearest(folded(typed), [FREE, ALL])
    if near is not None:
        raise misread(node, f"'{typed}' is not known here.", f"Did you mean '{near}'?")
    if re.search(r",|\b(and|or|und|et)\b", typed):
        mend = f"Write one key, or exercises in brackets: {_DAY_SAYS}."
        raise misread(node, f"'{typed}' is more than one.", mend)
    return _one_key(node)


_DAY_SAYS = (
    "a key such as 'E flat', a list of exercises, 'all', 'free', or "
    "{key: E flat, exercises: [scale of the day], words: Slowly}"
)
_DAY_FIELDS: dict[str, Callable[[yaml.Node], Any]] = {
    "key": _one_key,
    "exercises": lambda node: None if is_word(node, ALL) else _names(node),
    "words": text("a text", LONGEST_WORDS).read,
}


def read_day(node: yaml.Node) -> DayAsked:
    """What one day of the week asks for."""
    if is_word(node, FREE):
        return DayAsked(free=True)
    if is_word(node, ALL):
        return DayAsked()
    if isinstance(node, yaml.ScalarNode):
        return DayAsked(key=_key_of_day(node))
    if isinstance(node, yaml.SequenceNode):
        return DayAsked(exercises=_names(node))
    found = read_mapping(node, _DAY_FIELDS, "a day")
    return DayAsked(**found)


DAY: Reader[DayAsked] = Reader(
    _DAY_SAYS,
    read_day,
    {
        "anyOf": [
            {"enum": [FREE, ALL]},
            ONE_KEY.schema,
            {"type": "array", "minItems": 1, "items": _NAME.schema},
            {
                "type": "object",
                "minProperties": 1,
                "properties": {
                    "key": ONE_KEY.schema,
                    "exercises": _NAMES_SCHEMA,
                    "words": {"type": "string"},
                },
                "additionalProperties": False,
            },
        ]
    },
)
