"""The walk a session is led on, with all that makes and hears sound: a second to load."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from trainer.app.paths import Paths
from trainer.app.settings import read_settings
from trainer.app.settings_applied import settings_or_usual
from trainer.journal.bring_home import bring_home, brought_words
from trainer.journal.log import AskedExercise, RoundLog, SessionLog
from trainer.journal.write import JournalFile
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise
from trainer.routine.round import Round, RoundKind
from trainer.session.beginning import Beginning, KeepTake, KeepTwo
from trainer.session.view import Today
from trainer.session.walk import Walk
from trainer.sound.kept_takes import keep_take as keep_on_disk
from trainer.sound.port import Samples, SoundPort


def opening_log(
    routine: Routine, planned: Sequence[PlannedExercise], started: datetime, student: str = ""
) -> SessionLog:
    """What is known of a session before its first round."""
    return SessionLog(
        started=started,
        routine_title=routine.title,
        routine_file=routine.file,
        student=student,
        instrument=routine.instrument,
        a4_hz=routine.a4_hz,
        asked=tuple(
            AskedExercise(e.id, e.title, e.minutes)
            for e in planned
            if any(round_.kind is not RoundKind.KNOT for round_ in e.rounds)
        ),
    )


def begun_walk(
    routine: Routine,
    planned: Sequence[PlannedExercise],
    today: Today,
    port: SoundPort,
    paths: Paths,
    beginning: Beginning,
) -> Walk:
    """A walk through the day's exercises at its beginning, with a journal file of its own."""
    log = opening_log(routine, planned, beginning.now(), beginning.student)
    brought = bring_home(paths.spare_journal, paths.journal)
    told = (brought_words(len(brought)),) if brought else ()
    return Walk(
        routine,
        planned,
        today,
        port,
        JournalFile.begin(paths.journal, log, paths.spare_journal),
        replace(beginning, notices=(*beginning.notices, *told)),
    )


def take_title(round_: Round | RoundLog) -> str:
    """What a round's take is called."""
    return f"{round_.title} {round_.articulation} {round_.tempo_bpm:.0f}"


def two_keeper(paths: Paths, now: Callable[[], datetime]) -> KeepTwo:
    """What keeps a teacher's take and the student's answer, when they ask for it."""

    def keep(round_: Round, teachers: Samples, students: Samples, rate_hz: int) -> None:
        limit_mb = settings_or_usual(paths)[0].takes_limit_mb
        for who, sound in (("teacher", teachers), ("answer", students)):
            title = f"{who} {take_title(round_)}"
            keep_on_disk(paths.takes, sound, rate_hz, now(), title, limit_mb)

    return keep


def take_keeper(paths: Paths, now: Callable[[], datetime]) -> KeepTake | None:
    """What keeps each round's sound, where the student has set it so.

    Raises TrainerError when the settings can't be read.
    """
    settings = read_settings(paths.config_file)
    if not settings.keep_takes:
        return None

    def keep(round_: Round, sound: Samples, rate_hz: int) -> None:
        keep_on_disk(
            paths.takes, sound, rate_hz, now(), take_title(round_), settings.takes_limit_mb
        )

    return keep
