"""Cents against known truth and against the bound no method can pass."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy.signal import chirp

from tests.ear.conftest import FIRST_S, RATE, Hear, scored
from tests.ear.made_flute import Blown
from tests.ear.steady_tones import RATE as MADE_RATE
from tests.ear.steady_tones import in_a_row, in_diffuse_room
from tests.ear.steady_tones import steady as made_steady
from trainer.ear.analysis.features import FeatureStream
from trainer.ear.analysis.frames import frames
from trainer.ear.analysis.harmonic_fit import harmonic_fit
from trainer.ear.analysis.note_pitch import _over_whole_cycles, note_pitch
from trainer.ear.analysis.salience import WEAK_FUNDAMENTAL_BELOW_MIDI
from trainer.ear.hear import hear
from trainer.ear.heard import HeardNote, State
from trainer.ear.segments.note_segment import NoteSegment
from trainer.ear.segments.segment_measures import MeasurementCache, evidence
from trainer.ear.transcribe import transcribe
from trainer.music.note import Note, Start
from trainer.music.pitch import Pitch
from trainer.music.tuning import Tuning


def steady(midi: float, seconds: float, snr_db: float, dice: np.random.Generator, rate: int = RATE):
    """Five harmonics in white noise; snr_db is the whole tone's power against the noise's."""
    hz = 440 * 2 ** ((midi - 69) / 12)
    levels = np.array(
        [a for k, a in enumerate((1.0, 0.6, 0.3, 0.2, 0.1), 1) if k * hz < 0.45 * rate]
    )
    levels *= 0.1 / np.sqrt(np.sum(levels**2) / 2)
    time_s = np.arange(round(seconds * rate)) / rate
    phases = dice.uniform(0, 2 * np.pi, levels.size)
    tone = sum(
        a * np.sin(2 * np.pi * hz * k * time_s + p)
        for k, (a, p) in enumerate(zip(levels, phases, strict=True), 1)
    )
    return tone + dice.standard_normal(time_s.size) * 0.1 * 10 ** (-snr_db / 20), hz, levels


@pytest.mark.parametrize("midi", [60.0, 71.4, 83.0, 96.0])
@pytest.mark.parametrize("snr_db", [10.0, 30.0])
def test_least_squares_comes_near_the_bound(midi: float, snr_db: float) -> None:
    """Cramér–Rao bound of a harmonic tone's fundamental, N samples, noise variance s²:
    24 · s² / (N³ · Σ k² A_k²) rad² per sample² (Nehorai & Porat 1986, IEEE Trans. ASSP 34:1124)."""
    dice = np.random.default_rng(5)
    off_cents, count = [], 0
    for _ in range(40):
        sound, hz, levels = steady(midi, 0.125, snr_db, dice)
        count = sound.size
        fit = harmonic_fit(sound.astype(np.float32), 0, count, hz * 1.002, RATE)
        assert fit is not None
        off_cents.append(1200 * np.log2(fit.hz / hz))
    order = np.arange(1, levels.size + 1)
    variance = 24 * (0.1 * 10 ** (-snr_db / 20)) ** 2 / (count**3 * np.sum((order * levels) ** 2))
    bound_cents = 1200 / np.log(2) * np.sqrt(variance) * RATE / (2 * np.pi) / hz
    assert np.std(off_cents) < 2 * bound_cents


def test_steady_notes_read_within_a_tenth_of_a_cent() -> None:
    dice = np.random.default_rng(9)
    off_cents = []
    for midi in range(60, 97, 3):
        true_cents = dice.uniform(-40, 40)
        sound, _, _ = steady(midi + true_cents / 100, 0.4, 30.0, dice)
        quiet = np.zeros(RATE // 4)
        take = transcribe(np.concatenate([quiet, sound, quiet]).astype(np.float32), RATE, Tuning())
        assert len(take.notes) == 1
        off_cents.append((take.notes[0].cents or 0.0) - true_cents)
    assert np.median(np.abs(off_cents)) <= 0.1
    assert np.percentile(np.abs(off_cents), 95) <= 0.5


@pytest.mark.parametrize("midi", range(60, 97, 4))
def test_no_gross_error_in_strong_noise(midi: int) -> None:
    dice = np.random.default_rng(midi)
    sound, _, _ = steady(midi, 0.3, 10.0, dice)
    quiet = dice.standard_normal(RATE // 4) * 0.1 * 10 ** (-10 / 20)
    take = transcribe(np.concatenate([quiet, sound, quiet]).astype(np.float32), RATE, Tuning())
    assert [round(note.midi or 0) for note in take.notes] == [midi]


@pytest.mark.parametrize("start", [Start.SLURRED, Start.TONGUED])
def test_cents_of_scales_dry(start: Start) -> None:
    off = np.abs(np.concatenate([scored(start, bpm).off_cents() for bpm in (60, 120)]))
    assert np.median(off) <= 0.2
    assert np.percentile(off, 95) <= 1.5


def test_cents_of_a_slurred_scale_in_a_room() -> None:
    off = np.abs(scored(Start.SLURRED, 80, 0.3).off_cents())
    assert np.median(off) <= 1.0
    assert np.percentile(off, 95) <= 6.0


def test_a_second_harmonic_above_the_first_is_no_octave(heard: Hear) -> None:
    """SHARC's C4 has its second harmonic 9.6 dB above the first."""
    notes = [Blown(60, 0.5, 0.9, Start.TONGUED), Blown(61, 0.9, 1.4, Start.SLURRED)]
    take = heard(notes, [60, 61], 37.5)
    assert [round(note.midi or 0) for note in take.notes] == [60, 61]


@pytest.mark.parametrize("rate", [44100, 48000])
def test_both_usual_rates_read_alike(rate: int) -> None:
    got = scored(Start.SLURRED, 100, rate=rate)
    assert got.take.count(State.MISSED) == 0
    assert np.median(np.abs(got.off_cents())) <= 0.2


def test_vibrato(heard: Hear) -> None:
    note = Blown(74, 0.5, 2.0, Start.TONGUED, vibrato_hz=5.3, vibrato_cents=14.0)
    got = heard([note], [74], 10).notes[0]
    assert got.vibrato_hz == pytest.approx(5.3, abs=0.2)
    assert got.vibrato_cents == pytest.approx(14.0, abs=2.0)
    assert got.cents == pytest.approx(0.0, abs=1.0)


def test_a_quick_vibrato_is_as_wide_as_a_slow_one(heard: Hear) -> None:
    """A window of 21 ms rounds off the peaks: by a tenth of what is left where it is forgotten."""
    for hz in (4.0, 8.0):
        note = Blown(74, 0.5, 2.5, Start.TONGUED, vibrato_hz=hz, vibrato_cents=20.0)
        got = heard([note], [74], 10).notes[0]
        assert got.vibrato_cents == pytest.approx(20.0, abs=0.8)


@pytest.mark.parametrize(("decay_s", "is_told"), [(0.3, True), (1.6, False)])
def test_a_vibrato_that_a_hall_flattens_has_no_depth(decay_s: float, is_told: bool) -> None:
    """What goes up and down five times a second keeps 0.8 and 0.26 of its depth in such fields (the
    modulation transfer function, Houtgast & Steeneken 1985, JASA 77:1069)."""
    time_s = np.arange(3 * MADE_RATE) / MADE_RATE
    turns = np.cumsum(440 * 2 ** (0.15 * np.sin(2 * np.pi * 5 * time_s) / 12)) / MADE_RATE
    tone = sum(a * np.sin(2 * np.pi * k * turns) for k, a in ((1, 0.08), (2, 0.05), (3, 0.02)))
    quiet = np.zeros(round((0.5 + decay_s) * MADE_RATE))
    sound = in_diffuse_room(np.concatenate([quiet, tone, quiet]), decay_s, -3)
    sound += np.random.default_rng(2).standard_normal(sound.size) * 10 ** (-72 / 20)
    note = max(transcribe(sound.astype(np.float32), MADE_RATE, Tuning()).notes, key=lasting_s)
    assert (note.vibrato_cents is not None) == is_told
    if is_told:
        assert note.vibrato_cents == pytest.approx(15, rel=0.3)


def lasting_s(note: HeardNote) -> float:
    return (note.end_s or 0.0) - (note.onset_s or 0.0)


@pytest.mark.parametrize(("lasts_s", "hz"), [(0.7, 3.5), (0.7, 5.0), (1.0, 3.5)])
def test_a_cycle_cut_off_does_not_move_the_pitch(heard: Hear, lasts_s: float, hz: float) -> None:
    """The pitch heard is the mean of the modulation (Brown & Vaughn 1996, JASA 100:1728); half a
    cycle more on one side would read some cents off."""
    note = Blown(74, 0.5, 0.5 + lasts_s, Start.TONGUED, vibrato_hz=hz, vibrato_cents=25.0)
    assert heard([note], [74], 10).notes[0].cents == pytest.approx(0.0, abs=0.6)


def test_a_note_whose_pitch_is_lost_in_the_middle_still_has_one() -> None:
    times_s = np.array([0.0, 0.01, 0.3, 0.31])
    midi = _over_whole_cycles(times_s, np.array([73.9, 74.1, 73.9, 74.1]), 4.0)
    assert midi == pytest.approx(74.0)


def test_a_straight_tone_has_no_vibrato(heard: Hear) -> None:
    got = heard([Blown(74, 0.5, 2.0, Start.TONGUED)], [74], 10).notes[0]
    assert got.vibrato_hz is None


def test_a_quarter_of_the_amplitude_is_twelve_decibels_softer() -> None:
    """Level of a field quantity, 20 · lg: ISO 80000-3; the mean power of a sine is half its
    amplitude's square."""
    edge = np.minimum(1.0, np.arange(RATE // 2) / (0.01 * RATE))
    tone = edge * edge[::-1] * np.sin(2 * np.pi * 587.33 * np.arange(RATE // 2) / RATE)
    quiet = np.zeros(RATE // 2)
    sound = np.concatenate([quiet, 0.2 * tone, quiet, 0.05 * tone, quiet])
    sound += 1e-5 * np.random.default_rng(3).standard_normal(sound.size)
    loud, soft = transcribe(sound.astype(np.float32), RATE, Tuning()).notes
    assert loud.level_db == pytest.approx(10 * np.log10(0.2**2 / 2), abs=0.2)
    assert soft.level_db == pytest.approx(10 * np.log10(0.05**2 / 2), abs=0.2)


@pytest.mark.parametrize("rise_s", [0.05, 0.10])
def test_an_attack_ends_at_half_the_power(rise_s: float) -> None:
    """3 dB below is half the power: an amplitude that rises evenly has 1/√2 of its height there."""
    time_s = np.arange(round(0.8 * RATE)) / RATE
    tone = sum(a * np.sin(2 * np.pi * 587.33 * k * time_s) for k, a in enumerate((0.1, 0.03), 1))
    edge = np.minimum(1.0, time_s / rise_s) * np.minimum(1.0, (time_s[-1] - time_s) / 0.03)
    quiet = np.zeros(RATE // 2)
    sound = np.concatenate([quiet, edge * tone, quiet])
    sound += 1e-4 * np.random.default_rng(3).standard_normal(sound.size)
    (note,) = transcribe(sound.astype(np.float32), RATE, Tuning()).notes
    ends_s = (note.onset_s or 0.0) + (note.attack_s or 0.0)
    assert ends_s == pytest.approx(0.5 + rise_s / np.sqrt(2), abs=0.005)


@pytest.mark.parametrize("moves_cents", [-14.0, 14.0])
def test_a_note_that_sinks_is_told_from_one_that_rises(moves_cents: float) -> None:
    """scipy.signal.chirp, logarithmic: the same cents every second."""
    time_s = np.arange(2 * RATE) / RATE
    ends_hz = 587.33 * 2 ** (moves_cents / 1200)
    tone = 0.1 * chirp(time_s, 587.33, 2.0, ends_hz, "logarithmic")
    edge = np.minimum(1.0, np.minimum(time_s, time_s[-1] - time_s) / 0.02)
    quiet = np.zeros(RATE // 4)
    sound = np.concatenate([quiet, edge * tone, quiet])
    sound += 1e-4 * np.random.default_rng(3).standard_normal(sound.size)
    (note,) = transcribe(sound.astype(np.float32), RATE, Tuning()).notes
    assert note.drift_cents == pytest.approx(moves_cents, abs=1.0)


def test_a_higher_pitch_standard_moves_every_reading() -> None:
    got = scored(Start.SLURRED, 100)
    take = hear(got.samples, RATE, got.expected, 100, Tuning(a4_hz=442.0), FIRST_S)
    cents = [n.cents for n in take.notes if n.cents is not None]
    before = [n.cents for n in got.take.notes if n.cents is not None]
    moved = 1200 * np.log2(440 / 442)
    assert np.median(cents) - np.median(before) == pytest.approx(moved, abs=0.1)


def test_the_weak_low_notes_are_those_measured() -> None:
    """SHARC, the Sandell Harmonic Archive (McGill University Master Samples): the flute's notes
    whose strongest harmonic is not the first are C4 C#4 D4 D#4 E4."""
    assert Pitch.parse("E4").midi + 0.5 == WEAK_FUNDAMENTAL_BELOW_MIDI


@pytest.mark.parametrize(("course_midi", "is_known"), [(69.3, True), (69.45, False)])
def test_no_cents_where_the_harmonics_are_not_where_the_note_was_heard(
    course_midi: float, is_known: bool
) -> None:
    """As where a hall rings on into a low note."""
    sound, _, _ = steady(69.0, 0.5, 30.0, np.random.default_rng(3))
    stream = FeatureStream(RATE, Tuning())
    stream.feed(sound.astype(np.float32))
    heard = NoteSegment(course_midi, 0.1, 0.4, -20.0)
    measured = evidence(stream.finished(), [heard], [None], MeasurementCache())
    assert measured.knows_cents(0) == is_known


@pytest.mark.parametrize("rate_hz", [1.6, 2.0, 2.7])
def test_slow_pulses_have_their_mean_for_a_pitch(rate_hz: float) -> None:
    """Brown & Vaughn 1996 (JASA 100:1728): the pitch heard is the mean of the modulation. A single
    pitch fitted to such a note stands at one of its ends."""
    time_s = np.arange(4 * RATE) / RATE
    midi = 69 + 0.15 * np.sin(2 * np.pi * rate_hz * time_s + 1.0) + 0.03
    turns = np.cumsum(440 * 2 ** ((midi - 69) / 12)) / RATE
    tone = sum(a * np.sin(2 * np.pi * k * turns) for k, a in ((1, 0.08), (2, 0.05), (3, 0.02)))
    quiet = np.zeros(RATE // 2)
    sound = np.concatenate([quiet, tone, quiet]).astype(np.float32)
    (note,) = transcribe(sound, RATE, Tuning()).notes
    assert note.midi == pytest.approx(69.03, abs=0.02)
    assert note.vibrato_hz == pytest.approx(rate_hz, abs=0.06)
    assert note.vibrato_cents == pytest.approx(15, abs=1.5)


@pytest.mark.parametrize("decay_s", [1.0, 1.4])
def test_what_rings_of_the_note_before_is_no_drift(decay_s: float) -> None:
    """Truth: two steady tones a whole step apart, slurred, in a diffuse field, made as in
    `steady_tones` (Jot & Chaigne 1991, AES 90, preprint 3030)."""
    sound = in_diffuse_room(in_a_row(made_steady(71, 1.0), made_steady(69, 2.0)), decay_s, 0.0)
    asked = tuple(
        Note(index, Pitch.parse(name), Fraction(index), Fraction(1 + index), Start.SLURRED)
        for index, name in enumerate(("B4", "A4"))
    )
    last = hear(sound.astype(np.float32), MADE_RATE, asked, 60.0, Tuning(), 0.4).expected_notes[1]
    assert last.midi == pytest.approx(69, abs=0.1)
    assert last.drift_cents == pytest.approx(0, abs=4)


def test_of_a_long_note_that_has_its_pitch_at_its_ends_alone_no_drift_is_told() -> None:
    """As where a hall covers it; what is left of it at its end is its tail."""
    dice = np.random.default_rng(3)
    begins, _, _ = steady(69.0, 0.3, 40.0, dice)
    ends, _, _ = steady(69.0, 0.07, 40.0, dice)
    lost, _, _ = steady(77.0, 0.75, 40.0, dice)
    stream = FeatureStream(RATE, Tuning())
    stream.feed(np.concatenate([begins, 0.1 * lost, 0.1 * ends]).astype(np.float32))
    heard = NoteSegment(69.0, 0.0, 1.12, -20.0)
    note = evidence(stream.finished(), [heard], [None], MeasurementCache()).heard(0)
    assert note.midi == pytest.approx(69.0, abs=0.02)
    assert note.cents_spread is not None
    assert note.drift_cents is None


def test_a_note_that_began_before_the_take_is_measured_from_there() -> None:
    """In a room, where the note isn't clear, what rings from the one before is taken out first."""
    sound, hz, _ = steady(76.0, 0.5, 30.0, np.random.default_rng(6))
    samples = sound.astype(np.float32)
    cut = frames(samples, RATE, 440.0)
    heard = note_pitch(samples, RATE, cut, -0.15, 0.08, 76.0, 440.0, hz * 0.8, clear=False)
    assert heard is not None
    assert heard.midi == pytest.approx(76.0, abs=0.05)
