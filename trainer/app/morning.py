"""A morning before anything sounds: what Today shows, from the routine and the journal alone."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date, timedelta

from trainer.app.open_session import KEYS_REMEMBERED, planned_for
from trainer.app.paths import HOME_VARIABLE, Paths
from trainer.app.settings import Settings
from trainer.app.settings_applied import as_set, clicks_as_set, in_room, settings_or_usual
from trainer.app.todays_routine import words_from_teacher
from trainer.disk.private import can_be_written
from trainer.figures.round_measures import RoundMeasures
from trainer.journal.from_teacher import notes_from_teacher
from trainer.journal.index import ask_index
from trainer.journal.log import SessionLog
from trainer.journal.skim import skim_session
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise
from trainer.session.today import first_view, last_played, today_of, usual_stretch
from trainer.session.view import View

SUNDAY = 6
LATELY = "lately"
"""Folder of the index of the days remembered; that of all days is another's."""

INVENTED_FLUTIST = "An invented flutist plays"


@dataclass(frozen=True)
class Morning:
    """The day's practice, ready to be shown."""

    day: date
    routine: Routine
    """With the flute and tuning that are set."""
    planned: tuple[PlannedExercise, ...]
    settings: Settings
    settings_wrong: bool
    """They can't be read: the usual ones hold."""
    view: View
    """Today, before anything has begun."""


def morning_of(routine: Routine, paths: Paths, day: date, who_plays: str = "") -> Morning:
    """The day's practice of a routine; `who_plays` is told on every screen."""
    settings, wrong = settings_or_usual(paths)
    sessions, problems = earlier_sessions(paths, day)
    routine, unfit = as_set(routine, settings, day)
    routine, of_room = in_room(routine, paths, day)
    planned = planned_for(routine, day, sessions)
    told = (*problems, *unfit, *wrong, *of_room, *unkept(paths))
    return morning_with(
        routine, planned, paths, day, sessions, settings, told, bool(wrong), who_plays
    )


def morning_with(
    routine: Routine,
    planned: tuple[PlannedExercise, ...],
    paths: Paths,
    day: date,
    sessions: tuple[SessionLog, ...],
    settings: Settings,
    told: tuple[str, ...],
    settings_wrong: bool,
    who_plays: str,
) -> Morning:
    """The day's practice of exercises that are planned; `sessions`: of earlier days, in outline."""
    planned = clicks_as_set(planned, settings)
    today = today_of(
        routine,
        planned,
        day,
        played_s(sessions),
        words_from_teacher(paths),
        last_measured(sessions),
        usual_stretch(sessions),
        who_plays,
        last_played(sessions, routine.file),
    )
    hears = day.weekday() == SUNDAY and settings.keep_takes
    view = first_view(replace(today, hears_then_and_now=hears), planned, told)
    return Morning(day, routine, planned, settings, settings_wrong, view)


def unkept(paths: Paths) -> tuple[str, ...]:
    """What to say where practice can't be written down: that, and how to keep it elsewhere."""
    broken = tuple(problem.brief for problem in notes_from_teacher(paths.journal)[1])
    if can_be_written(paths.journal):
        return broken
    if can_be_written(paths.spare_journal):
        until = f"Until it can, practice is kept in {paths.spare_journal}."
    else:
        until = (
            "What you practise now would be lost at the end. To keep it elsewhere press q, and "
            f"start with another folder: {HOME_VARIABLE}=FOLDER trainer"
        )
    return (*broken, f"{paths.journal} can't be written. {until}")


def outlined_sessions(
    paths: Paths, first: date, last: date
) -> tuple[tuple[SessionLog, ...], tuple[str, ...]]:
    """As `open_session.remembered_sessions`, in outline: without notes, many times as fast."""
    sessions, problems = ask_index(
        lambda index: index.sessions(first, last),
        paths.journal_folders,
        paths.indexes / LATELY,
        (first, last),
        skim_session,
    )
    return sessions, tuple(problem.brief for problem in problems)


def earlier_sessions(paths: Paths, day: date) -> tuple[tuple[SessionLog, ...], tuple[str, ...]]:
    """Of the days before, as far back as is remembered, in outline."""
    return outlined_sessions(paths, day - KEYS_REMEMBERED, day - timedelta(days=1))


def played_s(sessions: tuple[SessionLog, ...]) -> dict[date, float]:
    """How long was played on each day on which something was."""
    played: dict[date, float] = defaultdict(float)
    for log in sessions:
        if log.rounds:
            played[log.day] += log.played_s
    return dict(played)


def last_measured(sessions: tuple[SessionLog, ...]) -> tuple[RoundMeasures, ...]:
    """The measures of the last session in which a round was heard; sessions: oldest first."""
    for log in reversed(sessions):
        if measured := tuple(one.measures for one in log.rounds if one.measures is not None):
            return measured
    return ()
