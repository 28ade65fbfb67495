"""The A of a room: kept by its name, in force on the day it was taken, and on no other."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from trainer.app.morning import morning_of
from trainer.app.paths import user_paths
from trainer.app.room_tunings import RoomTuning, leave_room, read_rooms, take_room
from trainer.errors import TrainerError
from trainer.routine.load import load_routine
from trainer.routine.model import Routine

TODAY = date(2026, 3, 6)
TOMORROW = TODAY + timedelta(days=1)
ROUTINE = """
title: One
exercises:
  - {scale: hill, key: D, tempo: 60}
"""


@pytest.fixture
def routine(tmp_path: Path) -> Routine:
    file = tmp_path / "one.yaml"
    file.write_text(ROUTINE)
    routine, problems = load_routine(file)
    assert routine is not None, problems
    return routine


def test_it_holds_for_its_day_is_said_and_is_offered_later(
    tmp_path: Path, routine: Routine
) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path / "home")})
    take_room(paths.rooms_file, RoomTuning("school hall", 442.4, TODAY))
    today = morning_of(routine, paths, TODAY)
    assert today.routine.a4_hz == 442.4
    assert all(r.tuning.a4_hz == 442.4 for e in today.planned for r in e.rounds)
    assert "For today A4 = 442.4, as heard in: school hall." in today.view.notices
    later = morning_of(routine, paths, TOMORROW)
    assert later.routine.a4_hz == 440
    assert not any("442" in notice for notice in later.view.notices)
    assert [room.said for room in read_rooms(paths.rooms_file)] == ["school hall 442.4"]


def test_one_without_a_name_is_gone_with_the_next_and_a_name_is_kept_once(tmp_path: Path) -> None:
    file = tmp_path / "rooms.yaml"
    take_room(file, RoomTuning("church", 415.2, TODAY - timedelta(days=30)))
    take_room(file, RoomTuning("", 441.0, TODAY))
    take_room(file, RoomTuning("church", 415.4, TODAY))
    assert [(room.room, room.a4_hz) for room in read_rooms(file)] == [("church", 415.4)]
    leave_room(file, TODAY)
    (church,) = read_rooms(file)
    assert church.taken < TODAY


@pytest.mark.parametrize(
    "text", ["room: hall", "- {room: hall, a4: 880, taken: 2026-03-06}", "- {a4: 442}", "- [", "7"]
)
def test_a_broken_file_is_told_and_stays_as_it_is(
    tmp_path: Path, routine: Routine, text: str
) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path)})
    paths.rooms_file.write_text(text)
    with pytest.raises(TrainerError, match=r"rooms\.yaml"):
        take_room(paths.rooms_file, RoomTuning("hall", 442.0, TODAY))
    assert paths.rooms_file.read_text() == text
    morning = morning_of(routine, paths, TODAY)
    assert morning.routine.a4_hz == 440
    assert any("rooms.yaml" in notice for notice in morning.view.notices)
