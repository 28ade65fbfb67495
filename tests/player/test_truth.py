"""The truth the flutist hands over, against measurements that know nothing of the renderer."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import aubio
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import Pitch, sharp_name
from trainer.music.tuning import Tuning
from trainer.player.flutist import Flutist
from trainer.player.habits import EXAMPLES, Habits

STEADY = Habits(vibrato_cents=0.0)
SCALE = "C4 D4 E4 F4 G4 A4 B4 C5 D5 E5 F5 G5 A5 B5 C6 D6 E6 F6 G6 A6 B6 C7"


@pytest.mark.parametrize("name", ["C4", "E4", "A4", "D5", "A5", "D6", "A6", "C7"])
@pytest.mark.parametrize("a4_hz", [440.0, 442.0])
def test_true_cents_are_in_the_sound(row, analysis, name, a4_hz):
    tuning = Tuning(a4_hz)
    played = Flutist(Habits(off_cents=9.0), seed=5).play(row(name, length=Fraction(3)), 60, tuning)
    note = played.truth[0]
    hz = analysis.mean_hz(
        played.samples, tuning.hz(Pitch.parse(name)), note.onset_s + 0.1, note.end_s - 0.1
    )
    assert tuning.cents(hz, Pitch.parse(name)) == pytest.approx(note.cents, abs=0.5)


def test_an_independent_pitch_reader_agrees_note_by_note(row):
    """aubio's yinfast (P. Brossier; de Cheveigné & Kawahara 2002, JASA 111:1917), a library."""
    tuning = Tuning()
    notes = row(SCALE, length=Fraction(1))
    played = Flutist(STEADY, seed=2).play(notes, 100, tuning)
    reader = aubio.pitch("yinfast", 2048, 2048, played.sample_rate_hz)
    for note, expected in zip(played.truth, notes, strict=True):
        middle = round((note.onset_s + note.end_s) / 2 * played.sample_rate_hz)
        hz = [
            reader(played.samples[start : start + 2048])[0]
            for start in range(middle - 4096, middle + 4096, 2048)
        ]
        cents = tuning.cents(float(np.median(hz)), expected.pitch)
        assert cents == pytest.approx(note.cents, abs=3.0), str(expected.pitch)


def test_tongued_onsets_are_where_the_hiss_of_the_stroke_begins(row, analysis):
    played = Flutist(seed=3).play(row(SCALE, Articulation.DOUBLE), 100, Tuning())
    starts = analysis.stroke_times_s(played.samples)
    assert starts == pytest.approx([note.onset_s for note in played.truth], abs=0.002)


def test_slurred_onsets_are_where_the_pitch_is_half_way(row, analysis):
    tuning = Tuning()
    notes = row("A4 B4 A4 G4 A4 C5 A4", Articulation.SLURRED)
    played = Flutist(STEADY, seed=4).play(notes, 80, tuning)
    track = analysis.hz_track(played.samples, 330, 620)
    for before, note in zip(played.truth, played.truth[1:], strict=False):
        half_way = tuning.midi_hz((before.midi + note.midi) / 2)
        near = analysis.part(track, note.onset_s - 0.03, note.onset_s + 0.03)
        above = near > half_way
        crossings = np.flatnonzero(above[1:] != above[:-1]) / played.sample_rate_hz - 0.03
        assert np.min(np.abs(crossings)) < 0.003


def test_true_level_and_end_are_in_the_sound(row, analysis):
    played = Flutist(seed=6).play(row("D5 A5 D6", length=Fraction(2)), 60, Tuning())
    for note in played.truth:
        sound = analysis.part(played.samples, note.onset_s, note.end_s)
        assert analysis.level_db(sound) == pytest.approx(note.level_db, abs=0.2)
    envelope = analysis.envelope_db(played.samples)
    last = played.truth[-1]
    assert analysis.part(envelope, last.end_s + 0.01, last.end_s + 0.1).max() < -90
    assert analysis.part(envelope, last.end_s - 0.12, last.end_s - 0.1).min() > -40


def test_beat_zero_stands_where_it_is_said_to(row):
    exact = Habits(human_timing_ms=0.0)
    played = Flutist(exact, seed=1).play(row("G4 A4 B4 C5"), 90, Tuning())
    onsets = [note.onset_s for note in played.truth]
    assert onsets == pytest.approx([played.first_beat_s + n * 60 / 90 / 4 for n in range(4)])


def test_pure_intervals_above_a_drone_are_played(row, analysis):
    """The just major third is 386.31 cents: 5-limit tables of just intonation."""
    tuning = Tuning(440.0, Pitch.parse("A4"))
    pure = replace(STEADY, human_cents=0.0)
    played = Flutist(pure, seed=1).play(row("C#5", length=Fraction(3)), 60, tuning)
    hz = analysis.mean_hz(played.samples, 550.0, 0.5, 3.0)
    assert 1200 * np.log2(hz / 440) == pytest.approx(386.31, abs=1.0)


def test_the_same_seed_and_round_repeat_and_others_differ(row):
    notes = row(SCALE)

    def sound(seed: int, round_number: int) -> bytes:
        player = Flutist(EXAMPLES["student"], seed)
        played = player.play(notes, 120, Tuning(), 16000, round_number)
        return played.samples.tobytes()

    assert sound(7, 1) == sound(7, 1)
    assert len({sound(7, 1), sound(7, 2), sound(8, 1)}) == 3


def test_a_breath_leaves_a_gap_with_a_quiet_inhalation(row, analysis):
    notes = list(row("G4 A4 B4 C5", Articulation.SLURRED, Fraction(1)))
    notes[1] = replace(notes[1], breath_after=True)
    notes[2] = replace(notes[2], start=Start.TONGUED)
    played = Flutist(seed=1).play(notes, 60, Tuning())
    gap_from, gap_to = played.truth[1].end_s, played.truth[2].onset_s
    assert gap_to - gap_from > 0.3
    inhaled = analysis.level_db(analysis.part(played.samples, gap_from + 0.1, gap_to - 0.1))
    assert -75 < inhaled < -50


EIGHTHS = st.integers(1, 8).map(lambda eighths: Fraction(eighths, 8))
ROUNDS = st.lists(
    st.tuples(st.integers(48, 108), EIGHTHS, EIGHTHS, st.sampled_from([*Start]), st.booleans()),
    min_size=1,
    max_size=5,
)


@settings(max_examples=40)
@given(
    round_=ROUNDS,
    tempo_bpm=st.floats(40, 200),
    rate_hz=st.sampled_from([16000, 22050, 44100, 48000, 96000]),
    example=st.sampled_from([*EXAMPLES]),
)
def test_the_whole_family_sounds_at_any_rate(round_, tempo_bpm, rate_hz, example):
    notes, beat = [], Fraction(0)
    for index, (midi, length, rest, start, breath_after) in enumerate(round_):
        pitch = Pitch.parse(sharp_name(midi))
        notes.append(Note(index, pitch, beat, length, start, breath_after))
        beat += length + (rest if rest > Fraction(1, 2) else 0)
    played = Flutist(EXAMPLES[example], 1).play(notes, tempo_bpm, Tuning(), rate_hz)
    assert played.samples.dtype == np.float32
    assert 0.001 < np.max(np.abs(played.samples)) < 1
    for note, after in zip(played.truth, [*played.truth[1:], None], strict=True):
        assert 0 <= note.onset_s <= note.tone_onset_s < note.end_s
        assert note.end_s <= (after.onset_s if after else len(played.samples) / rate_hz)
        assert abs(note.cents) < 60


@pytest.mark.parametrize(("names", "tempo_bpm"), [("", 60), ("A4", 0)])
def test_nothing_to_play_is_said_plainly(row, names, tempo_bpm):
    with pytest.raises(ValueError, match="at least one note and a tempo"):
        Flutist().play(row(names), tempo_bpm, Tuning())
