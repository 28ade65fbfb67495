"""The studio at a glance: who practised what in seven days, who is stuck where, who hasn't come.

Students come in alphabetical order unless a teacher asks who needs attention. The student's own
words are not read.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

from trainer.journal.index import Index, ask_index
from trainer.journal.log import SessionLog, judged
from trainer.journal.read import JournalProblem, session_paths
from trainer.journal.skim import skim_session
from trainer.journal.stuck import LOOK_BACK, OpenKnot, StuckTempo, open_knots, stuck_tempos
from trainer.journal.time_spent import DAYS_IN_WEEK, DayTime, days_spent
from trainer.studio.assigned import (
    Assignment,
    ExerciseDone,
    assignment,
    exercises_done,
    lesson_ahead,
    notes_until,
    sent_since,
)
from trainer.studio.folders import StudentFolder, student_folders


@dataclass(frozen=True)
class WeekBeside:
    """One of the last weeks, to stand beside the others."""

    ending: date
    minutes: float
    """Rests included."""
    days: int
    """Days with at least one session."""
    judged_rounds: int
    clean_rounds: int
    """Of those judged, in which nothing was amiss."""


@dataclass(frozen=True)
class StudentWeek:
    """One student's seven days, and where the last six weeks got stuck."""

    folder: str
    """The folder's name."""
    student: str
    """As the sessions name the student; the folder's name where they don't."""
    days: tuple[DayTime, ...]
    """The seven days, those without practice too."""
    last_day: date | None
    """Of the last session there is, up to the last of the seven days."""
    assigned: Assignment | None
    """What was in force in the seven days."""
    lesson: date | None
    """The next one, as the routine says."""
    lesson_wants: str
    """What it is to hear."""
    sent: str
    """Title of a routine sent after the last practice; empty where there is none."""
    done: tuple[ExerciseDone, ...]
    """What of the assignment was done, exercise by exercise."""
    knots: tuple[OpenKnot, ...]
    """Still open, and practised in the seven days."""
    tempos: tuple[StuckTempo, ...]
    weeks: tuple[WeekBeside, ...]
    """The last six, this one the last of them."""
    problems: tuple[str, ...]
    """What could not be read, a sentence each."""

    @property
    def practised(self) -> bool:
        """Whether there is a session in the seven days."""
        return any(day.sessions for day in self.days)

    @property
    def minutes(self) -> float:
        """Of the seven days, rests included."""
        return sum(day.minutes for day in self.days)

    @property
    def days_practised(self) -> int:
        """Days with at least one session."""
        return sum(day.sessions > 0 for day in self.days)

    @property
    def exercises_done(self) -> int:
        """Assigned exercises with at least one finished round."""
        return sum(each.days_done > 0 for each in self.done)


@dataclass(frozen=True)
class Overview:
    """All students of a studio."""

    first_day: date
    ending: date
    """The last of the seven days."""
    students: tuple[StudentWeek, ...]
    """In alphabetical order of their folders."""
    notices: tuple[str, ...]
    """What else lies in the folder, and folders that hold the same sessions."""


def overview(
    studio: Path,
    state_folder: Path,
    ending: date,
    said_done: Callable[[int, int], None] = lambda _done, _of: None,
) -> Overview:
    """The studio in the seven days that end with `ending`.

    Reads only files of the last six weeks, and of those only the new and the changed: an index a
    student is kept in `state_folder`. `said_done` hears how many students of how many are done.
    Raises StudioError when the studio can't be read.
    """
    folders, notices = student_folders(studio)
    twins = _Twins()
    students = []
    for number, folder in enumerate(folders, start=1):
        sessions, problems = recent_sessions(folder, state_folder, ending)
        twins.meet(folder.name, sessions)
        students.append(student_week(folder, sessions, problems, ending))
        said_done(number, len(folders))
    first_day = ending - timedelta(days=DAYS_IN_WEEK - 1)
    notices = (*notices, *twins.sentences(), *_namesakes(students, twins.told))
    return Overview(first_day, ending, tuple(students), notices)


def by_attention(found: Overview) -> Overview:
    """The same with those first whom a teacher should look at: no practice, then stuck, then left
    out; by name among equals."""

    def need(student: StudentWeek) -> tuple[bool, int, int]:
        left_out = len(student.done) - student.exercises_done
        return student.practised, -len(student.knots) - len(student.tempos), -left_out

    return replace(found, students=tuple(sorted(found.students, key=need)))


def _namesakes(students: Iterable[StudentWeek], told: Collection[tuple[str, str]]) -> Iterator[str]:
    """A sentence for folders whose sessions name the same student, where nothing else tells."""
    folders: dict[str, list[str]] = defaultdict(list)
    for student in students:
        folders[student.student.casefold()].append(student.folder)
    for first, *others in folders.values():
        for other in others:
            if (first, other) not in told:
                yield (
                    f"'{first}' and '{other}' name the same student, with different sessions: if "
                    "they are one student, put all files into one folder."
                )


def recent_sessions(
    folder: StudentFolder, state_folder: Path, ending: date
) -> tuple[tuple[SessionLog, ...], tuple[JournalProblem, ...]]:
    """The student's last six weeks in outline, oldest first, and what couldn't be read."""
    days = (ending - LOOK_BACK + timedelta(days=1), ending)

    def ask(index: Index) -> tuple[SessionLog, ...]:
        return index.sessions(*days)

    return ask_index(ask, folder.journals, state_folder, days, skim_session)


def student_week(
    folder: StudentFolder,
    sessions: tuple[SessionLog, ...],
    problems: Iterable[JournalProblem],
    ending: date,
) -> StudentWeek:
    """One student's week, from the sessions of the last six."""
    first_day = ending - timedelta(days=DAYS_IN_WEEK - 1)
    week = [log for log in sessions if log.day >= first_day]
    latest = sessions[-1] if sessions else _latest_session(folder, ending)
    notes = notes_until(folder, ending)
    assigned, faults = assignment(folder, notes, week, latest)
    routine = assigned.file if assigned else ""
    lesson, wants = lesson_ahead(folder, notes, latest, ending)
    told = [problem.brief for problem in problems if problem.path.name != routine]
    return StudentWeek(
        folder=folder.name,
        student=latest.student if latest and latest.student else folder.name,
        days=days_spent(week, first_day),
        last_day=latest.day if latest else None,
        assigned=assigned,
        lesson=lesson,
        lesson_wants=wants,
        sent=sent_since(notes, latest),
        done=exercises_done(assigned, week),
        knots=tuple(knot for knot in open_knots(sessions) if knot.last_day >= first_day),
        tempos=stuck_tempos(sessions, ending),
        weeks=_weeks_beside(sessions, ending),
        problems=(*told, *faults),
    )


def _weeks_beside(sessions: Sequence[SessionLog], ending: date) -> tuple[WeekBeside, ...]:
    weeks = LOOK_BACK.days // DAYS_IN_WEEK
    lasts = [ending - timedelta(weeks=back) for back in reversed(range(weeks))]
    return tuple(_week_beside(sessions, last) for last in lasts)


def _week_beside(sessions: Sequence[SessionLog], last: date) -> WeekBeside:
    logs = [log for log in sessions if 0 <= (last - log.day).days < DAYS_IN_WEEK]
    went_well = judged(round_ for log in logs for round_ in log.rounds)
    minutes = sum(log.lasted_s for log in logs) / 60
    return WeekBeside(last, minutes, len({log.day for log in logs}), len(went_well), sum(went_well))


def _latest_session(folder: StudentFolder, ending: date) -> SessionLog | None:
    """The last session up to a day, by the files' names; only a student who hasn't come for six
    weeks is looked for in this way.
    """
    paths = [path for each in folder.journals for path in session_paths(each, date.min, ending)[0]]
    for path in sorted(paths, key=lambda path: path.name, reverse=True):
        log, _ = skim_session(path)
        if log is not None and log.day <= ending:
            return log
    return None


class _Twins:
    """Folders that hold the same sessions: a folder copied twice, or a student filed twice."""

    def __init__(self) -> None:
        self._folder_of: dict[str, str] = {}
        self._shared: Counter[tuple[str, str]] = Counter()

    def meet(self, folder: str, sessions: Iterable[SessionLog]) -> None:
        for log in sessions:
            if log.session_id:
                first = self._folder_of.setdefault(log.session_id, folder)
                if first != folder:
                    self._shared[first, folder] += 1

    @property
    def told(self) -> Collection[tuple[str, str]]:
        """The pairs of folders that `sentences` tells of."""
        return self._shared.keys()

    def sentences(self) -> tuple[str, ...]:
        """One for each pair of folders."""
        return tuple(
            f"'{one}' and '{other}' hold the same sessions ({count} of the last six weeks): if "
            "they are one student, put all files into one folder and delete the other."
            for (one, other), count in sorted(self._shared.items())
        )
