"""Setting up a morning's practice: the routine for the day, the journal, the session."""

from __future__ import annotations

import threading
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import SoundError, TrainerError
from trainer.journal.log import Asked, SessionLog
from trainer.journal.read import read_sessions
from trainer.journal.week import week
from trainer.journal.week_text import week_text
from trainer.journal.write import JournalFile
from trainer.paths import Paths
from trainer.routine.model import Routine
from trainer.routine.plan import PAUSE_AFTER_ROUND_S, PlannedExercise, plan
from trainer.session import RoundBegins, Session
from trainer.sound.calibrate import remembered_round_trip
from trainer.sound.port import SoundPort
from trainer.sound.process import quiet_stderr, undisturbed
from trainer.sound.simulated import PacedPort
from trainer.sound.stream import StreamPort, open_stream
from trainer.sound.sung import SungPort

if TYPE_CHECKING:
    from trainer.stand_in import SingingPort

TICK_S = 0.02
KEYS_REMEMBERED = timedelta(days=60)
OWN_FAULT = (
    "Something went wrong in the trainer itself; this round was given up, those before are kept. "
    "The log says what: please send it on."
)
TWO_WEEKS = timedelta(days=13)
SHIPPED_ROUTINES = Path(__file__).parent.parent / "routines"
FIRST_ROUTINE = "morning.yaml"


def todays_routine_file(paths: Paths) -> Path:
    """The student's own routine where there is one, else the shipped morning."""
    own = sorted(paths.routines.glob("*.yaml")) if paths.routines.is_dir() else []
    return own[0] if own else SHIPPED_ROUTINES / FIRST_ROUTINE


def remembered_sessions(
    paths: Paths, first: date, last: date
) -> tuple[tuple[SessionLog, ...], tuple[str, ...]]:
    """The sessions of these days, those in the spare folder too, and a sentence for each fault."""
    sessions: list[SessionLog] = []
    faults: list[str] = []
    for folder in (paths.journal, paths.spare_journal):
        if folder.is_dir():
            found, problems = read_sessions(folder, first, last)
            sessions += found
            faults += [problem.sentence for problem in problems]
    return tuple(sorted(sessions, key=lambda log: log.started)), tuple(faults)


def planned_for(
    routine: Routine, day: date, sessions: Sequence[SessionLog]
) -> tuple[PlannedExercise, ...]:
    """The day's exercises; the sessions of earlier days keep random keys from coming back."""
    past_keys: dict[str, list[str]] = {}
    for session in sessions:
        for exercise_id, key in dict.fromkeys((r.exercise_id, r.key) for r in session.rounds):
            past_keys.setdefault(exercise_id, []).append(key)
    return plan(routine, day, seed=0, past_keys=past_keys)


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
        asked=tuple(Asked(e.id, e.title, e.minutes) for e in planned if e.rounds),
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
) -> Session:
    """A session over the day's exercises with a journal file of its own."""
    log = opening_log(routine, planned, now(), student)
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


def practise_on_screen(routine: Routine, paths: Paths, player: str | None = None) -> None:
    """Practise the day's routine in the terminal, by microphone or with a played-in flutist.

    Without a device, practice goes on unheard and the screen says how to mend it.
    """
    from trainer.screens.app import TrainerApp

    today = date.today()
    yesterday = today - timedelta(days=1)
    sessions, problems = remembered_sessions(paths, today - KEYS_REMEMBERED, yesterday)
    planned = planned_for(routine, today, sessions)
    notices = list(problems)
    port, round_begins, complaint = _port(paths, player)
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
    paths: Paths, player: str | None
) -> tuple[SoundPort, Callable[[RoundBegins], None], str | None]:
    """The sound port, who is told of each round, and what is wrong with the sound, if anything."""
    if player is not None:
        from trainer.player.flutist import Flutist
        from trainer.player.habits import EXAMPLES
        from trainer.stand_in import StandIn

        if player not in EXAMPLES:
            raise TrainerError(f"--player: write one of {', '.join(sorted(EXAMPLES))}")
        port = _singing_port()
        return port, StandIn(Flutist(EXAMPLES[player]), port).round_begins, None
    try:
        return open_measured_stream(paths), lambda _: None, None
    except SoundError as error:
        return PacedPort(listens=False), lambda _: None, str(error)


def _singing_port() -> SingingPort:
    """The flutist through the loudspeaker, or in silence where there is none."""
    try:
        return SungPort(open_stream())
    except SoundError:
        return PacedPort()


def open_measured_stream(paths: Paths) -> StreamPort:
    """The device's stream, with the round trip measured for it once by `trainer calibrate`."""
    port = open_stream()
    known = remembered_round_trip(paths.calibration_file, port.name, port.sample_rate_hz)
    if known is not None:
        port.round_trip_frames, port.assumed = round(known.frames), False
    return port


def _week_now(paths: Paths) -> str:
    today = date.today()
    sessions, _ = remembered_sessions(paths, today - TWO_WEEKS, today)
    return week_text(week(sessions, today))


def local_now() -> datetime:
    """This moment with its offset from UTC."""
    return datetime.now().astimezone()
