"""Reading the list of exercises: defaults, levels and the entries of included files."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import yaml

from trainer.routine.document import LARGEST_FILE_BYTES, UnreadableError, compose, read_text
from trainer.routine.entries import WrittenEntry, build_entry
from trainer.routine.fields import (
    DEFAULTS_FIELDS,
    KINDS,
    ROUTINE_FIELDS,
    WEEK_FIELDS,
    Kind,
)
from trainer.routine.included import ReadingPlace, fault_of, path_of
from trainer.routine.level_words import LEVELS
from trainer.routine.model import Entry, Exercise, InOrder
from trainer.routine.one_entry import Defaults, begun_in_our_words, kind_of, missing, read_written
from trainer.routine.problem import listed, nearest
from trainer.routine.reader import Fault, MisreadError, folded, misread, read_or_say
from trainer.routine.table import (
    Pairs,
    faults_of_file,
    in_our_words,
    pairs_of,
    read_fields,
    unknown_fields,
)

MOST_ENTRIES = 60
MOST_ROUNDS_IN_ALL = 300
"""A whole day's playing, and more."""
MOST_FILES = 10
HOLDERS = ("defaults", "week", "exercises")
"""At the top of a routine, beside its plain fields."""


@dataclass
class Found:
    """All that was read so far."""

    written: dict[str, WrittenEntry] = field(default_factory=dict)
    entries: list[Entry] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    """Of all exercises, those left out at this level too."""
    levels: dict[str, yaml.Node] = field(default_factory=dict)
    """Every level named by an exercise, and where."""
    files: int = 0
    """How many were included."""
    letters: int = 0
    """In all of them together."""
    faults: list[Fault] = field(default_factory=list)


def read_entries(pairs: Pairs, place: ReadingPlace, found: Found) -> None:
    """The entries of one file, those it includes among them, and every mistake, into `found`."""
    defaults = _defaults(pairs, found)
    if "exercises" not in pairs:
        return
    node = pairs["exercises"][1]
    if not isinstance(node, yaml.SequenceNode) or not node.value:
        mend = "Begin each with a '-', as in '- scale: scale of the day'."
        found.faults.append(Fault(node, "The exercises are not a list.", mend))
        return
    if len(node.value) + len(found.entries) > MOST_ENTRIES:
        what = f"There are {len(node.value) + len(found.entries)} exercises; no day has so many."
        mend = f"Divide it into several routines of {MOST_ENTRIES} at most."
        found.faults.append(Fault(node, what, mend))
        return
    for item in node.value:
        try:
            _read_entry(item, defaults, place, found)
        except MisreadError as mistake:
            found.faults.extend(mistake.faults)


def _defaults(pairs: Pairs, found: Found) -> Defaults:
    if "defaults" not in pairs:
        return Defaults()
    try:
        written = in_our_words(pairs_of(pairs["defaults"][1], "under 'defaults'"), DEFAULTS_FIELDS)
    except MisreadError as mistake:
        found.faults.extend(mistake.faults)
        return Defaults()
    elsewhere = {
        one.name: "Write it in each exercise that needs it."
        for kind in KINDS.values()
        for one in kind.fields
        if one.name not in DEFAULTS_FIELDS
    }
    values, nodes, faults = read_fields(written, DEFAULTS_FIELDS.values())
    found.faults += faults
    found.faults += unknown_fields(written, DEFAULTS_FIELDS, elsewhere, "under 'defaults'")
    return Defaults(values, nodes)


def _read_entry(node: yaml.Node, defaults: Defaults, place: ReadingPlace, found: Found) -> None:
    if isinstance(node, yaml.ScalarNode):
        typed = str(node.value)
        named = next((word for word in KINDS if re.match(rf"{word}[ :]", folded(typed))), None)
        mend = "- rest: 1 minute"
        if named is not None:
            mend = f"- {named}: {typed[len(named) :].strip(' :')}"
        raise misread(node, f"'{typed}' lacks its colon and name.", f"Write '{mend}'.")
    pairs = begun_in_our_words(pairs_of(node, "in an exercise"))
    kind = kind_of(node, pairs)
    varied = _at_level(pairs, place.level, found)
    if varied is None:
        found.names.add(_name(kind, pairs))
        return
    one = read_written(node, kind, varied, defaults, found.written)
    if kind.word == "include":
        _include(one, pairs[kind.word][1], place, found)
        return
    found.written[one.id] = one
    found.names.add(one.id)
    found.entries.append(build_entry(one))
    rounds = sum(_rounds(entry) for entry in found.entries)
    if rounds > MOST_ROUNDS_IN_ALL:
        what = f"By the end of this there are {rounds} rounds; no day has so many."
        raise misread(one.place("rounds"), what, "Ask for fewer rounds.")


def _rounds(entry: Entry) -> int:
    """How many rounds an entry asks for, or a few more."""
    match entry:
        case Exercise(rounds=int(rounds)):
            return rounds
        case Exercise(articulations=InOrder(several)) if len(several) > 1:
            return len(several)
        case Exercise():
            return max(1, len(entry.vibrato), len(entry.colours), len(entry.figures))
    return 0


def _name(kind: Kind, pairs: Pairs) -> str:
    opening = pairs[kind.word][1]
    return " ".join(str(opening.value).split())


def _at_level(pairs: Pairs, level: str, found: Found) -> Pairs | None:
    """The fields as the level has them; None where it leaves the entry out."""
    if "levels" not in pairs:
        return pairs
    levels = read_or_say(LEVELS, pairs["levels"][1])
    for name in levels:
        found.levels.setdefault(name, pairs["levels"][1])
    if level not in levels:
        return pairs
    changed = levels[level]
    if changed is None:
        return None
    own = pairs_of(changed, "at a level")
    for word in own:
        if word in KINDS or word == "levels":
            raise misread(own[word][0], f"'{word}' can't change with the level.", "Leave it out.")
    return {**pairs, **own}


def _include(one: WrittenEntry, node: yaml.Node, place: ReadingPlace, found: Found) -> None:
    """The entries of another file of the folder, as if they were written here."""
    path = path_of(str(one.opening), node, place)
    found.files += 1
    if found.files > MOST_FILES:
        what = f"More than {MOST_FILES} files are included."
        raise misread(node, what, "Write some of them in one file.")
    try:
        text = read_text(path)
        found.letters += len(text)
        if found.letters > LARGEST_FILE_BYTES:
            what = f"The included files are larger than {LARGEST_FILE_BYTES // 1000} kB together."
            raise misread(node, what, "Include fewer or shorter ones.")
        root = compose(text, path.name)
    except UnreadableError as stop:
        raise MisreadError(fault_of(stop.problem, node)) from None
    before, names = len(found.entries), set(found.names)
    _read_included(root, replace(place, files=(*place.files, path)), found)
    if one.values["only"] is not None:
        _keep_only(one, before, found, found.names - names)


def _read_included(root: yaml.Node, place: ReadingPlace, found: Found) -> None:
    """Its exercises and defaults; instrument, limits and week are those of the first file."""
    pairs = pairs_of(root, "at the top")
    found.faults += read_fields(pairs, ROUTINE_FIELDS)[2]
    found.faults += faults_of_file(root)
    found.faults += faults_at_the_top(pairs)
    found.faults += missing(pairs, ("exercises",), root, "The included file has")
    read_entries(pairs, place, found)


def faults_at_the_top(pairs: Pairs) -> Iterable[Fault]:
    """Names that mean nothing at the top of a routine."""
    names = [one.name for one in ROUTINE_FIELDS]
    mend = "Put it under 'defaults' for all exercises, or into one of them."
    elsewhere = dict.fromkeys(DEFAULTS_FIELDS, mend)
    elsewhere |= dict.fromkeys(WEEK_FIELDS, "Put it under 'week:'.")
    elsewhere |= dict.fromkeys(KINDS, "Put it under 'exercises:', with a '-' before it.")
    return unknown_fields(pairs, (*names, *HOLDERS), elsewhere, "at the top")


def _keep_only(one: WrittenEntry, before: int, found: Found, known: set[str]) -> None:
    """Of the entries just included, those that are named."""
    names, new = one.values["only"], found.entries[before:]
    for name in names:
        if name not in known:
            near = nearest(name, known)
            raise misread(
                one.nodes["only"],
                f"{one.opening} has no exercise called '{name}'.",
                f"Did you mean '{near}'?" if near else "Write names that stand in that file.",
            )
    del found.entries[before:]
    for entry in new:
        if entry.id in names:
            found.entries.append(entry)
        else:
            del found.written[entry.id]


def level_named(level: str, node: yaml.Node, found: Found) -> Iterable[Fault]:
    """Whether any exercise knows the level that was chosen."""
    if folded(level) in found.levels:
        return
    near = nearest(folded(level), found.levels)
    known = "Leave it out."
    if found.levels:
        one_has = f"the exercises know {listed(sorted(found.levels), 'and')}"
        known = f"Leave it out, or say in an exercise what '{level}' changes: {one_has}."
    question = f"Did you mean '{near}'? " if near is not None else ""
    yield Fault(node, f"No exercise has a level '{level}'.", f"{question}{known}")
