"""Reading the routine's week, and whether it goes with the exercises."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import yaml

from trainer.routine.entry_list import Found
from trainer.routine.fields import OTHER_DAYS, WEEK_FIELDS
from trainer.routine.model import WHOLE_WEEK, DayAsked, KeyedExercise, KeyLike, KeyOfWeek, Routine
from trainer.routine.problem import nearest
from trainer.routine.reader import Fault, MisreadError
from trainer.routine.table import Pairs, pairs_of, read_fields, unknown_fields
from trainer.routine.week_words import DAYS

Week = tuple[DayAsked, ...]


def read_week(pairs: Pairs, found: Found) -> tuple[Week, dict[str, yaml.Node]]:
    """Seven days, Monday first, and where each stands; mistakes go into `found`.

    A day that names no key has the key of the 'other days'.
    """
    if "week" not in pairs:
        return WHOLE_WEEK, {}
    node = pairs["week"][1]
    try:
        written = pairs_of(node, "under 'week'")
    except MisreadError as mistake:
        found.faults.extend(mistake.faults)
        return WHOLE_WEEK, {}
    values, nodes, faults = read_fields(written, WEEK_FIELDS.values())
    found.faults += faults
    found.faults += unknown_fields(written, WEEK_FIELDS, {}, "under 'week'")
    others = values.get(OTHER_DAYS, DayAsked())
    places = {day: nodes.get(day, nodes.get(OTHER_DAYS, node)) for day in DAYS}
    days = (values.get(day, others) for day in DAYS)
    return tuple(replace(day, key=day.key or others.key) for day in days), places


def faults_of_week(routine: Routine, places: dict[str, yaml.Node], found: Found) -> Iterator[Fault]:
    """Names that no exercise has; keys that nobody takes, or that are missing."""
    takers = _takers(routine)
    for name, day in zip(DAYS, routine.week, strict=True):
        yield from _unknown_names(day, places.get(name), found)
    if takers and not any(day.key for day in routine.week):
        yield Fault(
            found.written[takers[0]].place("key"),
            "The key is to come from the week, but no day names one.",
            "Add 'week:' at the top with a line for each day: 'monday: C'.",
        )
        return
    for name, day in zip(DAYS, routine.week, strict=True):
        if name not in places:
            continue
        played = [one for one in takers if day.exercises is None or one in day.exercises]
        if played and day.key is None and not day.free:
            what = f"{name.capitalize()} has no key, but '{played[0]}' takes it from the week."
            yield Fault(places[name], what, f"Write '{name}: C', or '{name}: free'.")
        if day.key is not None and not takers:
            mend = "Write 'key: of the week' under 'defaults' or in an exercise."
            yield Fault(places[name], "No exercise takes its key from the week.", mend)


def _takers(routine: Routine) -> list[str]:
    """The exercises whose key comes from the week, straight or by way of another exercise."""
    found: list[str] = []
    for entry in routine.entries:
        if isinstance(entry, KeyedExercise):
            follows = isinstance(entry.key, KeyLike) and entry.key.exercise_id in found
            if follows or isinstance(entry.key, KeyOfWeek):
                found.append(entry.id)
    return found


def _where(name: str, node: yaml.Node) -> yaml.Node:
    """The name itself within a day's line."""
    if isinstance(node, yaml.ScalarNode):
        return node
    inner = [part for one in node.value for part in (one if isinstance(one, tuple) else (one,))]
    places = [_where(name, part) for part in inner]
    return next((one for one in places if " ".join(str(one.value).split()) == name), node)


def _unknown_names(day: DayAsked, node: yaml.Node | None, found: Found) -> Iterator[Fault]:
    for name in day.exercises or ():
        if name not in found.names and node is not None:
            near = nearest(name, found.names)
            mend = (
                f"Did you mean '{near}'?" if near else "Write names that stand under 'exercises'."
            )
            yield Fault(_where(name, node), f"No exercise is called '{name}'.", mend)
