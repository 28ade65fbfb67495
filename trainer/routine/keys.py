"""Which key an exercise has on a day: fixed, the next of a cycle, or drawn without repeats."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from random import Random

from trainer.music.key import Key, Mode, cycle, tonic_pitch
from trainer.routine.model import (
    DayAsked,
    FixedKey,
    KeyByDay,
    KeyChoice,
    KeyLike,
    KeyOfWeek,
    RandomKey,
    Relation,
)
from trainer.routine.progress import Attempt, NextKey, Progress, key_reached


def in_mode(key: Key, mode: Mode) -> Key:
    """The key on the same tonic in this mode; on the tonic's other name where that has no key."""
    if key.mode is mode:
        return key
    return key.parallel or cycle("chromatic", mode)[tonic_pitch(key.tonic).midi % 12]


def possible_keys(
    choice: KeyChoice, earlier: Mapping[str, tuple[Key, ...]], week: Sequence[DayAsked]
) -> tuple[Key, ...]:
    """Every key the choice may give; `earlier` has those of the exercises before."""
    match choice:
        case KeyOfWeek():
            return tuple(dict.fromkeys(day.key for day in week if day.key is not None))
        case FixedKey(key):
            return (key,)
        case KeyByDay(keys) | RandomKey(keys):
            return keys
        case KeyLike(exercise_id, relation):
            return tuple(related(key, relation) for key in earlier[exercise_id])


def related(key: Key, relation: Relation) -> Key:
    """The key that stands so to another."""
    match relation:
        case Relation.SAME:
            return key
        case Relation.RELATIVE:
            return key.relative
        case Relation.PARALLEL:
            return in_mode(key, key.mode.other)


def key_on_day(
    choice: KeyChoice,
    exercise_id: str,
    day: date,
    seed: int,
    past: Sequence[str] | None,
    earlier: Mapping[str, Key],
    week: Sequence[DayAsked] = (),
) -> Key:
    """The key of an exercise on a day.

    `past` holds the names of its keys on earlier days, oldest first; None where nobody kept them.
    `earlier` has the keys of the exercises before it, today. On a free day without a key of its
    own an exercise has the week's first.
    """
    match choice:
        case KeyOfWeek():
            known = [one.key for one in week if one.key is not None]
            return week[day.weekday()].key or known[0]
        case FixedKey(key):
            return key
        case KeyByDay(cycle):
            return cycle[day.toordinal() % len(cycle)]
        case RandomKey(pool) if past is None:
            return _drawn_by_calendar(pool, exercise_id, day, seed)
        case RandomKey(pool):
            return _drawn_after(pool, past or (), exercise_id, day, seed)
        case KeyLike(other, relation):
            return related(earlier[other], relation)


def progressed_key(
    choice: KeyChoice, rule: Progress | None, attempts: Sequence[Attempt]
) -> KeyChoice:
    """The choice with its rule applied: where the aims move keys on, the calendar does not."""
    if rule is None or not isinstance(rule.step, NextKey) or not isinstance(choice, KeyByDay):
        return choice
    return FixedKey(key_reached(choice.cycle, rule, attempts))


def _drawn_by_calendar(pool: tuple[Key, ...], exercise_id: str, day: date, seed: int) -> Key:
    """Each stretch of as many days as there are keys has every key once."""
    stretch, place = divmod(day.toordinal(), len(pool))
    order = list(pool)
    Random(f"{seed} {exercise_id} {stretch}").shuffle(order)
    return order[place]


def _drawn_after(
    pool: tuple[Key, ...], past: Sequence[str], exercise_id: str, day: date, seed: int
) -> Key:
    """A key that has not come since the last time all had come, and not yesterday's."""
    come: set[str] = set()
    names = {key.name for key in pool}
    for name in past:
        come |= {name} & names
        if come == names:
            come = set()
    last = past[-1] if past else ""
    left = [key for key in pool if key.name not in come]
    fresh = [key for key in left if key.name != last]
    return Random(f"{seed} {exercise_id} {day.isoformat()}").choice(fresh or left)
