"""Setting up a morning's practice: the routine for the day, the journal, the session."""

from __future__ import annotations

import threading
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.as_set import as_set, partners_voice, settings_or_usual
from trainer.coach.history import History
from trainer.errors import SoundError, TrainerError
from trainer.journal.bring_home import bring_home, brought_words
from trainer.journal.from_teacher import latest_note, latest_routine, notes_from_teacher
from trainer.journal.kept import kept_sessions
from trainer.journal.log import Asked, SessionLog
from trainer.journal.week import TWO_WEEKS, week
from trainer.journal.week_text import week_text
from trainer.journal.write import JournalFile
from trainer.known_microphone import keep_check, why_to_check
from trainer.newcomer import FIRST_ROUND, is_first_morning, meet
from trainer.paths import Paths
from trainer.remember import history_of
from trainer.routine.model import Routine
from trainer.routine.plan import PAUSE_AFTER_ROUND_S, PlannedExercise, plan
from trainer.routine.progress import attempts_in
from trainer.routine.round import Round
from trainer.session.round_begins import RoundBegins
from trainer.session.session import Session
from trainer.session.walk import KeepTake, Walk
from trainer.settings import Settings, read_settings, write_settings
from trainer.sound.calibrate import remembered_round_trip
from trainer.sound.device_port import DevicePort, open_port
from trainer.sound.partner import Voice
from trainer.sound.port import Samples, SoundPort
from trainer.sound.process import quiet_stderr
from trainer.sound.simulated import PacedPort
from trainer.sound.stream import Wanted
from trainer.sound.sung import SungPort
from trainer.sound.takes import keep_take as keep_on_disk
from trainer.sound_check import CheckAsked

if TYPE_CHECKING:
    from trainer.stand_in import SingingPort

TICK_S = 0.01
KEYS_REMEMBERED = timedelta(days=60)
OWN_FAULT = (
    "Something went wrong in the trainer itself; this round was given up, those before are kept. "
    "The log says what: please send it on."
)
SHIPPED_ROUTINES = Path(__file__).parent.parent / "routines"
FIRST_ROUTINE = "morning.yaml"


def todays_routine_file(paths: Paths) -> Path:
    """The newest routine the teacher sent, else the student's own, else the shipped morning."""
    sent = latest_routine(notes_from_teacher(paths.journal)[0])
    if sent is not None:
        return sent
    own = sorted(paths.routines.glob("*.yaml")) if paths.routines.is_dir() else []
    return own[0] if own else SHIPPED_ROUTINES / FIRST_ROUTINE


def routine_file_for(paths: Paths) -> Path:
    """Today's; two minutes to meet on the first morning, where no teacher has sent anything."""
    file = todays_routine_file(paths)
    return FIRST_ROUND if is_first_morning(paths) and file.parent == SHIPPED_ROUTINES else file


def words_from_teacher(paths: Paths) -> str:
    """The teacher's last note and the routine sent last, each with its day; empty without any."""
    notes, _ = notes_from_teacher(paths.journal)
    note, sent = latest_note(notes), next((n for n in reversed(notes) if n.routine_file), None)
    lines = [f"{_day(note.written)}: {note.words}"] if note is not None else []
    if sent is not None and sent.routine_file is not None:
        lines.append(f"{_day(sent.written)}: sent the routine {sent.routine_file.stem}.")
    return "\n".join(lines)


def _day(moment: datetime) -> str:
    return f"{moment.day} {moment:%B}"


def remembered_sessions(
    paths: Paths, first: date, last: date
) -> tuple[tuple[SessionLog, ...], tuple[str, ...]]:
    """The sessions of these days, those in the spare folder too, and a sentence for each fault."""
    sessions, problems = kept_sessions(paths, first, last)
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


def practise_on_screen(
    routine: Routine, paths: Paths, player: str | None = None, *, in_lines: bool = False
) -> None:
    """Practise the day's routine in the terminal, by microphone or with a played-in flutist.

    Without a device, practice goes on in silence and the screen says how to mend it. `in_lines`
    tells it in lines for a screen reader, whatever is set.
    """
    if player is None and is_first_morning(paths):
        port = open_practice_port(paths)
        with quiet_stderr(paths.log_file), closing(port):
            if meet(paths, port, in_lines=in_lines) is None:
                return
            with suppress(SoundError):  # the first morning has looked at it; asked again at worst
                keep_check(paths.calibration_file, port, local_now(), ())
    port_, round_begins = _port(paths, player)
    with quiet_stderr(paths.log_file), closing(port_):
        while _practise_once(routine, paths, port_, round_begins, in_lines=in_lines):
            pass


def _practise_once(
    routine: Routine,
    paths: Paths,
    port: SoundPort,
    round_begins: Callable[[RoundBegins], None],
    *,
    in_lines: bool,
) -> bool:
    """One session, as set now; True when it is to be opened anew with other settings."""
    today = date.today()
    yesterday = today - timedelta(days=1)
    settings, wrong = settings_or_usual(paths)
    sessions, problems = remembered_sessions(paths, today - KEYS_REMEMBERED, yesterday)
    routine, unfit = as_set(routine, settings, today)
    voice, unheard = partners_voice(settings, port.sample_rate_hz)
    session = open_session(
        routine,
        planned_for(routine, today, sessions),
        port,
        paths,
        now=local_now,
        round_begins=round_begins,
        notices=[*problems, *unfit, *unheard, *wrong],
        history=history_of(sessions, today),
        keep_take=None if wrong else take_keeper(paths, local_now),
        check_asked=check_due(paths, port, sessions) if isinstance(port, DevicePort) else None,
        voice=voice,
    )
    with ticking(session):
        if in_lines or settings.spoken_lines:
            _tell(session, settings, paths)
            return False
        return _show(session, settings, paths)


def _show(session: Session, settings: Settings, paths: Paths) -> bool:
    from trainer.screens.app import TrainerApp

    def keep(changed: Settings) -> None:
        write_settings(paths.config_file, changed)

    return bool(TrainerApp(session, lambda: _week_now(paths), settings, keep).run())


def _tell(session: Session, settings: Settings, paths: Paths) -> None:
    from trainer.screens.keyboard import keys
    from trainer.screens.lines import practise_in_lines

    with keys() as read_key:
        practise_in_lines(session, settings.names, lambda: _week_now(paths), read_key, print)


def _port(paths: Paths, player: str | None) -> tuple[SoundPort, Callable[[RoundBegins], None]]:
    """The sound port, and who is told of each round."""
    if player is None:
        return open_practice_port(paths), lambda _: None
    from trainer.player.flutist import Flutist
    from trainer.player.habits import EXAMPLES
    from trainer.stand_in import StandIn

    if player not in EXAMPLES:
        raise TrainerError(f"--player: write one of {', '.join(sorted(EXAMPLES))}")
    port = _singing_port(paths)
    return port, StandIn(Flutist(EXAMPLES[player]), port).round_begins


def _singing_port(paths: Paths) -> SingingPort:
    """The flutist through the loudspeaker, or in silence where there is none."""
    try:
        return SungPort(open_port(Wanted(listens=False), log_path=paths.log_file))
    except SoundError:
        return PacedPort()


def check_due(paths: Paths, port: SoundPort, sessions: Sequence[SessionLog]) -> CheckAsked | None:
    """The look at the microphone before the first round, where there is a reason for it."""
    file = paths.calibration_file
    why = why_to_check(file, port, sessions)
    keep = partial(keep_check, file, port, local_now())
    return CheckAsked(why, keep) if why else None


def open_practice_port(paths: Paths) -> DevicePort:
    """The devices' port, with the round trip measured for them once by `trainer calibrate`.

    Where there is no device, practice goes on in silence until there is.
    """

    def measured(name: str, rate_hz: int) -> float | None:
        known = remembered_round_trip(paths.calibration_file, name, rate_hz)
        return None if known is None else known.frames

    return open_port(log_path=paths.log_file, measured=measured, or_silence=True)


def _week_now(paths: Paths) -> str:
    today = date.today()
    sessions, _ = remembered_sessions(paths, today - TWO_WEEKS, today)
    return week_text(week(sessions, today))


def local_now() -> datetime:
    """This moment with its offset from UTC."""
    return datetime.now().astimezone()
