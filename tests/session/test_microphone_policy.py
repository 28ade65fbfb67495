"""The microphone is looked at before the first round where there is a reason, and only then."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.session.conftest import DAY, NOON, SMALL, Practice
from tests.session.test_microphone_check import played_through
from tests.sound.microphones import honest, with_noise_gate
from trainer.app.microphone_policy import (
    IN_THE_WAY,
    NEW,
    check_due,
    keep_check,
    level_before_db,
    why_to_check,
)
from trainer.app.open_session import open_session, planned_for
from trainer.app.paths import user_paths
from trainer.coach.advice import Topic
from trainer.ear.heard import State
from trainer.errors import SoundError
from trainer.journal.log import NoteLog, RoundLog, RoundMeasures, SessionLog
from trainer.music.note import Articulation
from trainer.routine.load import read_routine
from trainer.routine.round import RoundKind
from trainer.session.beginning import Beginning
from trainer.session.microphone_check import ALL_WELL, CheckAsked
from trainer.session.view import CheckStep, Stage
from trainer.sound.level_check import Finding
from trainer.sound.port import Samples
from trainer.sound.simulated import SimulatedPort

Found = list[tuple[Finding, ...] | None]
SECONDS = 40


def practice_with(tmp_path: Path, sound: Samples, kept: Found) -> Practice:
    """At the sound check, with this to be heard from its beginning."""
    routine, problems = read_routine(SMALL, "small.yaml")
    assert routine is not None, problems
    port = SimulatedPort(memory_s=120.0)
    paths = user_paths({"TRAINER_HOME": str(tmp_path)})
    session = open_session(
        routine,
        planned_for(routine, DAY, ()),
        port,
        paths,
        Beginning(now=lambda: NOON, check_asked=CheckAsked(NEW, kept.append)),
    )
    practice = Practice(session, port, paths)
    port.sing(sound, 0)
    practice.do(session.advance)
    return practice


def test_all_well_goes_on_by_itself(tmp_path: Path) -> None:
    kept: Found = []
    practice = practice_with(tmp_path, honest(played_through()), kept)
    view = practice.view()
    assert (view.stage, view.why_checked) == (Stage.SOUND_CHECK, NEW)
    view = practice.until(Stage.READY, SECONDS)
    assert view.notices[-1] == ALL_WELL
    assert kept == [()]
    assert view.exercise_index == 0


def test_what_is_wrong_stays_until_the_student_goes_on(tmp_path: Path) -> None:
    kept: Found = []
    practice = practice_with(tmp_path, with_noise_gate(honest(played_through())), kept)
    practice.pass_time(SECONDS)
    check = practice.view().sound_check
    assert check is not None
    assert check.step is CheckStep.DONE
    assert "noise suppression" in check.words
    assert practice.do(practice.session.advance).stage is Stage.READY
    assert kept == [check.findings]


@pytest.mark.parametrize("way", ["advance", "skip"])
def test_one_key_goes_past_it(tmp_path: Path, way: str) -> None:
    kept: Found = []
    practice = practice_with(tmp_path, np.zeros(1, np.float32), kept)
    view = practice.do(getattr(practice.session, way))
    assert (view.stage, view.exercise_index, view.sound_check) == (Stage.READY, 0, None)
    assert kept == [None]


def test_it_can_be_done_again_after_mending(tmp_path: Path) -> None:
    practice = practice_with(tmp_path, with_noise_gate(honest(played_through())), [])
    practice.pass_time(SECONDS)
    check = practice.do(practice.session.again).sound_check
    assert check is not None
    assert check.step is CheckStep.QUIET


def test_nothing_is_asked_where_there_is_no_reason(practice_of: Callable[..., Practice]) -> None:
    practice = practice_of()
    assert practice.do(practice.session.advance).stage is Stage.READY


def test_a_full_disk_is_told_and_practice_goes_on(tmp_path: Path) -> None:
    practice = practice_with(tmp_path, np.zeros(1, np.float32), [])

    def full(_: object) -> None:
        raise SoundError("The disk is full.")

    practice.session._walk._first_look.asked = CheckAsked(NEW, full)
    view = practice.do(practice.session.advance)
    assert (view.stage, view.notices[-1]) == (Stage.READY, "The disk is full.")


# When there is a reason

YESTERDAY = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)


def session_log(warned: int, of: int, started: datetime = YESTERDAY) -> SessionLog:
    round_ = RoundLog(
        exercise_id="hill",
        title="hill",
        kind=RoundKind.TECHNIQUE,
        number=1,
        articulation=Articulation.SLURRED,
        tempo_bpm=60,
        started=started,
        seconds=10,
        topic=Topic.SECURE,
        measures=RoundMeasures(played=8, missed=0, extra=0),
    )
    bad = replace(round_, warnings=("There is much noise around you.",))
    rounds = (*(bad,) * warned, *(round_,) * (of - warned))
    return SessionLog(
        started=started, routine_title="T", routine_file="t.yaml", instrument="C flute",
        a4_hz=440, rounds=rounds,
    )  # fmt: skip


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "calibration.json"


def test_a_microphone_is_new_once(file: Path) -> None:
    port = SimulatedPort()
    assert why_to_check(file, port, ()) == NEW
    keep_check(file, port, NOON, ())
    assert why_to_check(file, port, ()) == ""


def test_going_past_it_counts_as_an_answer(file: Path) -> None:
    keep_check(file, SimulatedPort(), NOON, None)
    assert why_to_check(file, SimulatedPort(), ()) == ""


def test_another_rate_is_another_microphone(file: Path) -> None:
    keep_check(file, SimulatedPort(), NOON, ())
    assert why_to_check(file, SimulatedPort(sample_rate_hz=16_000), ()) == NEW


def test_a_session_with_the_sound_in_the_way_is_a_reason_once(file: Path) -> None:
    port = SimulatedPort()
    keep_check(file, port, YESTERDAY - timedelta(days=3), ())
    bad = session_log(warned=2, of=4)
    assert why_to_check(file, port, (bad,)) == IN_THE_WAY
    keep_check(file, port, NOON, None)
    assert why_to_check(file, port, (bad,)) == ""


def test_one_bad_round_is_no_reason(file: Path) -> None:
    port = SimulatedPort()
    keep_check(file, port, YESTERDAY - timedelta(days=3), ())
    assert why_to_check(file, port, (session_log(warned=1, of=4),)) == ""


def test_only_the_last_session_counts(file: Path) -> None:
    port = SimulatedPort()
    keep_check(file, port, YESTERDAY - timedelta(days=3), ())
    before = session_log(warned=4, of=4, started=YESTERDAY - timedelta(days=1))
    assert why_to_check(file, port, (before, session_log(warned=0, of=4))) == ""


def test_without_a_microphone_there_is_nothing_to_look_at(file: Path) -> None:
    assert why_to_check(file, SimulatedPort(listens=False), ()) == ""


def test_an_unreadable_file_counts_as_new(file: Path) -> None:
    port = SimulatedPort()
    file.write_text("{]")
    assert why_to_check(file, port, ()) == NEW
    keep_check(file, port, NOON.replace(tzinfo=None), ())
    assert why_to_check(file, port, ()) == NEW, "no moment without its offset compares with ours"


def test_what_was_found_is_kept_beside_the_delay(tmp_path: Path) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path)})
    paths.calibration_file.write_text('{"delay": {"frames": 1}}')
    asked = check_due(paths.calibration_file, SimulatedPort(), (), datetime.now().astimezone())
    assert asked is not None
    asked.keep((Finding.NOISE,))
    text = paths.calibration_file.read_text()
    assert '"delay"' in text
    assert '"noise"' in text
    assert (
        check_due(paths.calibration_file, SimulatedPort(), (), datetime.now().astimezone()) is None
    )


def played_at(started: datetime, *levels_db: float | None, heard_from: str = "") -> SessionLog:
    """A session with a note of each level, and a far softer one that wasn't asked for."""
    notes = (
        *(NoteLog("D5", level_db=level) for level in levels_db),
        NoteLog("E5", State.EXTRA, level_db=-70.0),
    )
    log = session_log(warned=0, of=1, started=started)
    return replace(
        log, rounds=tuple(replace(r, notes=notes, heard_from=heard_from) for r in log.rounds)
    )


def test_the_players_level_is_the_softest_sessions_since_the_microphone_came(file: Path) -> None:
    port, day = SimulatedPort(), timedelta(days=1)
    sessions = (
        played_at(YESTERDAY - 5 * day, -60.0),
        played_at(YESTERDAY - 3 * day, -31.0, -30.0, None, -20.0),
        played_at(YESTERDAY - 2 * day, -65.0, heard_from="lesson.wav"),
        played_at(YESTERDAY - day, None),
        played_at(YESTERDAY, -25.0),
    )
    assert level_before_db(file, port, sessions) is None, "nothing is known of a new one"
    keep_check(file, port, YESTERDAY - 4 * day, ())
    assert level_before_db(file, port, sessions) == -30.0
    keep_check(file, port, NOON, ())
    assert level_before_db(file, port, sessions) is None
