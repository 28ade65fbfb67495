"""A short day's morning: chosen from the journal, on the flute and in the key of the usual one."""

from __future__ import annotations

from datetime import date

from trainer.app.few_minutes import few_minutes, planned_few, spot_due
from trainer.app.morning import Morning, morning_of, morning_with, outlined_sessions
from trainer.app.open_session import remembered_sessions
from trainer.app.paths import Paths
from trainer.journal.stuck import first_outlined
from trainer.journal.week_summary import TWO_WEEKS, week
from trainer.routine.model import Routine
from trainer.session.history_from_journal import history_of


def short_morning_of(routine: Routine, paths: Paths, day: date, who_plays: str = "") -> Morning:
    """A few minutes of the same day, chosen from the journal: on its flute, in its key."""
    usual = morning_of(routine, paths, day)
    outlined, _ = outlined_sessions(paths, first_outlined(day), day)
    lately, _ = remembered_sessions(paths, day - TWO_WEEKS, day)
    findings = week(lately, day, outlined).findings
    key = next((r.key for e in usual.planned for r in e.rounds if r.key is not None), None)
    few = few_minutes(usual.routine, key, findings)
    before = [log for log in lately if log.day < day]
    planned = planned_few(few, spot_due(findings, lately, history_of(before, day)), day)
    told = usual.view.notices
    return morning_with(
        few, planned, paths, day, outlined, usual.settings, told, usual.settings_wrong, who_plays
    )
