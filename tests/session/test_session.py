"""The session walks a routine without a screen."""

from __future__ import annotations

import threading
from collections.abc import Callable

import numpy as np
import pytest
import yaml

from tests.session.conftest import Practice
from trainer.coach.advice import Topic
from trainer.coach.ladder import Felt
from trainer.ear.heard import State
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning
from trainer.player.habits import Habits
from trainer.practise import ticking
from trainer.session import Stage
from trainer.sound.click import PEAKS, Tap

Build = Callable[..., Practice]

CLIMB = """
title: Up
exercises:
  - speed climb: up
    key: D
    range: one octave
    from: 80
    to: 160
    within: 3 minutes
"""


def test_walks_from_today_to_the_end(practice_of: Build) -> None:
    practice = practice_of()
    assert practice.view().stage is Stage.TODAY
    assert practice.view().today.lines[0].title == "D major, one octave"
    view = practice.do(practice.session.advance)
    assert view.stage is Stage.READY
    assert view.round is not None
    assert view.round.words == "Let it roll."
    assert practice.do(practice.session.advance).stage is Stage.COUNT_IN
    practice.until(Stage.PLAYING)
    after = practice.until(Stage.AFTER)
    assert after.take is not None
    assert after.take.measures.missed == 0
    assert after.advice is not None
    assert practice.until(Stage.COUNT_IN, most_s=15).round.articulation == "single"  # type: ignore[union-attr]
    practice.until(Stage.READING)
    assert practice.do(practice.session.advance).stage is Stage.REST
    practice.until(Stage.ENDED, most_s=40)
    (text,) = practice.journal_texts()
    log = yaml.safe_load(text)
    assert [round_["articulation"] for round_ in log["rounds"]] == ["slurred", "single"]
    assert log["ended"] is not None


def test_every_finished_round_is_on_disk_before_the_next(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    assert practice.journal_texts() == []
    practice.until(Stage.AFTER)
    (text,) = practice.journal_texts()
    assert len(yaml.safe_load(text)["rounds"]) == 1


def test_count_in_clicks_stand_on_the_beat(practice_of: Build) -> None:
    practice = practice_of(plays=False)
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    began = practice.port.now_frame()
    practice.pass_time(8)
    played = np.abs(practice.port.played(began, practice.port.now_frame()))
    loud = np.flatnonzero(played > 0.5 * PEAKS[Tap.BEAT])
    onsets = loud[np.flatnonzero(np.diff(loud, prepend=-48000) > 4800)]
    assert len(onsets) == 4 + 5
    assert np.ptp(np.diff(onsets)) <= 20  # accents reach half the beat's height a little sooner
    assert abs(np.median(np.diff(onsets)) - 48000 * 60 / 96) <= 1


def test_live_notes_answer_while_the_round_sounds(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.pass_time(1.0)
    view = practice.view()
    assert view.beat is not None
    assert view.note_due is not None
    answered = {note.index for note in view.live_notes}
    assert answered >= set(range(view.note_due - 1))
    assert all(abs(note.cents or 0) < 20 for note in view.live_notes)
    assert view.trail


def test_a_constant_lag_is_not_shown_as_late(practice_of: Build) -> None:
    practice = practice_of(habits=Habits(lead_ms=70.0))
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.pass_time(1.6)
    placed = [note.off_beat_ms for note in practice.view().live_notes]
    assert len(placed) > 6
    assert all(abs(off_ms) < 30 for off_ms in placed if off_ms is not None)


def test_a_round_begins_by_simply_playing(practice_of: Build) -> None:
    practice = practice_of()
    view = practice.do(practice.session.advance)
    assert view.stage is Stage.READY
    hz = Tuning().hz(Pitch.parse("D4"))
    time_s = np.arange(24000) / 48000
    tone = (0.1 * np.sin(2 * np.pi * hz * time_s)).astype(np.float32)
    at = practice.port.now_frame() + 4800
    practice.port.sing(tone, at)
    practice.until(Stage.PLAYING, most_s=1.0)
    beat = practice.view().beat
    assert beat is not None
    elapsed_beats = (practice.port.now_frame() - at) / 48000 / (60 / 96)
    assert abs(beat - elapsed_beats) < 0.05


def test_another_note_does_not_begin_the_round(practice_of: Build) -> None:
    practice = practice_of(plays=False)
    practice.do(practice.session.advance)
    time_s = np.arange(48000) / 48000
    practice.port.sing(
        (0.1 * np.sin(2 * np.pi * 440 * time_s)).astype(np.float32), practice.port.now_frame()
    )
    practice.pass_time(1.5)
    assert practice.view().stage is Stage.READY


def test_silence_is_told_from_bad_playing(practice_of: Build) -> None:
    practice = practice_of(plays=False)
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    view = practice.until(Stage.AFTER)
    assert view.advice is not None
    assert view.advice.topic in (Topic.UNHEARD, Topic.SOUND)
    assert view.take is not None
    assert {note.state for note in view.take.notes} <= {State.MISSED, State.NOT_JUDGED}


def test_without_a_microphone_practice_goes_on(practice_of: Build) -> None:
    practice = practice_of(listens=False)
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    view = practice.until(Stage.AFTER)
    assert not view.listens
    assert view.take is None
    practice.until(Stage.READING)
    (text,) = practice.journal_texts()
    assert len(yaml.safe_load(text)["rounds"]) == 2
    assert "measures" not in yaml.safe_load(text)["rounds"][0]


def test_a_climb_without_a_microphone_follows_what_the_student_says(practice_of: Build) -> None:
    practice = practice_of(CLIMB, listens=False)
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.AFTER)
    practice.do(lambda: practice.session.felt(Felt.EASY))
    view = practice.do(practice.session.advance)
    assert view.round is not None
    assert view.round.tempo_bpm > 80


def test_a_climb_goes_up_and_ends_in_time(practice_of: Build) -> None:
    practice = practice_of(CLIMB)
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    view = practice.until(Stage.ENDED, most_s=400)
    assert view.tempos[0] == 80
    assert max(view.tempos) > 100
    assert view.elapsed_s < 4 * 60


def test_again_slower_faster(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.AFTER)
    assert practice.do(practice.session.again).round.number == 2  # type: ignore[union-attr]
    practice.until(Stage.AFTER)
    slower = practice.do(practice.session.slower)
    assert slower.round is not None
    assert slower.round.tempo_bpm == 89
    assert slower.stage is Stage.COUNT_IN
    faster = practice.do(practice.session.faster)
    assert faster.round is not None
    assert faster.round.tempo_bpm == 96


def test_felt_and_remark_are_written_down(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.AFTER)
    practice.do(lambda: practice.session.felt(Felt.HARD))
    practice.do(lambda: practice.session.remark("Cold fingers."))
    practice.do(practice.session.stop)
    assert practice.view().stage is Stage.ENDED
    (text,) = practice.journal_texts()
    log = yaml.safe_load(text)
    assert log["remark"] == "Cold fingers."
    assert [round_["felt"] for round_ in log["rounds"]] == ["hard"]


def test_stopping_in_a_round_keeps_the_rounds_before(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.AFTER)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.do(practice.session.stop)
    (text,) = practice.journal_texts()
    assert len(yaml.safe_load(text)["rounds"]) == 1


def test_rest_and_skip(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.AFTER)
    assert practice.do(practice.session.rest).stage is Stage.REST
    practice.pass_time(2)
    left = practice.view().seconds_left
    assert left is not None
    assert 50 < left < 60
    view = practice.do(practice.session.advance)
    assert view.stage is Stage.READY
    assert view.round is not None
    assert view.round.articulation == "single"
    assert practice.do(practice.session.skip).stage is Stage.READING


def test_a_practice_folder_that_cant_be_written_is_told_and_costs_nothing(
    practice_of: Build,
) -> None:
    practice = practice_of()
    practice.paths.journal.parent.mkdir(parents=True, exist_ok=True)
    practice.paths.journal.rmdir() if practice.paths.journal.is_dir() else None
    practice.paths.journal.write_text("in the way")
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    view = practice.until(Stage.AFTER)
    assert any("journal" in notice for notice in view.notices)
    practice.paths.journal.unlink()
    practice.do(practice.session.stop)
    (text,) = practice.journal_texts()
    assert len(yaml.safe_load(text)["rounds"]) == 1


def test_notes_a_fault_touched_are_not_judged(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.pass_time(1.0)
    practice.port.fail("Some of what you played was lost.")
    take = practice.until(Stage.AFTER).take
    assert take is not None
    states = [note.state for note in take.expected_notes]
    assert 1 <= states.count(State.NOT_JUDGED) <= 3
    assert states.count(State.PLAYED) == len(states) - states.count(State.NOT_JUDGED)


def test_a_fault_of_our_own_costs_one_round(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.session.recover("Something went wrong.")
    view = practice.view()
    assert view.stage is Stage.READY
    assert view.notices == ("Something went wrong.",)
    practice.do(practice.session.advance)
    practice.until(Stage.AFTER)


def test_the_session_goes_on_when_a_tick_fails(
    practice_of: Build, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    practice = practice_of()
    told = threading.Event()
    recover = practice.session.recover

    def fail() -> None:
        raise ZeroDivisionError

    def recovered(what: str) -> None:
        recover(what)
        monkeypatch.undo()
        told.set()

    monkeypatch.setattr(practice.session, "tick", fail)
    monkeypatch.setattr(practice.session, "recover", recovered)
    with ticking(practice.session):
        assert told.wait(timeout=10)
    assert practice.view().stage is Stage.ENDED
    assert any("those before are kept" in notice for notice in practice.view().notices)
    assert "ZeroDivisionError" in capfd.readouterr().err


def test_a_device_fault_is_told_once(practice_of: Build) -> None:
    practice = practice_of()
    practice.port.fail("The computer was too busy.")
    practice.port.fail("The computer was too busy.")
    practice.session.tick()
    assert practice.view().notices == ("The computer was too busy.",)
