"""Every planted habit must be in the sound, and have a name to be found by."""

from __future__ import annotations

from dataclasses import fields, replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest

from trainer.music.articulations import articulated
from trainer.music.note import Articulation, Mark, Note, Start
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning
from trainer.player.flutist import Flutist
from trainer.player.habits import (
    EXAMPLES,
    Blip,
    Habits,
    LateStep,
    WrongNote,
    planted,
    practised,
)

EXACT = Habits(vibrato_cents=0.0, human_timing_ms=0.0, human_cents=0.0, human_level_db=0.0)
HALF = Fraction(1, 2)


def cents_heard(analysis, habits: Habits, notes) -> list[float]:
    played = Flutist(habits, seed=1).play(notes, 60, Tuning())
    return [
        Tuning().cents(
            analysis.mean_hz(
                played.samples,
                Tuning().hz(expected.pitch),
                note.onset_s + 0.15,
                note.end_s - 0.1,
            ),
            expected.pitch,
        )
        for expected, note in zip(notes, played.truth, strict=True)
    ]


def test_the_top_is_sharp_and_the_low_register_flat(row, analysis):
    notes = row("C4 G4 D5 A5 C#6 G6 C7", length=Fraction(1))
    habits = replace(EXACT, sharp_top_cents=28.0, flat_low_cents=20.0)
    low_c, low_g, *middle, high_g, top = cents_heard(analysis, habits, notes)
    assert low_c == pytest.approx(-20, abs=2)
    assert -12 < low_g < -6
    assert middle == pytest.approx([0, 0, 0], abs=2)
    assert 10 < high_g < 22
    assert top == pytest.approx(28, abs=2)


def test_who_tires_gets_softer_and_not_louder(row, analysis):
    """Nothing is lost at the first note, all of it at the end; the last of ten begins at 90 %."""
    notes = row(" ".join(["A5"] * 10), length=HALF)

    def levels_db(habits: Habits) -> list[float]:
        played = Flutist(habits, seed=1).play(notes, 60, Tuning())
        return [
            analysis.level_db(analysis.part(played.samples, n.onset_s + 0.1, n.end_s - 0.1))
            for n in (played.truth[0], played.truth[-1])
        ]

    fresh, tired = levels_db(EXACT), levels_db(replace(EXACT, tired_fade_db=10.0))
    lost_db = np.subtract(fresh, tired)
    assert lost_db == pytest.approx([0.0, 9.0], abs=0.3)


def test_a_soft_stroke_hisses_less_than_a_hard_one(row, analysis):
    """Above 6 kHz, where there is consonant and little tone; the middle of three dozen strokes."""

    def stroke_db(articulation: Articulation) -> float:
        notes = row(" ".join(["D5"] * 13), articulation, HALF)
        strokes = []
        for seed in (1, 2, 3):
            played = Flutist(EXACT, seed=seed).play(notes, 60, Tuning())
            hiss_db = analysis.envelope_db(analysis.band(played.samples, 6000, 14000))
            strokes += [
                analysis.part(hiss_db, n.onset_s - 0.002, n.onset_s + 0.02).max()
                for n in played.truth[1:]
            ]
        return float(np.median(strokes))

    assert stroke_db(Articulation.LEGATO_TONGUE) < stroke_db(Articulation.SINGLE) - 0.5


def pitch_arrives_s(analysis, played, low: str, high: str) -> float:
    """When the pitch passes half-way between two notes, by instantaneous frequency."""
    edges = Tuning().hz(Pitch.parse(low)), Tuning().hz(Pitch.parse(high))
    track = analysis.hz_track(played.samples, edges[0] * 0.85, edges[1] * 1.2)
    inside = analysis.part(track, played.truth[0].onset_s + 0.1, played.truth[-1].end_s - 0.1)
    passed = np.argmax(inside > np.sqrt(edges[0] * edges[1]))
    return float(passed / analysis.rate_hz + played.truth[0].onset_s + 0.1)


@pytest.mark.parametrize(
    ("habits", "low", "high"),
    [
        (replace(EXACT, break_late_ms=55.0), "C5", "D5"),
        (replace(EXACT, late_steps=(LateStep(("E5", "F#5"), 55.0),)), "E5", "F#5"),
    ],
)
def test_a_late_step_is_late_by_so_much(row, analysis, habits, low, high):
    notes = row(f"{low} {high}", Articulation.SLURRED, HALF)
    on_time = Flutist(EXACT, seed=1).play(notes, 60, Tuning())
    late = Flutist(habits, seed=1).play(notes, 60, Tuning())
    delay_s = pitch_arrives_s(analysis, late, low, high) - pitch_arrives_s(
        analysis, on_time, low, high
    )
    assert delay_s == pytest.approx(0.055, abs=0.004)


def test_a_blip_sounds_between_two_fingerings(row, analysis):
    habits = replace(EXACT, blips=(Blip(("C5", "D5"), "F5", 40.0),))
    notes = row("C5 D5", Articulation.SLURRED, HALF)
    played = Flutist(habits, seed=1).play(notes, 60, Tuning())
    track = analysis.hz_track(played.samples, 440, 850)
    false = Tuning().hz(Pitch.parse("F5"))
    near_false = np.abs(1200 * np.log2(np.maximum(track, 1) / false)) < 60
    onset_s = played.truth[1].onset_s
    heard_ms = 1000 * analysis.part(near_false, onset_s - 0.1, onset_s + 0.1).sum() / 48000
    assert 22 < heard_ms < 45
    (blip,) = played.blips
    assert (blip.index, blip.midi, blip.end_s) == (1, 77, onset_s)


def test_the_back_stroke_is_weak_and_late(row, analysis):
    habits = replace(EXACT, weak_back_db=6.0, late_back_ms=20.0)
    notes = row("A5 " * 12, Articulation.DOUBLE, Fraction(1, 4))
    played = Flutist(habits, seed=1).play(notes, 80, Tuning())
    tone = analysis.envelope_db(analysis.band(played.samples, 800, 960), 0.01)
    steady = [analysis.part(tone, n.onset_s + 0.06, n.onset_s + 0.11).max() for n in played.truth]
    assert np.mean(steady[::2]) - np.mean(steady[1::2]) == pytest.approx(6.0, abs=0.7)
    starts = analysis.stroke_times_s(played.samples)
    assert len(starts) == 12
    lateness = starts[1:-1:2] - (starts[:-2:2] + starts[2::2]) / 2
    assert np.mean(lateness) == pytest.approx(0.020, abs=0.003)


def test_a_note_slow_to_speak_has_air_before_tone(row, analysis):
    habits = replace(EXACT, slow_to_speak=(("C5", 60.0),))
    note_row = row("C5", length=Fraction(1))

    def tone_begins_s(habits: Habits) -> float:
        played = Flutist(habits, seed=1).play(note_row, 60, Tuning())
        tone = analysis.envelope_db(analysis.band(played.samples, 480, 570), 0.005)
        return float(np.argmax(tone > -30) / 48000)

    assert tone_begins_s(habits) - tone_begins_s(EXACT) == pytest.approx(0.060, abs=0.006)


@pytest.mark.parametrize("percent", [9.0, -9.0])
def test_rushing_gains_tempo_over_the_round(row, analysis, percent):
    notes = row("A4 " * 32, length=HALF)
    habits = replace(EXACT, rush_percent_per_round=percent)
    played = Flutist(habits, seed=1).play(notes, 120, Tuning())
    starts = analysis.stroke_times_s(played.samples)
    assert len(starts) == 32
    gain = np.diff(starts[:4]).mean() / np.diff(starts[-4:]).mean() - 1
    assert 100 * gain == pytest.approx(percent, abs=1.5)


def test_a_wrong_note_sounds_and_is_told_in_the_truth(row, analysis):
    habits = replace(EXACT, wrong_notes=(WrongNote("F#", "F"),))
    played = Flutist(habits, seed=1).play(row("E5 F#5 G5", length=HALF), 60, Tuning())
    wrong = played.truth[1]
    assert (wrong.index, wrong.midi) == (1, Pitch.parse("F5").midi)
    hz = analysis.mean_hz(played.samples, 700.0, wrong.onset_s + 0.1, wrong.end_s - 0.08)
    assert hz == pytest.approx(698.46, rel=0.002)  # F5: UNSW note table, A4 = 440


def test_missed_notes_leave_silence_or_the_note_before(row, analysis):
    habits = replace(EXACT, missed_note_probability=0.3)
    for articulation in (Articulation.SINGLE, Articulation.SLURRED):
        notes = row("A4 B4 " * 8, articulation, HALF)
        played = Flutist(habits, seed=3).play(notes, 60, Tuning())
        sounded = {note.index for note in played.truth}
        lost = [note for note in notes if note.index not in sounded]
        assert lost
        middle_s = played.first_beat_s + float(lost[0].beat + lost[0].length / 2)
        level_db = analysis.level_db(
            analysis.part(played.samples, middle_s - 0.05, middle_s + 0.05)
        )
        assert level_db > -30 if articulation is Articulation.SLURRED else level_db < -90


def test_breath_noise_pinching_and_tiring_are_in_the_sound(row, analysis):
    notes = row("A6 A6", length=Fraction(1))

    def measured(habits: Habits) -> tuple[float, float, float]:
        played = Flutist(habits, seed=1).play(notes, 60, Tuning())
        first, second = (analysis.part(played.samples, at, at + 0.5) for at in (0.6, 1.6))
        noise = analysis.noise_db(first)
        balance = analysis.harmonics_db(first, 1760.0, 3)
        return noise, float(balance[1:].mean()), analysis.level_db(second)

    noise, balance, level = measured(EXACT)
    assert measured(replace(EXACT, extra_breath_noise_db=12.0))[0] - noise > 8
    assert measured(replace(EXACT, pinched_top=1.0))[1] - balance > 8
    assert level - measured(replace(EXACT, tired_fade_db=10.0))[2] == pytest.approx(5.0, abs=1)


def silences_ms(played) -> list[int]:
    """Between each true note and the next."""
    return [round(1000 * (after.onset_s - note.end_s)) for note, after in pairwise(played.truth)]


@pytest.mark.parametrize(
    ("habits", "breath_after"),
    [
        (EXACT, [2]),
        (replace(EXACT, forgotten_breaths=1.0), []),
        (replace(EXACT, late_breaths=2.0), [4]),
    ],
)
def test_a_marked_breath_is_taken_forgotten_or_late(row, habits, breath_after):
    plain = row("C5 D5 E5 F5 G5 A5 B5 C6", Articulation.SLURRED, HALF)
    marked = [replace(note, breath_after=note.index == 2) for note in plain]
    played = Flutist(habits, seed=1).play(articulated(marked, Articulation.SLURRED), 60, Tuning())
    gaps = silences_ms(played)
    assert [index for index, gap in enumerate(gaps) if gap > 100] == breath_after
    tongued = [note.index for note in played.truth if note.start is Start.TONGUED]
    assert tongued == [0, *(index + 1 for index in breath_after)]


def test_a_thin_note_is_free_as_a_harmonic(row, analysis):
    true, other = row("G5 A5", length=Fraction(1))
    harmonic = replace(true, harmonic_of=Pitch.parse("C4"))

    def overtones_db(note: Note, habits: Habits) -> float:
        played = Flutist(habits, seed=1).play([replace(note, beat=Fraction(0))], 60, Tuning())
        hz = Tuning().hz(note.pitch)
        middle = analysis.part(played.samples, 0.6, 1.1)
        return float(analysis.harmonics_db(middle, hz, 4)[2:].mean())

    thin = replace(EXACT, thin_notes=(("G5", 1.0),))
    assert overtones_db(true, thin) - overtones_db(true, EXACT) > 8
    for free in (harmonic, other):
        assert overtones_db(free, thin) == pytest.approx(overtones_db(free, EXACT), abs=0.5)


def test_human_timing_is_of_the_size_asked_for_and_not_white(row):
    notes = row("A4 " * 400)
    played = Flutist(replace(EXACT, human_timing_ms=8.0), seed=1).play(notes, 60, Tuning(), 16000)
    late = np.array([note.onset_s for note in played.truth]) - 0.3 - np.arange(400) / 4
    assert np.std(late) == pytest.approx(0.008, abs=0.0015)
    assert np.corrcoef(late[1:], late[:-1])[0, 1] == pytest.approx(0.4, abs=0.15)


def test_uneven_fingers_are_the_same_ones_in_every_round(row):
    notes = row("C5 D5 E5 F5 G5 A5 B5 C6 " * 4)
    habits = replace(EXACT, uneven_ms=20.0)

    def late_s(round_number: int):
        played = Flutist(habits, seed=1).play(notes, 60, Tuning(), 16000, round_number)
        return np.array([note.onset_s for note in played.truth]) - 0.3 - np.arange(32) / 4

    assert late_s(2) == pytest.approx(late_s(1), abs=1e-9)
    assert late_s(1)[8:16] == pytest.approx(late_s(1)[16:24], abs=1e-9)
    assert 0.010 < np.std(late_s(1)[8:16]) < 0.035


def test_a_sagging_note_sinks_and_keeps_its_middle(row, analysis):
    habits = replace(EXACT, sagging_cents=20.0)
    played = Flutist(habits, seed=1).play(row("A5", length=Fraction(4)), 60, Tuning())
    note = played.truth[0]
    hz = [
        analysis.mean_hz(played.samples, 880.0, note.onset_s + at, note.onset_s + at + 0.4)
        for at in (0.2, 1.8, 3.4)
    ]
    begins, middle, ends = 1200 * np.log2(np.array(hz) / 880)
    assert begins - ends == pytest.approx(20 * 3.2 / 4, abs=2)
    assert middle == pytest.approx(0, abs=1)
    assert note.cents == pytest.approx(0, abs=1)


def test_a_constant_lead_is_innocent(row):
    ahead = Flutist(replace(EXACT, lead_ms=-25.0), seed=1).play(row("A4 B4"), 60, Tuning())
    assert [n.onset_s for n in ahead.truth] == pytest.approx([0.275, 0.525])
    assert planted(EXAMPLES["ahead of the beat"]) == ()


def test_what_is_planted_has_a_name():
    assert planted(Habits()) == ()
    assert planted(EXAMPLES["weak back stroke"]) == ("weak_back_db", "late_back_ms")
    for name, habits in EXAMPLES.items():
        innocent = name in ("clean", "ahead of the beat")
        assert innocent == (planted(habits) == ()), name


def test_every_fault_can_be_met_in_an_example():
    shown = {name for habits in EXAMPLES.values() for name in planted(habits)}
    humanity = {"lead_ms", "human_timing_ms", "human_cents", "human_level_db"}
    vibrato = {"vibrato_hz", "vibrato_cents"}
    assert shown == {field.name for field in fields(Habits)} - humanity - vibrato


@pytest.mark.parametrize("name", EXAMPLES)
def test_practice_halves_every_fault_and_leaves_the_person(name):
    before = EXAMPLES[name]
    after = practised(before, days=9.0, half_life_days=9.0)
    assert after.human_timing_ms == before.human_timing_ms
    assert after.sharp_top_cents == before.sharp_top_cents / 2
    assert after.missed_note_probability == before.missed_note_probability / 2
    assert [step.ms for step in after.late_steps] == [step.ms / 2 for step in before.late_steps]
    assert [blip.ms for blip in after.blips] == [blip.ms / 2 for blip in before.blips]
    assert practised(before, days=0.0) == before


@pytest.mark.parametrize("name", ["H4", "C", ""])
def test_a_habit_on_a_note_that_does_not_exist_is_refused(row, name):
    habits = Habits(late_steps=(LateStep((name, "D5"), 40.0),))
    with pytest.raises(ValueError, match="is not a note"):
        Flutist(habits).play(row("C5 D5"), 60, Tuning())


def test_a_dot_before_a_rest_shortens_the_note_and_not_the_rest(row):
    notes = [replace(note, mark=Mark.STACCATO) for note in row("A4 B4")]
    apart = [notes[0], replace(notes[1], beat=Fraction(8))]
    dotted = Flutist(EXACT, seed=1).play(apart, 60, Tuning()).truth[0]
    beat_s = float(notes[0].length)
    assert 0.3 * beat_s < dotted.end_s - dotted.onset_s < beat_s
