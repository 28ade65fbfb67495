"""A short day's morning: chosen from the journal, on the flute and in the key of the usual one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from trainer.app.few_minutes import few_minutes, planned_few, planned_spot
from trainer.app.morning import (
    Morning,
    earlier_sessions,
    morning_of,
    morning_with,
    outlined_sessions,
)
from trainer.app.open_session import KEYS_REMEMBERED, remembered_sessions
from trainer.app.paths import Paths
from trainer.app.shelf import shelf_of, spot_due
from trainer.journal.findings import WeekFinding
from trainer.journal.log import SessionLog
from trainer.journal.stuck import first_outlined
from trainer.journal.week_summary import week
from trainer.routine.model import Routine
from trainer.routine.plan import PlannedExercise
from trainer.session.view import ShelvedSpot


def shelf_today(paths: Paths, day: date) -> tuple[ShelvedSpot, ...]:
    """The trouble spots of the last months."""
    sessions, _ = remembered_sessions(paths, day - KEYS_REMEMBERED, day)
    return shelf_of(_findings(sessions, paths, day), sessions, day)


def short_morning_of(routine: Routine, paths: Paths, day: date, who_plays: str = "") -> Morning:
    """A few minutes of the day: the spot that needs it most, and the day's key."""
    sessions, _ = remembered_sessions(paths, day - KEYS_REMEMBERED, day)
    findings = _findings(sessions, paths, day)
    usual = morning_of(routine, paths, day, who_plays)
    key = next((r.key for e in usual.planned for r in e.rounds if r.key is not None), None)
    few = few_minutes(usual.routine, key, findings)
    planned = planned_few(few, spot_due(shelf_of(findings, sessions, day)), day)
    return _instead(usual, few, planned, paths)


def spot_morning_of(
    routine: Routine, paths: Paths, day: date, spot: ShelvedSpot, who_plays: str = ""
) -> Morning:
    """One trouble spot alone, picked from the shelf."""
    usual = morning_of(routine, paths, day, who_plays)
    few = replace(few_minutes(usual.routine, None, ()), title=spot.name)
    return _instead(usual, few, planned_spot(few, spot, day), paths)


def _findings(sessions: tuple[SessionLog, ...], paths: Paths, day: date) -> tuple[WeekFinding, ...]:
    outlined, _ = outlined_sessions(paths, first_outlined(day), day)
    return week(sessions, day, outlined).findings


def _instead(
    usual: Morning, routine: Routine, planned: tuple[PlannedExercise, ...], paths: Paths
) -> Morning:
    """Other exercises on the same morning."""
    sessions, _ = earlier_sessions(paths, usual.day)
    told, wrong = usual.view.notices, usual.settings_wrong
    who_plays = usual.view.today.who_plays
    return morning_with(
        routine, planned, paths, usual.day, sessions, usual.settings, told, wrong, who_plays
    )
