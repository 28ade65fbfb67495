"""Setting up a morning's practice: the routine for the day, the journal, the session."""

from __future__ import annotations

import threading
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from trainer.app.paths import Paths
from trainer.app.settings import read_settings
from trainer.app.todays_routine import words_from_teacher
from trainer.coach.history import History
from trainer.journal.bring_home import bring_home, brought_words
from trainer.journal.kept import kept_sessions
from trainer.journal.log import AskedExercise, SessionLog
from trainer.journal.write import JournalFile
from trainer.routine.model import Routine
from trainer.routine.plan import PAUSE_AFTER_ROUND_S, PlannedExercise, plan
from trainer.routine.progress import attempts_in
from trainer.routine.round import Round
from trainer.session.microphone_check import CheckAsked
from trainer.session.round_begins import RoundBegins
from trainer.session.session import Session
from trainer.session.walk import KeepTake, Walk
from trainer.sound.kept_takes import keep_take as keep_on_disk
from trainer.sound.partner import Voice
from trainer.sound.port import Samples, SoundPort

if TYPE_CHECKING:
    pass

TICK_S = 0.01
"""The session goes on a hundred times a second."""
KEYS_REMEMBERED = timedelta(days=60)
OWN_FAULT = (
    "Something went wrong in the trainer itself; this round was given up, those before are kept. "
    "The log says what: please send it on."
)


def remembered_sessions(
    paths: Paths, first: date, last: date
) -> tuple[tuple[SessionLog, ...], tuple[str, ...]]:
    """The sessions of these days, those in the spare folder too, and a sentence for each fault."""
    sessions, problems = kept_sessions(paths.journal_folders, first, last)
    return sessions, tuple(problem.brief for problem in problems)


def planned_for(
    routine: Routine, day: date, sessions: Sequence[SessionLog]
) -> tuple[PlannedExercise, ...]:
    """The day's exercises; the sessions of earlier days keep random keys from coming back, and say
    where an exercise that moves on has got to."""
    own = [session for session in sessions if session.routine_file == routine.file]
    past_keys: dict[str, list[str]] = {}
    for session in own:
        for exercise_id, key in dict.fromkeys((r.exercise_id, r.key) for r in session.rounds):
            past_keys.setdefault(exercise_id, []).append(key)
    attempts = attempts_in(session.rounds for session in own)
    return plan(routine, day, seed=0, past_keys=past_keys, attempts=attempts)


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


def open_session(
    routine: Routine,
    planned: Sequence[PlannedExercise],
    port: SoundPort,
    paths: Paths,
    *,
    now: Callable[[], datetime],
    student: str = "",
    pause_s: float = PAUSE_AFTER_ROUND_S,
    round_begins: Callable[[RoundBegins], None] = lambda _: None,
    notices: Sequence[str] = (),
    history: History | None = None,
    keep_take: KeepTake | None = None,
    check_asked: CheckAsked | None = None,
    voice: Voice | None = None,
) -> Session:
    """A session over the day's exercises with a journal file of its own."""
    log = opening_log(routine, planned, now(), student)
    brought = bring_home(paths.spare_journal, paths.journal)
    journal = JournalFile.begin(paths.journal, log, paths.spare_journal)
    walk = Walk(
        routine,
        planned,
        port,
        journal,
        now=now,
        pause_s=pause_s,
        round_begins=round_begins,
        notices=(*notices, *((brought_words(len(brought)),) if brought else ())),
        history=history,
        keep_take=keep_take,
        from_teacher=words_from_teacher(paths),
        check_asked=check_asked,
        voice=voice,
    )
    return Session(walk)


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


@contextmanager
def ticking(session: Session) -> Iterator[None]:
    """Keep the session going in a thread of its own; end it, journal and all, on the way out."""
    over = threading.Event()

    def keep_going() -> None:
        while not over.is_set():
            try:
                session.tick()
            except Exception:  # a fault of ours must not leave the student with a frozen screen
                traceback.print_exc()  # file descriptor 2 leads to the log while a screen runs
                session.recover(OWN_FAULT)
            time.sleep(TICK_S)

    thread = threading.Thread(target=keep_going, name="session", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join(timeout=5)
        session.stop()
        session.tick()


def local_now() -> datetime:
    """This moment with its offset from UTC."""
    return datetime.now().astimezone()
