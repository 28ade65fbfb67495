"""What is asked of the sound is in the sound: pulses, swells, colours, settling, short breath."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from tests.player.test_habits import EXACT
from tests.sweeps import mostly_slow
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning
from trainer.player.flutist import Flutist
from trainer.player.habits import Habits
from trainer.player.shaping import PLAIN, Shaping

RATE = 48000
LONG = Fraction(5)


def played(row, habits: Habits, shaping: Shaping, names: str = "A4"):
    return Flutist(habits, seed=2).play(
        row(names, length=LONG), 60, Tuning(), RATE, shaping=shaping
    )


def cents_track(analysis, performance, name: str = "A4"):
    hz = Tuning().hz(Pitch.parse(name))
    track = analysis.hz_track(performance.samples, 0.8 * hz, 1.25 * hz)
    note = performance.truth[0]
    return 1200 * np.log2(analysis.part(track, note.onset_s + 0.4, note.end_s - 0.3) / hz)


def rate_of(track) -> float:
    power = np.abs(np.fft.rfft((track - track.mean()) * np.hanning(len(track)), 8 * len(track)))
    freqs = np.fft.rfftfreq(8 * len(track), 1 / RATE)
    inside = (freqs > 0.7) & (freqs < 12)
    return float(freqs[inside][np.argmax(power[inside])])


@pytest.mark.parametrize("pulses_hz", mostly_slow([2.0, 4.0, 6.0], 2))
def test_pulses_come_at_the_rate_asked_for(row, analysis, pulses_hz):
    track = cents_track(analysis, played(row, Habits(human_cents=0), Shaping(pulses_hz=pulses_hz)))
    assert rate_of(track) == pytest.approx(pulses_hz, abs=0.2)


def test_a_straight_tone_is_straight_unless_the_habit_is_restless(row, analysis):
    straight = Shaping(pulses_hz=0.0)
    calm = cents_track(analysis, played(row, Habits(human_cents=0), straight))
    moving = cents_track(
        analysis, played(row, Habits(human_cents=0, restless_cents=10.0), straight)
    )
    assert calm.std() < 2.0
    assert moving.std() == pytest.approx(10 / np.sqrt(2), rel=0.25)


def test_a_swell_grows_and_falls_and_the_pitch_follows_only_by_habit(row, analysis):
    swell = Shaping(swell_db=12.0)
    for habits, bend in ((EXACT, 0.0), (replace(EXACT, swell_cents_per_db=2.0), 24.0)):
        performance = played(row, habits, swell)
        note = performance.truth[0]
        level = analysis.envelope_db(performance.samples, 0.05)
        middle_s = (note.onset_s + note.end_s) / 2
        loud = analysis.part(level, middle_s - 0.1, middle_s + 0.1).mean()
        soft = analysis.part(level, note.onset_s + 0.3, note.onset_s + 0.5).mean()
        assert 8.0 < loud - soft < 13.0
        track = cents_track(analysis, performance)
        third = len(track) // 3
        assert track[third : 2 * third].max() - track[: third // 4].mean() == pytest.approx(
            0.8 * bend, abs=6.0
        )


def test_dark_and_bright_differ_in_harmonics_alone(row, analysis):
    levels = []
    for bright_db in (-3.0, 3.0):
        performance = played(row, EXACT, Shaping(bright_db=bright_db), "D5")
        note = performance.truth[0]
        sound = analysis.part(performance.samples, note.onset_s + 0.5, note.end_s - 0.5)
        levels.append(analysis.harmonics_db(sound, Tuning().hz(Pitch.parse("D5")), 4))
        assert note.cents == pytest.approx(0.0, abs=1.5)
    assert (levels[1] - levels[0])[1] == pytest.approx(6.0, abs=1.5)
    assert (levels[1] - levels[0])[3] == pytest.approx(12.0, abs=2.5)


def test_a_settling_note_begins_off_and_is_brought_in(row, analysis):
    habits = replace(EXACT, off_cents=25.0)
    track = cents_track(analysis, played(row, habits, Shaping(settles=True)))
    assert track[: RATE // 20].mean() == pytest.approx(25, abs=5)
    assert track[-RATE:].mean() == pytest.approx(0, abs=3)


def test_a_short_breath_runs_out_inside_the_line(row):
    names = " ".join(["A4", "B4"] * 3)
    one = Flutist(EXACT, seed=2).play(row(names, length=LONG), 60, Tuning(), shaping=PLAIN)
    short = Flutist(replace(EXACT, short_breath=0.5), seed=2).play(
        row(names, length=LONG), 60, Tuning()
    )
    gaps = [max(b.onset_s - a.end_s for a, b in pairwise(p.truth)) for p in (one, short)]
    assert gaps[0] < 0.2 < gaps[1]
