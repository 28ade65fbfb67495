"""The walk a session is led on, with all that makes and hears sound: a second to load."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from trainer.app.paths import Paths
from trainer.app.settings import read_settings
from trainer.coach.history import History
from trainer.journal.bring_home import bring_home, brought_words
from trainer.journal.log import AskedExercise, SessionLog
from trainer.journal.write import JournalFile
from trainer.routine.model import Routine
from trainer.routine.plan import PAUSE_AFTER_ROUND_S, PlannedExercise
from trainer.routine.round import Round
from trainer.session.microphone_check import CheckAsked
from trainer.session.round_begins import ToldOfRound
from trainer.session.view import Today
from trainer.session.walk import KeepTake, Walk
from trainer.sound.kept_takes import keep_take as keep_on_disk
from trainer.sound.partner import Voice
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
        asked=tuple(AskedExercise(e.id, e.title, e.minutes) for e in planned if e.rounds),
    )


def begun_walk(
    routine: Routine,
    planned: Sequence[PlannedExercise],
    today: Today,
    port: SoundPort,
    paths: Paths,
    *,
    now: Callable[[], datetime],
    student: str = "",
    pause_s: float = PAUSE_AFTER_ROUND_S,
    round_begins: ToldOfRound = lambda _: None,
    notices: Sequence[str] = (),
    history: History | None = None,
    keep_take: KeepTake | None = None,
    check_asked: CheckAsked | None = None,
    voice: Voice | None = None,
) -> Walk:
    """A walk through the day's exercises at its beginning, with a journal file of its own."""
    log = opening_log(routine, planned, now(), student)
    brought = bring_home(paths.spare_journal, paths.journal)
    return Walk(
        routine,
        planned,
        today,
        port,
        JournalFile.begin(paths.journal, log, paths.spare_journal),
        now=now,
        pause_s=pause_s,
        round_begins=round_begins,
        notices=(*notices, *((brought_words(len(brought)),) if brought else ())),
        history=history,
        keep_take=keep_take,
        check_asked=check_asked,
        voice=voice,
    )


def take_keeper(paths: Paths, now: Callable[[], datetime]) -> KeepTake | None:
    """What keeps each round's sound, where the student has set it so.

    Raises TrainerError when the settings can't be read.
    """
    settings = read_settings(paths.config_file)
    if not settings.keep_takes:
        return None

    def keep(round_: Round, sound: Samples, rate_hz: int) -> None:
        title = f"{round_.title} {round_.articulation} {round_.tempo_bpm:.0f}"
        keep_on_disk(paths.takes, sound, rate_hz, now(), title, settings.takes_limit_mb)

    return keep
