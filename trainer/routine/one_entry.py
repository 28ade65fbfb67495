"""Reading one entry of the list: its kind, its fields, and the defaults filled in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import yaml

from trainer.routine.entries import WrittenEntry
from trainer.routine.fields import CLIMBED, DEFAULTS_FIELDS, KINDS, OF, Field, Kind, climb_fields
from trainer.routine.key_words import fixed_key
from trainer.routine.other_words import FORM_OF_KIND, NO_KIND, SAME_KIND
from trainer.routine.problem import listed, nearest
from trainer.routine.reader import Fault, MisreadError, misread, read_or_say
from trainer.routine.table import Pairs, in_our_words, read_fields, unknown_fields


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
    pairs = in_our_words(pairs, (kind.word, *(one.name for one in fields)))
    values, nodes, wrong = read_fields(pairs, fields)
    faults += wrong
    names = [one.name for one in fields]
    faults += unknown_fields(pairs, (kind.word, *names), _of_other_kinds(kind), _within(kind))
    inherited = [one.name for one in fields if one.inherits and one.name in defaults.nodes]
    reached = pairs.keys() | set(inherited)
    subject = f"These {kind.word} have" if _is_several(kind) else f"This {kind.word} has"
    lacking = missing(dict.fromkeys(reached, (node, node)), fields, node, subject)
    faults += [_named_in_title(fault, opening) for fault in lacking]
    entry_id = _id(kind, opening, earlier)
    if entry_id in earlier:
        mark = earlier[entry_id].node.start_mark
        where = f"after line {mark.line + 1}"
        if mark.name != node.start_mark.name:
            where += f" of {mark.name}"
        what = f"The name '{entry_id}' is here for the second time, {where}."
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


def _named_in_title(fault: Fault, opening: Any) -> Fault:
    """Where the key that is missing stands in the title, how it is written."""
    if "'key'" in fault.what and isinstance(opening, str):
        try:
            key = fixed_key(yaml.ScalarNode("", opening, style="'"))
        except MisreadError:
            return fault
        return Fault(fault.node, fault.what, f"Add 'key: {key.name}'.")
    return fault


def begun_in_our_words(pairs: Pairs) -> Pairs:
    """The fields of an entry, where it begins with another word for its kind with the word itself.

    What such a word says of the form, it says as a field.
    """
    if any(word in KINDS for word in pairs):
        return pairs
    other = next((word for word in pairs if word in SAME_KIND), None)
    if other is None:
        return pairs
    name, value = pairs[other]
    begun = {SAME_KIND[other]: (name, value)}
    if other in FORM_OF_KIND and "form" not in pairs:
        said = yaml.ScalarNode("", FORM_OF_KIND[other], name.start_mark, name.end_mark)
        begun["form"] = (name, said)
    return {**begun, **{word: nodes for word, nodes in pairs.items() if word != other}}


def _within(kind: Kind) -> str:
    article = "" if _is_several(kind) else "an " if kind.word[0] in "aeiou" else "a "
    return f"in {article}'{kind.word}'"


def _is_several(kind: Kind) -> bool:
    """Whether its word is a plural: 'trills', 'long tones'."""
    return kind.word.endswith("s")


def kind_of(node: yaml.Node, pairs: Pairs) -> Kind:
    """The kind whose word stands among the fields. Raises MisreadError where none or two do."""
    found = [word for word in pairs if word in KINDS]
    if len(found) == 1:
        return KINDS[found[0]]
    if found:
        name = pairs[found[1]][0]
        mend = f"Begin a line of its own with '- {found[1]}:'."
        if "speed climb" in found:
            mend = _climbed(pairs, next(word for word in found if word != "speed climb"))
        elif found[1] == "rest":
            mend += " For a rest when this exercise is done, write 'rest after:'."
        raise misread(name, f"'{found[1]}' can't stand in the same exercise as '{found[0]}'.", mend)
    for word, (name, _) in pairs.items():
        near = nearest(word, KINDS)
        if near is not None and word not in DEFAULTS_FIELDS:
            raise misread(name, f"'{word}' is not known here.", f"Did you mean '{near}'?")
    without = next((word for word in pairs if word in NO_KIND), None)
    if without is not None:
        raise misread(pairs[without][0], f"'{without}' is no exercise here.", NO_KIND[without])
    raise misread(node, "It is not said what this exercise is.", f"Begin it with {listed(KINDS)}.")


def _climbed(pairs: Pairs, word: str) -> str:
    """What to write where a climb names what it climbs on as an exercise of that kind."""
    value = pairs[word][1]
    if word not in CLIMBED or not isinstance(value, yaml.ScalarNode):
        return f"Begin a line of its own with '- {word}:'."
    name = {"scale": "form", "arpeggio": "chord"}.get(word)
    which = f", and '{name}: {value.value}'" if name is not None else ""
    return f"Write 'of: {word}' in its place{which}."


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
    mends = {
        name: "Leave it out; it is for " + listed(f"'{word}'" for word in words) + "."
        for name, words in homes.items()
        if name not in own
    }
    if kind.word != "speed climb" and "range" in own:
        mends |= dict.fromkeys(("from", "to"), "Write how far it goes as 'range: B4 to B5'.")
    return mends


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
            yield Fault(node, f"{subject} no '{name}'.", f"Add '{name}:' and {says}.")
