"""A folder that can't be written stops nothing: practice opens, says so, and says where else."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path

import pytest

from trainer.app.morning import morning_of
from trainer.app.paths import user_paths
from trainer.app.todays_routine import is_first_morning, routine_file_for
from trainer.disk.private import can_be_written
from trainer.routine.load import load_routine
from trainer.sound.process import quiet_stderr


def homes(tmp_path: Path) -> dict[str, Path]:
    (tmp_path / "a file").touch()
    (tmp_path / "read only").mkdir(mode=0o500)
    return {
        "a file": tmp_path / "a file",
        "in a file": tmp_path / "a file" / "home",
        "too long": tmp_path / ("x" * 300),
        "read only": tmp_path / "read only",
    }


@pytest.mark.parametrize("kind", ["a file", "in a file", "too long", "read only"])
def test_practice_opens_and_says_what_would_be_lost(kind: str, tmp_path: Path) -> None:
    home = homes(tmp_path)[kind]
    if kind == "read only" and os.access(home, os.W_OK):
        pytest.skip("nothing is read-only to the superuser")
    paths = user_paths({"TRAINER_HOME": str(home)})
    assert is_first_morning(paths)
    with quiet_stderr(paths.log_file):
        routine, _ = load_routine(routine_file_for(paths))
        assert routine is not None
        view = morning_of(routine, paths, date(2026, 11, 23)).view
    said = [notice for notice in view.notices if "TRAINER_HOME=FOLDER" in notice]
    assert len(said) == 1
    assert str(paths.journal) in said[0]


def test_a_folder_yet_to_be_made_can_be_written_and_nothing_is_said(tmp_path: Path) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path / "deep" / "home")})
    assert can_be_written(paths.journal)
    routine, _ = load_routine(routine_file_for(paths))
    assert routine is not None
    assert morning_of(routine, paths, date(2026, 11, 23)).view.notices == ()
    assert not (tmp_path / "deep" / "spare journal").exists()


def test_with_only_the_spare_folder_that_is_named(tmp_path: Path) -> None:
    (tmp_path / "journal").touch()
    paths = user_paths({"TRAINER_HOME": str(tmp_path)})
    routine, _ = load_routine(routine_file_for(paths))
    assert routine is not None
    notices = morning_of(routine, paths, date(2026, 11, 23)).view.notices
    assert any(f"is kept in {paths.spare_journal}" in notice for notice in notices)
