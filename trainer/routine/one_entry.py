"""Reading one entry of the list: its kind, its fields, and the defaults filled in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import yaml

from trainer.routine.entries import WrittenEntry
from trainer.routine.fields import DEFAULTS_FIELDS, KINDS, OF, Field, Kind, climb_fields
from trainer.routine.problem import listed, nearest
from trainer.routine.reader import Fault, MisreadError, misread, read_or_say
from trainer.routine.table import Pairs, read_fields, unknown_fields


@dataclass(frozen=True)
class Defaults:
    """What stands under 'defaults' of one file."""

    values: Mapping[str, Any] = field(default_factory=dict)
    nodes: Mapping[str, yaml.Node] = field(default_factory=dict)


def read_written(
    node: yaml.Node,
    kind: Kind,
    pairs: Pairs,
    defaults: Defaults,
    earlier: Mapping[str, WrittenEntry],
) -> WrittenEntry:
    """One entry with its fields read and the defaults filled in.

    Raises MisreadError for anything else.
    """
    faults: list[Fault] = []
    opening = _opening(pairs[kind.word][1], kind, faults)
    fields = _fields_of(kind, pairs)
    values, nodes, wrong = read_fields(pairs, fields)
    faults += wrong
    names = [one.name for one in fields]
    faults += unknown_fields(pairs, (kind.word, *names), _of_other_kinds(kind), _within(kind))
    inherited = [one.name for one in fields if one.inherits and one.name in defaults.nodes]
    reached = pairs.keys() | set(inherited)
    faults += missing(dict.fromkeys(reached, (node, node)), fields, node, f"This {kind.word}")
    entry_id = _id(kind, opening, earlier)
    if entry_id in earlier:
        mark = earlier[entry_id].node.start_mark
        where = f"after line {mark.line + 1}"
        if mark.name != node.start_mark.name:
            where += f" of {mark.name}"
        what = f"The name '{entry_id}' stands here for the second time, {where}."
        faults.append(Fault(pairs[kind.word][1], what, "Give each exercise a name of its own."))
    if faults or any(name not in defaults.values for name in inherited if name not in pairs):
        raise MisreadError(*faults)
    return WrittenEntry(
        kind=kind.word,
        opening=opening,
        id=entry_id,
        node=node,
        values={one.name: one.default for one in fields}
        | {name: defaults.values[name] for name in inherited if name in defaults.values}
        | values,
        nodes={name: defaults.nodes[name] for name in inherited} | nodes,
        own=frozenset(nodes),
    )


def _within(kind: Kind) -> str:
    return f"in {'an' if kind.word[0] in 'aeiou' else 'a'} '{kind.word}'"


def kind_of(node: yaml.Node, pairs: Pairs) -> Kind:
    """The kind whose word stands among the fields. Raises MisreadError where none or two do."""
    found = [word for word in pairs if word in KINDS]
    if len(found) == 1:
        return KINDS[found[0]]
    if found:
        name = pairs[found[1]][0]
        mend = f"Begin a line of its own with '- {found[1]}:'."
        if found[1] == "rest":
            mend += " For a rest when this exercise is done, write 'rest after:'."
        raise misread(name, f"'{found[1]}' can't stand in the same exercise as '{found[0]}'.", mend)
    for word, (name, _) in pairs.items():
        near = nearest(word, KINDS)
        if near is not None and word not in DEFAULTS_FIELDS:
            raise misread(name, f"'{word}' is not known here.", f"Did you mean '{near}'?")
    raise misread(node, "It is not said what this exercise is.", f"Begin it with {listed(KINDS)}.")


def _opening(node: yaml.Node, kind: Kind, faults: list[Fault]) -> Any:
    try:
        return read_or_say(kind.opening, node)
    except MisreadError as mistake:
        faults.extend(mistake.faults)
        return None


def _fields_of(kind: Kind, pairs: Pairs) -> tuple[Field, ...]:
    """The fields of the kind; a speed climb has those of what it climbs on."""
    if kind.word != "speed climb" or OF.name not in pairs:
        return kind.fields
    try:
        return climb_fields(OF.reader.read(pairs[OF.name][1]))
    except MisreadError:
        return kind.fields


def _of_other_kinds(kind: Kind) -> dict[str, str]:
    """Fields that other kinds know → what to do with them here."""
    own = {one.name for one in kind.fields}
    homes: dict[str, list[str]] = {}
    for other in KINDS.values():
        for one in other.fields:
            homes.setdefault(one.name, []).append(other.word)
    if kind.word == "speed climb":
        homes |= {"tempo": ["speed climb' as 'from' and 'to"]}
    return {
        name: f"Leave it out; it is for '{listed(words)}'."
        for name, words in homes.items()
        if name not in own
    }


def _id(kind: Kind, opening: Any, earlier: Mapping[str, WrittenEntry]) -> str:
    """The teacher's name for it; rests and readings are numbered."""
    if kind.word not in ("rest", "read"):
        return " ".join(str(opening).split())
    number = 1 + sum(one.kind == kind.word for one in earlier.values())
    return f"{kind.word} {number}"


def missing(
    pairs: Pairs, fields: Iterable[Field | str], node: yaml.Node, subject: str
) -> Iterable[Fault]:
    """What must be written and is not."""
    for one in fields:
        name = one if isinstance(one, str) else one.name
        if (isinstance(one, str) or one.required) and name not in pairs:
            says = "the exercises below it" if isinstance(one, str) else one.reader.says
            yield Fault(node, f"{subject} has no '{name}'.", f"Add '{name}:' and {says}.")
