"""Reading what changes with the level, and the names of files to include."""

from __future__ import annotations

import re

import yaml

from trainer.routine.reader import Reader, folded, is_word, misread, read_or_say, scalar, text

LEAVE_OUT = "leave out"
MOST_LEVELS = 6
"""More are better written as exercises of their own."""
LEVEL: Reader[str] = text("the name of a level, such as 'beginner', or of a student", 30)
FILE_NAME = r"[^/\\:\s.~][^/\\:]*\.ya?ml"
SUBFOLDERS = rf"(?:[^/\\:\s.~][^/\\:]*/)*{FILE_NAME}"


def _file(node: yaml.Node) -> str:
    typed = scalar(node)
    if re.fullmatch(SUBFOLDERS, typed):
        return typed
    if "://" in typed:
        raise misread(node, f"'{typed}' is an address, not a file.", _FILE_MEND)
    if typed.startswith(("/", "~", "\\")) or ".." in typed or ":" in typed or "\\" in typed:
        raise misread(node, f"'{typed}' leads out of this routine's folder.", _FILE_MEND)
    raise misread(node, f"'{typed}' is no routine file.", f"Did you mean '{typed}.yaml'?")


_FILE_MEND = "Put the file beside this one and write its name alone: 'warm_up.yaml'."
FILE: Reader[str] = Reader(
    "the name of a routine file in the same folder: 'warm_up.yaml'",
    _file,
    {"type": "string", "pattern": rf"^\s*{SUBFOLDERS}\s*$"},
)


def _levels(node: yaml.Node) -> dict[str, yaml.Node | None]:
    """Level → the node of its fields; None where the exercise is left out."""
    if not isinstance(node, yaml.MappingNode):
        raise misread(node, "Levels need their names.")
    if len(node.value) > MOST_LEVELS:
        mend = f"Keep {MOST_LEVELS} at most, or write two exercises."
        raise misread(node, f"There are {len(node.value)} levels.", mend)
    found: dict[str, yaml.Node | None] = {}
    for name, value in node.value:
        if not (isinstance(value, yaml.MappingNode) or is_word(value, LEAVE_OUT)):
            raise misread(
                value,
                f"It is not said what changes at the level '{scalar(name)}'.",
                f"Write fields in braces, as in {{tempo: 50}}, or '{LEAVE_OUT}'.",
            )
        level = folded(read_or_say(LEVEL, name))
        found[level] = value if isinstance(value, yaml.MappingNode) else None
    return found


LEVELS: Reader[dict[str, yaml.Node | None]] = Reader(
    "levels and what changes there: {beginner: {tempo: 50}, advanced: {range: full}}, "
    f"or '{LEAVE_OUT}' for a level that doesn't play it",
    _levels,
    {"type": "object", "minProperties": 1, "maxProperties": MOST_LEVELS},
)
