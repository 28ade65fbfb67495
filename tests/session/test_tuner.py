"""Tuning beside the routine: on its port, at its tuning, and without touching what it has done."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import yaml

from tests.session.conftest import Practice
from trainer.music.pitch import Pitch
from trainer.session.tuner import FOUND, NOT_CLEAR, TOO_WAVERING, WAVERS
from trainer.session.view import DroneAbove, Stage, TunerView
from trainer.sound.port import Samples

RATE = 48000
Build = Callable[..., Practice]
AT_415 = """
title: Two scales
tuning: A4 = 415
exercises:
  - scale: hill
    key: D
    range: one octave
    tempo: 96
    articulations: [slurred]
"""


def tone(hz: float, seconds: float) -> Samples:
    time_s = np.arange(round(seconds * RATE)) / RATE
    sound = sum(np.sin(2 * np.pi * k * hz * time_s) / k for k in (1, 2, 3))
    return (0.1 * np.asarray(sound)).astype(np.float32)


def tuning(practice: Practice) -> TunerView:
    tuner = practice.view().tuner
    assert tuner is not None
    return tuner


def play(practice: Practice, hz: float, seconds: float = 1.0) -> TunerView:
    """What the tuner shows while this sounds."""
    practice.port.sing(tone(hz, seconds), practice.port.now_frame())
    practice.pass_time(seconds)
    return tuning(practice)


def test_what_sounds_is_named_with_its_cents_at_the_routines_a(practice_of: Build) -> None:
    practice = practice_of(AT_415, plays=False)
    practice.do(lambda: practice.session.tune(True))
    seen = play(practice, 415 * 2 ** (5 / 12) * 2 ** (7 / 1200))
    assert seen.written == Pitch.parse("D5")
    assert seen.cents == pytest.approx(7, abs=1)
    assert seen.a4_hz == 415
    practice.pass_time(1.0)
    assert tuning(practice).stands_s == 0
    assert tuning(practice).written == Pitch.parse("D5"), "what sounded last stays to be read"


def test_above_a_drone_a_pure_third_is_in_tune_and_a_tempered_one_sharp(practice_of: Build) -> None:
    practice = practice_of(plays=False)
    practice.do(lambda: practice.session.tune(True))
    practice.do(lambda: practice.session.sound_drone(Pitch.parse("D4")))
    third_hz = 440 * 2 ** (-7 / 12) * 5 / 4
    assert play(practice, third_hz).cents == pytest.approx(0, abs=1)
    practice.do(lambda: practice.session.sound_drone(Pitch.parse("D4"), pure=False))
    assert play(practice, third_hz).cents == pytest.approx(-13.7, abs=1), "Helmholtz: 386.3 cents"


@pytest.mark.parametrize(("drone", "third"), [("B4", "D#5"), ("C#4", "E#4"), ("Ab4", "C5")])
def test_the_third_above_any_drone_is_its_major_third(
    practice_of: Build, drone: str, third: str
) -> None:
    practice = practice_of(plays=False)
    practice.do(lambda: practice.session.tune(True))
    practice.do(lambda: practice.session.sound_drone(Pitch.parse(drone)))
    hz = 440 * 2 ** ((Pitch.parse(drone).midi - 69) / 12) * 5 / 4
    seen = play(practice, hz)
    assert seen.written is not None
    assert seen.written.midi == Pitch.parse(third).midi
    assert seen.cents == pytest.approx(0, abs=1), "Helmholtz: a pure third is 5/4 of the drone"


@pytest.mark.parametrize(
    ("above", "pure"),
    [
        (DroneAbove.NOTHING, True),
        (DroneAbove.FIFTH, False),
        (DroneAbove.FIFTH_AND_OCTAVE, True),
        (DroneAbove.FIFTH_AND_OCTAVE, False),
    ],
)
def test_the_drone_holds_without_a_seam_and_falls_silent_at_the_end(
    practice_of: Build, above: DroneAbove, pure: bool
) -> None:
    practice = practice_of(plays=False)
    practice.do(lambda: practice.session.tune(True))
    practice.do(lambda: practice.session.sound_drone(Pitch.parse("C4"), pure=pure, above=above))
    practice.pass_time(13.0)
    end = practice.port.now_frame()
    held = practice.port.played(end - 12 * RATE, end).astype(float)
    levels_db = 20 * np.log10(np.sqrt(np.mean(held.reshape(-1, RATE // 10) ** 2, axis=1)))
    assert levels_db.max() - levels_db.min() < 0.5
    spectrum = np.abs(np.fft.rfft(held * np.hanning(held.size))) / held.size
    loud_hz = np.flatnonzero(spectrum > 0.05 * spectrum.max()) / 12
    c4_hz = 440 * 2 ** (-9 / 12)
    fifth = above is not DroneAbove.NOTHING
    asked = {1.0: True, 3 / 2: fifth and pure, 2 ** (7 / 12): fifth and not pure}
    for ratio, there in asked.items():
        assert bool((np.abs(loud_hz - ratio * c4_hz) < 0.1).any()) is there
    practice.do(lambda: practice.session.tune(False))
    practice.pass_time(2.0)
    end = practice.port.now_frame()
    assert np.abs(practice.port.played(end - RATE, end)).max() < 1e-4


def test_the_note_somebody_gives_is_heard_or_not_claimed(practice_of: Build) -> None:
    """By A3, and by B flat: f = A4 · 2^((n - 69)/12) (UNSW Music Acoustics)."""
    practice = practice_of(plays=False)
    practice.do(lambda: practice.session.tune(True))
    for given, hz in (("A4", 221.2), ("Bb4", 442.4 * 2 ** (1 / 12))):
        practice.do(lambda given=given: practice.session.listen_for_a(Pitch.parse(given)))
        assert given in tuning(practice).words
        play(practice, hz, 4.5)
        assert tuning(practice).heard_a4_hz == pytest.approx(442.4, abs=0.1)
        assert tuning(practice).words == FOUND.format(hz=442.4)
    practice.do(lambda: practice.session.listen_for_a(Pitch.parse("C5")))
    play(practice, 442.4, 5.0)
    assert tuning(practice).heard_a4_hz is None, "an A is no C"
    assert tuning(practice).words == NOT_CLEAR.format(note="C5")


@pytest.mark.parametrize(("away_hz", "offered"), [(0.55, True), (2.0, False)])
def test_a_note_that_wavers_is_heard_longer_and_offered_where_its_middle_is_known(
    practice_of: Build, away_hz: float, offered: bool
) -> None:
    practice = practice_of(plays=False)
    practice.do(lambda: practice.session.tune(True))
    practice.do(lambda: practice.session.listen_for_a(Pitch.parse("A4")))
    seconds = np.arange(10 * RATE) / RATE
    course_hz = 442.0 + away_hz * np.sign(np.sin(2 * np.pi * seconds / 3))
    sound = 0.1 * np.sin(2 * np.pi * np.cumsum(course_hz) / RATE)
    practice.port.sing(sound.astype(np.float32), practice.port.now_frame())
    practice.pass_time(4.5)
    assert tuning(practice).words == WAVERS.format(note="A4")
    assert tuning(practice).a_seconds_left is not None
    practice.pass_time(5.5)
    if offered:
        assert tuning(practice).heard_a4_hz == pytest.approx(442.0, abs=0.3)
    else:
        assert tuning(practice).heard_a4_hz is None
        assert tuning(practice).words == TOO_WAVERING.format(note="A4")


def test_the_routine_waits_and_loses_nothing(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.AFTER)
    practice.do(lambda: practice.session.tune(True))
    practice.pass_time(30.0)
    assert practice.view().stage is Stage.AFTER, "no round counts in while one tunes"
    practice.do(lambda: practice.session.tune(False))
    practice.until(Stage.COUNT_IN)
    practice.until(Stage.AFTER)
    practice.do(practice.session.stop)
    (text,) = practice.journal_texts()
    assert len(yaml.safe_load(text)["rounds"]) == 2


def test_a_note_at_the_tuner_begins_no_round(practice_of: Build) -> None:
    practice = practice_of(plays=False)
    practice.do(practice.session.advance)
    assert practice.view().stage is Stage.READY
    practice.do(lambda: practice.session.tune(True))
    play(practice, 440 * 2 ** (-7 / 12))
    practice.do(lambda: practice.session.tune(False))
    practice.pass_time(1.0)
    assert practice.view().stage is Stage.READY
    play_hz = 440 * 2 ** (-7 / 12)
    practice.port.sing(tone(play_hz, 1.0), practice.port.now_frame())
    practice.pass_time(0.6)
    assert practice.view().stage is Stage.PLAYING


def test_no_tuner_opens_while_a_round_sounds(practice_of: Build) -> None:
    practice = practice_of()
    practice.do(practice.session.advance)
    practice.do(practice.session.advance)
    practice.until(Stage.PLAYING)
    practice.do(lambda: practice.session.tune(True))
    assert practice.view().tuner is None


def test_a_device_that_comes_back_is_heard_again(practice_of: Build) -> None:
    practice = practice_of(plays=False)
    practice.do(lambda: practice.session.tune(True))
    practice.do(lambda: practice.session.sound_drone(Pitch.parse("A4")))
    practice.pass_time(2.0)
    practice.port.lose("The microphone was unplugged.")
    practice.pass_time(1.0)
    practice.port.come_back("It is back.")
    practice.pass_time(1.5)
    end = practice.port.now_frame()
    assert np.abs(practice.port.played(end - RATE // 2, end)).max() > 0.05, "the drone goes on"
    assert play(practice, 880.0).written == Pitch.parse("A5")
    assert tuning(practice).cents == pytest.approx(0, abs=1)
