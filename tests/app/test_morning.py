"""What Today shows rests on outlines: they say the same as the whole sessions."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from demo.weeks import write_weeks
from trainer.app.morning import LATELY, morning_of, outlined_sessions
from trainer.app.open_session import KEYS_REMEMBERED, planned_for, remembered_sessions
from trainer.app.paths import Paths, user_paths
from trainer.app.todays_routine import SHIPPED_ROUTINES
from trainer.coach.history import load_caution
from trainer.routine.load import load_routine
from trainer.routine.model import Routine
from trainer.session.history_from_journal import history_of

DAY = date(2026, 3, 2)
YESTERDAY = DAY - timedelta(days=1)


@pytest.fixture(scope="module")
def routine() -> Routine:
    loaded, problems = load_routine(SHIPPED_ROUTINES / "first_try.yaml")
    assert loaded is not None, problems
    return loaded


@pytest.fixture
def paths(tmp_path: Path, routine: Routine) -> Paths:
    found = user_paths({"TRAINER_HOME": str(tmp_path)})
    write_weeks(routine, found, DAY - timedelta(days=6), weeks=2)
    return found


def test_the_day_is_planned_as_from_the_whole_journal(paths: Paths, routine: Routine) -> None:
    sessions, _ = remembered_sessions(paths, DAY - KEYS_REMEMBERED, YESTERDAY)
    assert sessions
    morning = morning_of(routine, paths, DAY)
    assert morning.planned == planned_for(routine, DAY, sessions)
    days = history_of(sessions, DAY).days
    played_s = {day.day: day.played_s for day in days}
    minutes = sum(line.minutes for line in morning.view.today.lines)
    caution = load_caution(played_s, DAY, minutes)
    assert caution is not None, "the days off should call for a word"
    assert morning.view.today.cautions[0] == caution


def test_a_broken_file_is_told_as_the_whole_reader_tells_it(paths: Paths) -> None:
    file = sorted(paths.journal.glob("*.yaml"))[0]
    file.write_text(file.read_text().replace("tempo_bpm", "tempo", 1))
    days = DAY - KEYS_REMEMBERED, YESTERDAY
    _, problems = remembered_sessions(paths, *days)
    assert problems
    assert outlined_sessions(paths, *days)[1] == problems
    assert outlined_sessions(paths, *days)[1] == problems  # from the index this time


def test_the_index_of_all_days_is_left_alone(paths: Paths) -> None:
    outlined_sessions(paths, DAY - KEYS_REMEMBERED, YESTERDAY)
    assert [file.name for file in paths.indexes.iterdir()] == [LATELY]
