"""Setting up a morning's practice: the routine for the day, the sessions before it, the session.

Light to load; what makes and hears sound comes with `trainer.app.begun_walk`.
"""

from __future__ import annotations

import threading
import time
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from trainer.app.paths import Paths
from trainer.app.todays_routine import words_from_teacher
from trainer.coach.history import History
from trainer.disk.outside_text import visible
from trainer.journal.kept import kept_sessions
from trainer.journal.log import SessionLog
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise, plan
from trainer.routine.progress import attempts_in
from trainer.session.beginning import Beginning
from trainer.session.session import Session
from trainer.session.today import last_played, today_of
from trainer.sound.process import write_to_log

if TYPE_CHECKING:
    from trainer.sound.port import SoundPort

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


def planned_as_known(routine: Routine, day: date, paths: Paths) -> tuple[PlannedExercise, ...]:
    """What practice would bring on the day, as far as the journal knows by then."""
    sessions, _ = remembered_sessions(paths, day - KEYS_REMEMBERED, day - timedelta(days=1))
    return planned_for(routine, day, sessions)


def planned_for(
    routine: Routine, day: date, sessions: Sequence[SessionLog]
) -> tuple[PlannedExercise, ...]:
    """The day's exercises; the sessions of earlier days keep random keys from coming back, and say
    where an exercise that moves on has got to."""
    return planned_for_days(routine, [day], sessions)[0]


def planned_for_days(
    routine: Routine, days: Sequence[date], sessions: Sequence[SessionLog]
) -> tuple[tuple[PlannedExercise, ...], ...]:
    """Several days running: keys drawn for one don't come back on the next."""
    own = [session for session in sessions if session.routine_file == routine.file]
    past_keys: dict[str, list[str]] = {}
    for session in own:
        for exercise_id, key in dict.fromkeys((r.exercise_id, r.key) for r in session.rounds):
            past_keys.setdefault(exercise_id, []).append(key)
    attempts = attempts_in(session.rounds for session in own)
    planned = []
    for day in days:
        planned.append(plan(routine, day, seed=0, past_keys=past_keys, attempts=attempts))
        for exercise in planned[-1]:
            drawn = exercise.rounds[0].key if exercise.rounds else None
            if drawn is not None:
                past_keys.setdefault(exercise.id, []).append(drawn.name)
    return tuple(planned)


def open_session(
    routine: Routine,
    planned: Sequence[PlannedExercise],
    port: SoundPort,
    paths: Paths,
    beginning: Beginning,
    sessions: Sequence[SessionLog] = (),
) -> Session:
    """A session over the day's exercises on a port that is there, with a journal of its own.

    `sessions`: of earlier days, oldest first, for what Today says of them.
    """
    from trainer.app.begun_walk import begun_walk

    past = beginning.history or History(beginning.now().date())
    played_s = {day.day: day.played_s for day in past.days}
    today = today_of(
        routine,
        planned,
        past.today,
        played_s,
        words_from_teacher(paths),
        last_played=last_played(sessions, routine.file),
    )
    walk = begun_walk(routine, planned, today, port, paths, beginning)
    return Session(walk.view(), lambda: walk)


@contextmanager
def ticking(session: Session) -> Iterator[None]:
    """Keep the session going in a thread of its own; end it, journal and all, on the way out."""
    over = threading.Event()

    def keep_going() -> None:
        while not over.is_set():
            try:
                session.tick()
            except Exception:  # a fault of ours must not leave the student with a frozen screen
                write_to_log(visible(traceback.format_exc()))
                session.recover(OWN_FAULT)
            time.sleep(TICK_S)

    thread = threading.Thread(target=keep_going, name="session", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join(timeout=5)
        session.end()


def local_now() -> datetime:
    """This moment with its offset from UTC."""
    return datetime.now().astimezone()
