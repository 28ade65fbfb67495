"""Load a routine file: the routine, and everything that is wrong with it, all at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import yaml

from trainer.music.instrument import instrument_named
from trainer.music.pitch import Pitch
from trainer.routine.document import UnreadableError, compose, read_text
from trainer.routine.doubts import doubts
from trainer.routine.entries import Written, build_entry
from trainer.routine.fields import (
    DEFAULTS_FIELDS,
    KINDS,
    OF,
    ROUTINE_FIELDS,
    Field,
    Kind,
    climb_fields,
)
from trainer.routine.fit import faults_of_fit
from trainer.routine.model import Entry, Routine
from trainer.routine.problem import Problem, listed, nearest
from trainer.routine.reader import Fault, MisreadError, misread
from trainer.routine.table import Pairs, faults_of_file, pairs_of, read_fields, unknown_fields

MOST_ENTRIES = 100
_HOLDERS = ("defaults", "exercises")


def load_routine(path: Path) -> tuple[Routine | None, tuple[Problem, ...]]:
    """The routine (None while anything serious is wrong) and the problems, in file order.

    Problems that are not `serious` are doubts: the routine loads all the same. Never raises for
    anything a file, or its absence, can do.
    """
    try:
        text = read_text(path)
    except UnreadableError as stop:
        return None, (stop.problem,)
    return read_routine(text, path.name)


def read_routine(text: str, file: str) -> tuple[Routine | None, tuple[Problem, ...]]:
    """The same for a text; `file` is its name in messages."""
    try:
        root = compose(text, file)
    except UnreadableError as stop:
        return None, (stop.problem,)
    routine, written, faults = _routine(root, file)
    if routine is not None and not faults:
        faults = faults_of_fit(routine, written)
    if routine is None or faults:
        return None, _problems(faults, file, serious=True)
    return routine, _problems(doubts(routine, written), file, serious=False)


def _problems(faults: Iterable[Fault], file: str, *, serious: bool) -> tuple[Problem, ...]:
    found = {
        Problem(
            file,
            fault.node.start_mark.line + 1,
            fault.node.start_mark.column + 1,
            fault.what,
            fault.mend,
            serious,
        )
        for fault in faults
    }
    return tuple(sorted(found, key=lambda problem: (problem.line, problem.column, problem.what)))


def _routine(
    root: yaml.Node, file: str
) -> tuple[Routine | None, Mapping[str, Written], list[Fault]]:
    """The routine, the written entries by their names, and every mistake found on the way."""
    try:
        pairs = pairs_of(root, "at the top")
    except MisreadError as mistake:
        return None, {}, list(mistake.faults)
    names = [field.name for field in ROUTINE_FIELDS]
    elsewhere = dict.fromkeys(
        DEFAULTS_FIELDS, "Put it under 'defaults' for all exercises, or into one of them."
    )
    values, nodes, faults = read_fields(pairs, ROUTINE_FIELDS)
    faults += faults_of_file(root)
    faults += unknown_fields(pairs, (*names, *_HOLDERS), elsewhere, "at the top")
    faults += _missing(pairs, (*ROUTINE_FIELDS, "exercises"), root, "The routine")
    defaults, default_nodes, wrong = _defaults(pairs)
    faults += wrong
    if "exercises" not in pairs:
        return None, {}, faults
    written, entries, wrong = _entries(pairs["exercises"][1], defaults, default_nodes)
    faults += wrong
    values = {field.name: field.default for field in ROUTINE_FIELDS} | values
    try:
        lowest, highest = _limits(values, nodes)
    except MisreadError as mistake:
        return None, written, [*faults, *mistake.faults]
    if faults:
        return None, written, faults
    routine = Routine(
        file=file,
        title=values["title"],
        words=values["words"],
        instrument=values["instrument"],
        lowest=lowest,
        highest=highest,
        a4_hz=values["tuning"],
        entries=entries,
    )
    return routine, written, faults


def _limits(values: Mapping[str, Any], nodes: Mapping[str, yaml.Node]) -> tuple[Pitch, Pitch]:
    """The teacher's limits inside the instrument's."""
    instrument = instrument_named(values["instrument"])
    lowest = values["lowest note"] or instrument.lowest
    highest = values["highest note"] or instrument.highest
    for name, pitch in (("lowest note", lowest), ("highest note", highest)):
        if not instrument.lowest.midi <= pitch.midi <= instrument.furthest.midi:
            raise misread(
                nodes[name],
                f"{pitch} is not on the {instrument.name}.",
                f"Write a note from {instrument.lowest} to {instrument.furthest}, "
                "or name another instrument.",
            )
    if highest.midi - lowest.midi < 12:
        raise misread(
            nodes.get("highest note") or nodes["lowest note"],
            f"From {lowest} to {highest} there is not even an octave to play in.",
            "Set the limits further apart.",
        )
    return lowest, highest


def _missing(
    pairs: Pairs, fields: Iterable[Field | str], node: yaml.Node, subject: str
) -> Iterable[Fault]:
    for field in fields:
        name = field if isinstance(field, str) else field.name
        if (isinstance(field, str) or field.required) and name not in pairs:
            says = "the exercises below it" if isinstance(field, str) else field.reader.says
            yield Fault(node, f"{subject} has no '{name}'.", f"Add '{name}:' and {says}.")


def _defaults(pairs: Pairs) -> tuple[dict[str, Any], dict[str, yaml.Node], list[Fault]]:
    if "defaults" not in pairs:
        return {}, {}, []
    try:
        written = pairs_of(pairs["defaults"][1], "under 'defaults'")
    except MisreadError as mistake:
        return {}, {}, list(mistake.faults)
    elsewhere = {
        field.name: "Write it in each exercise that needs it."
        for kind in KINDS.values()
        for field in kind.fields
        if field.name not in DEFAULTS_FIELDS
    }
    values, nodes, faults = read_fields(written, DEFAULTS_FIELDS.values())
    faults += unknown_fields(written, DEFAULTS_FIELDS, elsewhere, "under 'defaults'")
    return values, nodes, faults


def _entries(
    node: yaml.Node, defaults: Mapping[str, Any], default_nodes: Mapping[str, yaml.Node]
) -> tuple[dict[str, Written], tuple[Entry, ...], list[Fault]]:
    if not isinstance(node, yaml.SequenceNode) or not node.value:
        mend = "Begin each with a '-', as in '- scale: scale of the day'."
        return {}, (), [Fault(node, "The exercises are not a list.", mend)]
    if len(node.value) > MOST_ENTRIES:
        mend = "Divide it into several routines."
        return {}, (), [Fault(node, f"There are {len(node.value)} exercises.", mend)]
    written: dict[str, Written] = {}
    entries: list[Entry] = []
    faults: list[Fault] = []
    for item in node.value:
        try:
            one = _written(item, defaults, default_nodes, written)
            written[one.id] = one
            entries.append(build_entry(one))
        except MisreadError as mistake:
            faults.extend(mistake.faults)
    return written, tuple(entries), faults


def _written(
    node: yaml.Node,
    defaults: Mapping[str, Any],
    default_nodes: Mapping[str, yaml.Node],
    earlier: Mapping[str, Written],
) -> Written:
    """One entry with its fields read and the defaults filled in."""
    if isinstance(node, yaml.ScalarNode):
        raise misread(
            node, f"'{node.value}' lacks its colon and name.", "Write '- rest: 1 minute'."
        )
    pairs = pairs_of(node, "in an exercise")
    kind = _kind(node, pairs)
    faults: list[Fault] = []
    opening = _opening(pairs[kind.word][1], kind, faults)
    fields = _fields_of(kind, pairs)
    values, nodes, wrong = read_fields(pairs, fields)
    faults += wrong
    names = [field.name for field in fields]
    faults += unknown_fields(pairs, (kind.word, *names), _of_other_kinds(kind), _within(kind))
    inherited = [field.name for field in fields if field.inherits and field.name in default_nodes]
    reached = pairs.keys() | set(inherited)
    faults += _missing(dict.fromkeys(reached, (node, node)), fields, node, f"This {kind.word}")
    entry_id = _id(kind, opening, earlier)
    if entry_id in earlier:
        where = earlier[entry_id].node.start_mark.line + 1
        what = f"The name '{entry_id}' stands here for the second time, after line {where}."
        faults.append(Fault(pairs[kind.word][1], what, "Give each exercise a name of its own."))
    if faults or any(name not in defaults for name in inherited if name not in pairs):
        raise MisreadError(*faults)
    return Written(
        kind=kind.word,
        opening=opening,
        id=entry_id,
        node=node,
        values={field.name: field.default for field in fields}
        | {name: defaults[name] for name in inherited if name in defaults}
        | values,
        nodes={name: default_nodes[name] for name in inherited} | nodes,
        own=frozenset(nodes),
    )


def _within(kind: Kind) -> str:
    return f"in {'an' if kind.word[0] in 'aeiou' else 'a'} '{kind.word}'"


def _kind(node: yaml.Node, pairs: Pairs) -> Kind:
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
        return kind.opening.read(node)
    except MisreadError as mistake:
        faults.extend(
            Fault(fault.node, fault.what, fault.mend or f"Write {kind.opening.says}.")
            for fault in mistake.faults
        )
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
    own = {field.name for field in kind.fields}
    homes: dict[str, list[str]] = {}
    for other in KINDS.values():
        for field in other.fields:
            homes.setdefault(field.name, []).append(other.word)
    if kind.word == "speed climb":
        homes |= {"tempo": ["speed climb' as 'from' and 'to"]}
    return {
        name: f"Leave it out; it is for '{listed(words)}'."
        for name, words in homes.items()
        if name not in own
    }


def _id(kind: Kind, opening: Any, earlier: Mapping[str, Written]) -> str:
    """The teacher's name for it; rests and readings are numbered."""
    if kind.word not in ("rest", "read"):
        return " ".join(str(opening).split())
    number = 1 + sum(one.kind == kind.word for one in earlier.values())
    return f"{kind.word} {number}"
