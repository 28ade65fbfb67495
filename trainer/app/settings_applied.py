"""Practice as the student has set it: their own flute, their own tuning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from trainer.app.paths import Paths
from trainer.app.room_tunings import a4_taken, read_rooms
from trainer.app.settings import Settings, read_settings
from trainer.errors import TrainerError
from trainer.music.instrument import instrument_named
from trainer.routine.lesson_day import lesson_day
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise, plan
from trainer.routine.round import Round


def settings_or_usual(paths: Paths) -> tuple[Settings, tuple[str, ...]]:
    """What is set, or the usual and a sentence that says what is wrong with the file."""
    try:
        return read_settings(paths.config_file), ()
    except TrainerError as error:
        return Settings(), (f"{error} Until then everything is as usual.",)


def as_set(routine: Routine, settings: Settings, day: date) -> tuple[Routine, tuple[str, ...]]:
    """The routine with what is set, and a sentence where the flute can't play it.

    A routine for another flute than the usual one stays for that; a tuning and a day of lessons
    that are set hold everywhere.
    """
    lesson = lesson_day(settings.lesson) or routine.lesson
    tuned = replace(routine, a4_hz=settings.a4_hz or routine.a4_hz, lesson=lesson)
    if settings.instrument == routine.instrument or routine.instrument != Settings().instrument:
        return tuned, ()
    usual, own = instrument_named(routine.instrument), instrument_named(settings.instrument)
    lowest = own.lowest if routine.lowest == usual.lowest else routine.lowest
    highest = own.highest if routine.highest == usual.highest else routine.highest
    set_so = replace(tuned, instrument=own.name, lowest=lowest, highest=highest)
    if _fits(set_so, day):
        return set_so, ()
    return tuned, (
        f"Some notes of this routine are not on your {own.name}, so it stays as it was written, "
        f"for {usual.name}.",
    )


def in_room(routine: Routine, paths: Paths, day: date) -> tuple[Routine, tuple[str, ...]]:
    """The routine at the A that was taken for this day, and a sentence that says so."""
    try:
        taken = a4_taken(read_rooms(paths.rooms_file), day)
    except TrainerError as error:
        return routine, (str(error),)
    if taken is None:
        return routine, ()
    where = f", as heard in: {taken.room}" if taken.room else ""
    return replace(routine, a4_hz=taken.a4_hz), (f"For today A4 = {taken.a4_hz:.1f}{where}.",)


def clicks_as_set(
    planned: Sequence[PlannedExercise], settings: Settings
) -> tuple[PlannedExercise, ...]:
    """The day's exercises with the click as loud as it is set."""

    def so_loud(round_: Round) -> Round:
        level_db = round_.click.level_db + settings.click_db
        return replace(round_, click=replace(round_.click, level_db=level_db))

    if not settings.click_db:
        return tuple(planned)
    return tuple(replace(one, rounds=tuple(map(so_loud, one.rounds))) for one in planned)


def _fits(routine: Routine, day: date) -> bool:
    own = instrument_named(routine.instrument)
    try:
        notes = [n for e in plan(routine, day, seed=0) for r in e.rounds for n in r.notes]
    except ValueError:
        return False
    return all(own.lowest.midi <= note.pitch.midi <= own.furthest.midi for note in notes)
