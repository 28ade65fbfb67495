"""Setting up a morning's practice: the routine for the day, the journal, the session."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path

from trainer.errors import SoundError
from trainer.journal.log import Asked, SessionLog
from trainer.journal.read import read_sessions
from trainer.journal.week import week
from trainer.journal.week_text import week_text
from trainer.journal.write import JournalFile
from trainer.paths import Paths
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES
from trainer.routine.model import Routine
from trainer.routine.plan import PAUSE_AFTER_ROUND_S, PlannedExercise, plan
from trainer.session import RoundBegins, Session
from trainer.sound.port import SoundPort
from trainer.sound.process import quiet_stderr, undisturbed
from trainer.sound.simulated import PacedPort
from trainer.sound.stream import open_stream
from trainer.stand_in import StandIn

TICK_S = 0.02
KEYS_REMEMBERED = timedelta(days=60)
SHIPPED_ROUTINES = Path(__file__).parent.parent / "routines"
FIRST_ROUTINE = "morning.yaml"


def todays_routine_file(paths: Paths) -> Path:
    """The student's own routine where there is one, else the shipped morning."""
    own = sorted(paths.routines.glob("*.yaml")) if paths.routines.is_dir() else []
    return own[0] if own else SHIPPED_ROUTINES / FIRST_ROUTINE


def planned_for(
    routine: Routine, day: date, sessions: Sequence[SessionLog]
) -> tuple[PlannedExercise, ...]:
    """The day's exercises; what the journal remembers keeps random keys from coming back."""
    past_keys: dict[str, list[str]] = {}
    for session in sessions:
        for exercise_id, key in dict.fromkeys((r.exercise_id, r.key) for r in session.rounds):
            past_keys.setdefault(exercise_id, []).append(key)
    return plan(routine, day, seed=0, past_keys=past_keys)


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
) -> Session:
    """A session over the day's exercises with a journal file of its own."""
    log = SessionLog(
        started=now(),
        routine_title=routine.title,
        routine_file=routine.file,
        student=student,
        instrument=routine.instrument,
        a4_hz=routine.a4_hz,
        asked=tuple(Asked(e.id, e.title, e.minutes) for e in planned),
    )
    journal = JournalFile.begin(paths.journal, log, paths.spare_journal)
    return Session(
        routine,
        planned,
        port,
        journal,
        now=now,
        pause_s=pause_s,
        round_begins=round_begins,
        notices=notices,
    )


@contextmanager
def ticking(session: Session) -> Iterator[None]:
    """Keep the session going in a thread of its own; end it, journal and all, on the way out."""
    over = threading.Event()

    def keep_going() -> None:
        while not over.is_set():
            session.tick()
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


def practise_on_screen(routine: Routine, paths: Paths, player: str | None = None) -> None:
    """Practise the day's routine in the terminal, by microphone or with a played-in flutist.

    Without a device, practice goes on unheard and the screen says how to mend it.
    """
    from trainer.screens.app import TrainerApp

    today = date.today()
    sessions, problems = read_sessions(paths.journal, today - KEYS_REMEMBERED, today)
    planned = planned_for(routine, today, sessions)
    notices = [problem.sentence for problem in problems]
    port, round_begins, complaint = _port(player)
    if complaint:
        notices.append(complaint)
    with quiet_stderr(paths.log_file), closing(port), undisturbed():
        session = open_session(
            routine,
            planned,
            port,
            paths,
            now=local_now,
            round_begins=round_begins,
            notices=notices,
        )
        with ticking(session):
            TrainerApp(session, lambda: _week_now(paths)).run()


def _port(
    player: str | None,
) -> tuple[SoundPort, Callable[[RoundBegins], None], str | None]:
    """The sound port, who is told of each round, and what is wrong with the sound, if anything."""
    if player is not None:
        paced = PacedPort()
        return paced, StandIn(Flutist(EXAMPLES[player]), paced).round_begins, None
    try:
        return open_stream(), lambda _: None, None
    except SoundError as error:
        return PacedPort(listens=False), lambda _: None, str(error)


def _week_now(paths: Paths) -> str:
    today = date.today()
    sessions, _ = read_sessions(paths.journal, today - timedelta(days=13), today)
    return week_text(week(sessions, today))


def local_now() -> datetime:
    """This moment with its offset from UTC."""
    return datetime.now().astimezone()
