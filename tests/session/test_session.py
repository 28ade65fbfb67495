"""The session walks a routine without a screen."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml

from tests.session.conftest import NOON, Practice
from trainer.app.begun_walk import take_keeper
from trainer.app.open_session import ticking
from trainer.app.paths import user_paths
from trainer.app.settings import Settings, write_settings
from trainer.coach.advice import Felt, Topic
from trainer.ear.heard import State
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning
from trainer.player.habits import Habits
from trainer.routine.round import PartnerPart
from trainer.session.view import Stage
from trainer.sound import port
from trainer.sound.click import PEAKS, Tap
from trainer.sound.kept_takes import kept_takes
from trainer.sound.partner import Signal
from trainer.sound.stream import WAY_MOVED_WORDS

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

LONG = """
title: One long round
exercises:
  - scale: hill
    key: D
    range: two octaves
    tempo: 60
    articulations: [single]
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
    assert after.take.count(State.MISSED) == 0
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
    assert {note.state for note in view.take.notes} == {State.NOT_JUDGED}
    practice.until(Stage.READING)
    (text,) = practice.journal_texts()
    assert "state: missed" not in text


def test_a_first_round_far_softer_than_on_other_days_is_somebody_elses(practice_of: Build) -> None:
    """And costs a player whose microphone was turned down that one round."""
    practice = practice_of(level_before_db=5.0)
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.pass_time(2.0)
    assert not practice.view().live_notes
    first = practice.until(Stage.AFTER).take
    assert first is not None
    assert {note.state for note in first.notes} == {State.NOT_JUDGED}
    practice.until(Stage.PLAYING)
    practice.pass_time(2.0)
    assert practice.view().live_notes


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


@pytest.mark.slow
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


def test_nothing_is_judged_after_the_sounds_way_moved(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.pass_time(2.0)
    practice.port.fail(WAY_MOVED_WORDS, moved=True)
    take = practice.until(Stage.AFTER).take
    assert take is not None
    states = [note.state for note in take.expected_notes]
    first = states.index(State.NOT_JUDGED)
    assert first >= 2
    assert set(states[:first]) == {State.PLAYED}
    assert set(states[first:]) == {State.NOT_JUDGED}
    advice = practice.view().advice
    assert advice is not None
    assert advice.sentence.startswith(WAY_MOVED_WORDS), "and no other reason is guessed at"


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
        assert told.wait(timeout=300)
    assert practice.view().stage is Stage.ENDED
    assert any("those before are kept" in notice for notice in practice.view().notices)
    assert "ZeroDivisionError" in capfd.readouterr().err


def test_a_device_fault_is_told_once(practice_of: Build) -> None:
    practice = practice_of()
    practice.port.fail("The computer was too busy.")
    practice.port.fail("The computer was too busy.")
    practice.session.tick()
    assert practice.view().notices == ("The computer was too busy.",)


def test_a_lost_device_costs_the_rest_of_one_round(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.pass_time(2.0)
    practice.port.lose("The sound device stopped answering.")
    practice.session.tick()
    view = practice.view()
    assert view.stage is Stage.READY
    assert view.round is not None
    assert view.round.articulation == "slurred"
    assert view.notices[-1] == "The sound device stopped answering."
    (text,) = practice.journal_texts()
    (kept,) = yaml.safe_load(text)["rounds"]
    assert 1.5 < kept["seconds"] < 2.5
    states = [note.get("state", "played") for note in kept["notes"]]
    heard = states.index("not judged")
    assert heard >= 4
    assert states == ["played"] * heard + ["not judged"] * (len(states) - heard)

    practice.port.come_back("The sound is back: headset.")
    practice.session.tick()
    assert practice.view().stage is Stage.READY
    assert practice.do(practice.session.advance).stage is Stage.COUNT_IN
    view = practice.until(Stage.AFTER)
    assert view.take is not None
    assert view.take.count(State.MISSED) == 0
    assert view.notices[-1] == "The sound is back: headset."


def test_a_key_pressed_before_the_sound_is_there_counts_when_it_is(practice_of: Build) -> None:
    practice = practice_of()
    practice.port.lose("Gone.")
    practice.do(practice.session.advance)
    assert practice.do(practice.session.advance).stage is Stage.READY
    practice.port.come_back("Back.")
    practice.session.tick()
    assert practice.view().stage is Stage.COUNT_IN


def test_a_device_lost_in_the_count_in_leaves_nothing_behind(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.pass_time(1.0)
    practice.port.lose("Gone.")
    practice.session.tick()
    assert practice.view().stage is Stage.READY
    assert practice.journal_texts() == []


def test_a_stream_that_slipped_is_started_afresh_after_the_round(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.port.slipped = True
    practice.until(Stage.AFTER)
    practice.pass_time(0.1)
    assert practice.port.restarts == 1


def test_a_stream_that_began_a_block_late_is_put_right_in_the_count_in(practice_of: Build) -> None:
    practice = practice_of()
    practice.port.bleed = 0.05
    practice.port.delay_frames = 2048
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    take = practice.until(Stage.AFTER).take
    assert abs(practice.port.round_trip_frames - 2048) <= 24
    assert any("takes a little longer on its way" in notice for notice in practice.view().notices)
    assert take is not None
    assert abs(practice.measures()["lead_ms"]) < 10
    assert take.count(State.MISSED) == 0


def test_notes_after_a_changed_round_trip_are_not_judged(practice_of: Build) -> None:
    practice = practice_of(LONG)
    practice.port.bleed = 0.2
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.pass_time(4.0)
    practice.port.delay_frames = 2400
    take = practice.until(Stage.AFTER).take
    assert take is not None
    assert abs(practice.port.round_trip_frames - 2400) <= 48
    states = [note.state for note in take.expected_notes]
    assert states[0] is State.PLAYED
    assert states[-1] is State.NOT_JUDGED
    assert State.MISSED not in states


def test_a_changing_tempo_is_followed_by_ear_and_screen(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    course = practice.session._walk._place.course
    assert course is not None
    quickening = tuple(replace(round_, end_tempo_share=1.4) for round_ in course.pending)
    practice.session._walk._place.course = replace(course, pending=quickening)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.pass_time(2.0)
    view = practice.view()
    assert view.round is not None
    assert view.beat == pytest.approx(view.round.pace.beat_at(2.0), abs=0.1)
    after = practice.until(Stage.AFTER)
    assert after.take is not None
    assert after.take.count(State.MISSED) == 0
    assert practice.measures()["evenness_ms"] < 15
    assert after.advice is not None
    assert after.advice.topic is Topic.SECURE  # who goes with the click neither rushes nor drags


def test_the_partner_leads_and_the_student_answers(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    course = practice.session._walk._place.course
    assert course is not None
    round_ = replace(course.pending[0], partner=PartnerPart.LEADS)
    practice.session._walk._place.course = replace(course, pending=(round_,))
    began = practice.port.now_frame()
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    lead_in_s = (practice.port.now_frame() - began) / 48000
    assert lead_in_s == pytest.approx(round_.lead_in_beats * round_.beat_s, abs=0.5)
    assert round_.call_beats >= round_.beats
    call_frame = practice.port.now_frame() - round(round_.call_beats * round_.beat_s * 48000)
    sounded = practice.port.played(call_frame, practice.port.now_frame())
    assert np.sqrt(np.mean(sounded**2)) > 0.02
    take = practice.until(Stage.AFTER).take
    assert take is not None
    assert take.count(State.MISSED) == 0


def test_a_take_is_heard_again_and_slower(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    assert not practice.view().can_hear_again
    assert practice.until(Stage.AFTER).can_hear_again
    loud_s = []
    for speed in (1.0, 0.5):
        practice.do(lambda speed=speed: practice.session.hear_again(speed))  # type: ignore[misc]
        began = practice.port.now_frame()
        left_s = practice.view().seconds_left
        assert left_s is not None
        practice.pass_time(left_s - 1.0)
        assert practice.view().stage is Stage.AFTER
        played = np.abs(practice.port.played(began, practice.port.now_frame()))
        sounding = np.flatnonzero(played > 0.05)
        loud_s.append(np.ptp(sounding) / 48000)
        assert 0.35 < played.max() < 0.55  # phases differ at half speed, and with them the peak
    assert loud_s[1] == pytest.approx(2 * loud_s[0], rel=0.1)


def test_of_what_the_microphone_heard_only_the_round_is_kept(
    practice_of: Build, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before and after it all but the last seconds is forgotten."""
    monkeypatch.setattr(port, "REMEMBERED_S", 2.0)
    practice = practice_of()

    def room_sounds() -> None:
        practice.port.sing(np.full(60 * 48000, 0.001, np.float32), practice.port.now_frame())

    def kept_s() -> float:
        return np.count_nonzero(practice.port.read(0, practice.port.heard_frame())) / 48000

    room_sounds()
    few_s = 2.2
    practice.pass_time(10.0)
    assert 2.0 <= kept_s() < few_s
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    room_sounds()
    begun_s = practice.port.now_frame() / 48000
    practice.until(Stage.AFTER)
    lasted_s = practice.port.now_frame() / 48000 - begun_s
    assert kept_s() >= lasted_s > few_s
    practice.pass_time(0.1)
    assert kept_s() < few_s


def test_what_is_heard_again_stops_for_the_next_round(practice_of: Build) -> None:
    practice = practice_of(plays=True)
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.AFTER)
    practice.do(practice.session.hear_again)
    practice.pass_time(1.0)
    assert practice.do(practice.session.advance).stage is Stage.COUNT_IN
    began = practice.port.now_frame()
    practice.pass_time(0.2)
    faded = practice.port.played(began + 2400, practice.port.now_frame())
    assert np.abs(faded).max() == 0.0


def test_a_microphone_that_is_unplugged_is_noticed_within_a_second_and_a_half(
    practice_of: Build,
) -> None:
    practice = practice_of(LONG)
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    room = 1e-4 * np.random.default_rng(1).standard_normal(60 * 48000)
    practice.port.sing(room.astype(np.float32), practice.port.now_frame())
    practice.until(Stage.PLAYING)
    practice.pass_time(3.0)
    assert practice.view().stage is Stage.PLAYING
    practice.port.fall_silent(0)
    practice.pass_time(1.5)
    view = practice.view()
    assert view.stage is Stage.READY
    assert "gave no sound at all" in view.notices[-1]
    assert practice.port.restarts == 1
    (text,) = practice.journal_texts()
    (kept,) = yaml.safe_load(text)["rounds"]
    states = Counter(note.get("state", "played") for note in kept["notes"])
    assert states["played"] > 5
    assert states["not judged"] > 5
    assert "missed" not in states


class Hum:
    """A voice like no other."""

    def line(self, tones: Sequence[tuple[float, int]], rate: int) -> Signal:
        return np.full(sum(frames for _, frames in tones), 0.001 * rate / 48000)


def test_the_partner_plays_with_the_voice_that_is_set(practice_of: Build) -> None:
    practice = practice_of(LONG + "    partner: same notes\n", voice=Hum(), plays=False)
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.pass_time(1.0)
    played = practice.port.played(practice.port.now_frame() - 12000, practice.port.now_frame())
    assert np.median(np.abs(played)) == pytest.approx(0.001)


def test_takes_are_kept_only_when_asked_for(practice_of: Build, tmp_path: Path) -> None:
    paths = user_paths({"TRAINER_HOME": str(tmp_path / "home")})
    assert take_keeper(paths, lambda: NOON) is None
    write_settings(paths.config_file, Settings(keep_takes=True))
    keep = take_keeper(paths, lambda: NOON)
    assert keep is not None
    practice = practice_of(keep_take=keep)
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.AFTER)
    (take,) = kept_takes(paths.takes)
    assert take.name == "2026-03-02 120000 D major one octave slurred 96.flac"


@pytest.mark.parametrize(("bleed", "told"), [(0.02, False), (1.0, True)])
def test_headphones_are_advised_when_the_partner_comes_back_loud(
    practice_of: Build, bleed: float, told: bool
) -> None:
    practice = practice_of()
    practice.port.bleed = bleed
    practice.do(practice.session.advance)
    course = practice.session._walk._place.course
    assert course is not None
    loud = replace(course.pending[0], partner=PartnerPart.OCTAVE_BELOW)
    practice.session._walk._place.course = replace(course, pending=(loud,))
    practice.do(practice.session.advance)
    practice.until(Stage.AFTER)
    assert any("headphones" in notice for notice in practice.view().notices) is told
