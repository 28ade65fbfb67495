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
from trainer.routine.entry_list import (
    Found,
    faults_at_the_top,
    level_named,
    read_entries,
)
from trainer.routine.fields import ROUTINE_FIELDS
from trainer.routine.fit import faults_of_fit
from trainer.routine.included import ReadingPlace
from trainer.routine.model import Routine
from trainer.routine.one_entry import missing
from trainer.routine.problem import Problem
from trainer.routine.reader import Fault, MisreadError, folded, misread
from trainer.routine.table import faults_of_file, pairs_of, read_fields
from trainer.routine.week_list import faults_of_week, read_week


def load_routine(
    path: Path, level: str | None = None
) -> tuple[Routine | None, tuple[Problem, ...]]:
    """The routine (None while anything serious is wrong) and the problems, in file order.

    `level`: the level whose variations hold; None: the one the file names, or none.
    Problems that are not `serious` are doubts: the routine loads all the same. Never raises for
    anything a file, or its absence, can do.
    """
    try:
        text = read_text(path)
    except UnreadableError as stop:
        return None, (stop.problem,)
    return read_routine(text, path.name, path.parent, level)


def read_routine(
    text: str, file: str, folder: Path | None = None, level: str | None = None
) -> tuple[Routine | None, tuple[Problem, ...]]:
    """The same for a text; `file` is its name in messages.

    `folder`: where files are looked for that it includes; None: it can include none.
    """
    try:
        root = compose(text, file)
    except UnreadableError as stop:
        return None, (stop.problem,)
    place = ReadingPlace(folder, "", () if folder is None else (folder.resolve() / file,))
    routine, found = _routine(root, file, place, level)
    faults = found.faults or _faults_at_other_levels(root, file, place, found)
    if routine is None or faults:
        return None, _problems(faults, file, serious=True)
    return routine, _problems(doubts(routine, found.written), file, serious=False)


def _problems(faults: Iterable[Fault], file: str, *, serious: bool) -> tuple[Problem, ...]:
    """In the order of the file, those of included files after it."""
    problems = {
        Problem(
            fault.node.start_mark.name,
            fault.node.start_mark.line + 1,
            fault.node.start_mark.column + 1,
            fault.what,
            fault.mend,
            serious,
        )
        for fault in faults
    }
    return tuple(
        sorted(
            problems,
            key=lambda one: (one.file != file, one.file, one.line, one.column, one.what),
        )
    )


def _faults_at_other_levels(
    root: yaml.Node, file: str, place: ReadingPlace, found: Found
) -> list[Fault]:
    """A teacher hears of a mistake at every level, not only at the one that holds."""
    return [
        fault for level in found.levels for fault in _routine(root, file, place, level)[1].faults
    ]


def _routine(
    root: yaml.Node, file: str, place: ReadingPlace, level: str | None
) -> tuple[Routine | None, Found]:
    """The routine at a level, and all that was found on the way."""
    found = Found()
    try:
        pairs = pairs_of(root, "at the top")
    except MisreadError as mistake:
        found.faults.extend(mistake.faults)
        return None, found
    values, nodes, faults = read_fields(pairs, ROUTINE_FIELDS)
    values = {field.name: field.default for field in ROUTINE_FIELDS} | values
    found.faults += [*faults, *faults_of_file(root), *faults_at_the_top(pairs)]
    found.faults += missing(pairs, (*ROUTINE_FIELDS, "exercises"), root, "The routine has")
    level = values["level"] if level is None else level
    read_entries(pairs, ReadingPlace(place.folder, folded(level), place.files), found)
    week, week_node = read_week(pairs, found)
    if level:
        found.faults += level_named(level, nodes.get("level", root), found)
    try:
        lowest, highest = _limits(values, nodes)
    except MisreadError as mistake:
        found.faults.extend(mistake.faults)
    if not found.entries and not found.faults:
        what = "Nothing is left to play" + (f" at the level '{level}'." if level else ".")
        found.faults.append(Fault(pairs["exercises"][1], what, "Leave one exercise in."))
    if found.faults:
        return None, found
    routine = Routine(
        file=file,
        title=values["title"],
        words=values["words"],
        instrument=values["instrument"],
        lowest=lowest,
        highest=highest,
        a4_hz=values["tuning"],
        entries=tuple(found.entries),
        week=week,
        level=level,
        lesson=values["lesson"],
        for_the_lesson=values["for the lesson"],
    )
    found.faults += faults_of_week(routine, week_node, found)
    found.faults += faults_of_fit(routine, found.written)
    return routine, found


LEAST_SEMITONES = 4
"""Between the lowest and the highest note: a beginner's first three notes, such as B A G."""


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
    if highest.midi < lowest.midi and {"lowest note", "highest note"} <= nodes.keys():
        raise misread(
            nodes["lowest note"],
            f"The lowest note, {lowest}, is not below the highest, {highest}.",
            f"Exchange them: 'lowest note: {highest}' and 'highest note: {lowest}'.",
        )
    if highest.midi - lowest.midi < LEAST_SEMITONES:
        raise misread(
            nodes.get("highest note") or nodes["lowest note"],
            f"From {lowest} to {highest} there are not even three notes of a scale.",
            "Set the limits further apart.",
        )
    return lowest, highest
